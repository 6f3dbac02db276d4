package daemon

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/backup"
	"github.com/pottrail/pottrail/store/people"
)

// backedUp is a daemon's backup, and the folder it is of.
func backedUp(t *testing.T) (r *room, archive []byte) {
	r = newRoom(t)
	require.NoError(t, r.openBackups())
	var b bytes.Buffer
	var phases []string
	require.NoError(t, r.backups.Backup(t.Context(), &b, func(what string, done, total int64) {
		require.LessOrEqual(t, done, total)
		if len(phases) == 0 || phases[len(phases)-1] != what {
			phases = append(phases, what)
		}
	}))
	require.Equal(t, []string{"copying", "verifying", "writing"}, phases, "what a bar is drawn for")
	require.NoDirExists(t, r.folder.path(folderMaking))
	return r, b.Bytes()
}

func lines(t *testing.T, l *store.Ledger) string {
	var out []byte
	page, err := l.EventsFrom(1, 0)
	require.NoError(t, err)
	for _, entry := range page {
		out = append(events.AppendExport(out, entry.Leaf, entry.Seq), '\n')
	}
	return string(out)
}

func TestWhatIsPutBackIsWhatWas(t *testing.T) {
	r, archive := backedUp(t)
	before := lines(t, r.ledger)
	again := filepath.Join(t.TempDir(), "again")
	done, err := Restore(t.Context(), Restoring{Archive: bytes.NewReader(archive), Folder: again, Key: r.folder.path(fileKey), Margin: 500, Copies: 3})
	require.NoError(t, err)
	require.True(t, done.Key)
	entries, err := os.ReadDir(again)
	require.NoError(t, err)
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
		info, err := e.Info()
		require.NoError(t, err)
		require.Zero(t, info.Mode().Perm()&0o077, "only the owner reads %s", e.Name())
	}
	require.Equal(t, []string{fileLedger, filePeople, fileKey, fileStaff}, names, "and no label waits for a printer")
	r.stop()
	r.open(t, again, 0)
	require.Equal(t, before, lines(t, r.ledger))
	require.Contains(t, r.newPot(t), "-00502-A", "past all that may have been printed since")
}

func TestAFolderThatHoldsAnythingIsLeftAlone(t *testing.T) {
	_, archive := backedUp(t)
	for _, name := range []string{"notes.txt", fileLedger, folderRestoring} {
		dir := t.TempDir()
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte("mine"), 0o644))
		_, err := Restore(t.Context(), Restoring{Archive: bytes.NewReader(archive), Folder: dir, Margin: 1})
		require.ErrorIs(t, err, ErrNotEmpty)
		entries, err := os.ReadDir(dir)
		require.NoError(t, err)
		require.Len(t, entries, 1)
	}
}

// A backup of which any byte was changed, or with a wrong key, is not put back, and the folder is as it was.
func TestLawADamagedBackupLeavesTheFolderEmpty(t *testing.T) {
	r, archive := backedUp(t)
	key := r.folder.path(fileKey)
	wrong := filepath.Join(t.TempDir(), "people.key")
	require.NoError(t, os.WriteFile(wrong, bytes.Repeat([]byte("0"), 64), 0o600))
	dir := t.TempDir()
	empty := func(rt require.TestingT) {
		entries, err := os.ReadDir(dir)
		require.NoError(rt, err)
		require.Empty(rt, entries)
	}
	_, err := Restore(t.Context(), Restoring{Archive: bytes.NewReader(archive), Folder: dir, Key: wrong, Margin: 1})
	require.ErrorIs(t, err, people.ErrKeyWrong)
	empty(t)
	rapid.Check(t, func(rt *rapid.T) {
		bad := bytes.Clone(archive)
		bad[rapid.IntRange(0, len(bad)-1).Draw(rt, "at")] ^= byte(1 << rapid.IntRange(0, 7).Draw(rt, "bit"))
		_, err := Restore(t.Context(), Restoring{Archive: bytes.NewReader(bad), Folder: dir, Key: key, Margin: 1})
		require.True(rt, errors.Is(err, backup.ErrDamaged) || errors.Is(err, backup.ErrForeign) || errors.Is(err, backup.ErrNewer), "%v", err)
		empty(rt)
	})
}

// The nightly one is verified and under its name before an old one goes; a folder that is not there is not made.
func TestTheNightlyBackupIsKeptAndOldOnesGo(t *testing.T) {
	r, _ := backedUp(t)
	dir := t.TempDir()
	old := filepath.Join(dir, backup.FileName(r.ledger.Origin(), time.Now().AddDate(0, 0, -3)))
	require.NoError(t, os.WriteFile(old, nil, 0o600))
	rotation := backup.Rotation{Daily: 1, Zone: r.service.homeZone()}
	full := r.backups.source.Ledger
	r.backups.source.Ledger = nil
	require.Error(t, r.backups.keep(t.Context(), filepath.Join(dir, "none"), r.ledger.Origin(), rotation, r.o.Log))
	require.NoDirExists(t, filepath.Join(dir, "none"))
	r.backups.source.Ledger = full
	r.backups.source.People = func(string) (people.Contents, error) { return people.Contents{}, people.ErrNoSpace }
	require.ErrorIs(t, r.backups.keep(t.Context(), dir, r.ledger.Origin(), rotation, r.o.Log), people.ErrNoSpace)
	require.FileExists(t, old, "while the new one is not good")
	r.backups.source.People = r.service.people.file.Copy
	require.NoError(t, r.backups.keep(t.Context(), dir, r.ledger.Origin(), rotation, r.o.Log))
	require.NoFileExists(t, old)
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Len(t, entries, 1, "the new one and nothing half made")
	file, err := os.Open(filepath.Join(dir, entries[0].Name()))
	require.NoError(t, err)
	m, err := backup.Read(file, "", nil)
	require.NoError(t, errors.Join(err, file.Close()))
	seq, _ := r.ledger.Last()
	require.Equal(t, seq, m.Ledger.Entries)
}
