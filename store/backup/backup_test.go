package backup_test

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/backup"
	"github.com/pottrail/pottrail/store/people"
	"github.com/pottrail/pottrail/store/staff"
	"github.com/pottrail/pottrail/store/storetest"
)

var created = time.Date(2026, 11, 25, 4, 30, 0, 0, time.UTC)

// source is a small data folder's worth of a ledger and of people.
func source(t testing.TB, demo []byte) backup.Source {
	dir := t.TempDir()
	l := storetest.Open(t, filepath.Join(dir, "ledger.db"), store.Options{})
	for _, e := range storetest.Life(91, 1) {
		storetest.Record(t, l, e.At, e)
	}
	folk, err := people.Open(filepath.Join(dir, "people.db"), filepath.Join(dir, "people.key"), people.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, folk.Close()) })
	ref, err := people.NewRef()
	require.NoError(t, err)
	require.NoError(t, folk.Put(ref, people.Person{Family: "Halvorsen", Given: "Ingrid", BirthDate: "1961-02-14", RecordNumber: "40118223"}))
	require.NoError(t, folk.KeepRefused(people.Refused{At: created, Code: "bad", Data: []byte("Halvorsen")}))
	list, err := staff.Open(filepath.Join(dir, "staff.db"), bytes.Repeat([]byte{1}, 32), staff.Options{Cost: staff.Cost{Memory: 8, Time: 1, Lanes: 1}})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, list.Close()) })
	require.NoError(t, list.Add(t.Context(), "nurse.osei", "844017", "admin.falk"))
	return backup.Source{Ledger: l.Copy, People: folk.Copy, Staff: list.Copy, Demo: demo, Release: "v1.2.3", Created: created}
}

// gathered is a verified copy in a folder, and its archive.
func gathered(t testing.TB, s backup.Source) (m backup.Manifest, archive []byte) {
	folder := t.TempDir()
	m, err := backup.Gather(t.Context(), s, folder, nil)
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, backup.Write(&b, m, folder, nil))
	return m, b.Bytes()
}

func TestAnArchiveComesBackAsItWas(t *testing.T) {
	for _, demo := range [][]byte{nil, []byte("{}\n")} {
		m, archive := gathered(t, source(t, demo))
		require.Equal(t, demo != nil, m.Demo)
		require.Equal(t, people.Contents{Format: 1, People: 1, Refused: 1}, m.People)
		require.Equal(t, &staff.Contents{Format: 1, Staff: 1}, m.Staff)
		require.NotContains(t, string(archive), "Halvorsen", "sealed")
		require.NotContains(t, string(archive), "argon2id", "sealed too")
		folder := t.TempDir()
		var done, total int64
		again, err := backup.Read(bytes.NewReader(archive), folder, func(_ string, d, of int64) { done, total = d, of })
		require.NoError(t, err)
		require.Equal(t, m, again)
		require.Equal(t, m.Total(), done)
		require.Equal(t, total, done)
		require.NoError(t, backup.Check(t.Context(), again, folder, nil))
		for _, f := range m.Files {
			info, err := os.Stat(filepath.Join(folder, f.Name))
			require.NoError(t, err)
			require.Equal(t, f.Size, info.Size())
			require.Equal(t, os.FileMode(0o600), info.Mode().Perm())
		}
		_, err = backup.Read(bytes.NewReader(archive), folder, nil)
		require.ErrorIs(t, err, os.ErrExist, "never over a file that is there")
		_, err = backup.Read(bytes.NewReader(archive), "", nil)
		require.NoError(t, err)
	}
}

// One changed byte in each part is refused, and the error names the part.
func TestADamagedArchiveIsRefusedByName(t *testing.T) {
	_, good := gathered(t, source(t, []byte("{}\n")))
	manifest := bytes.Index(good, []byte("{\n"))
	sums := bytes.Index(good, []byte(backup.NameSums))
	ledger := bytes.Index(good[sums+1024:], []byte(backup.NameLedger+"\x00")) + sums + 1024
	folk := bytes.Index(good[ledger:], []byte(backup.NamePeople+"\x00")) + ledger
	demo := bytes.Index(good[folk:], []byte(backup.NameDemo+"\x00")) + folk
	for _, test := range []struct {
		name string
		at   int
		why  error
		says string
	}{
		{"the very first byte", 0, backup.ErrForeign, "its beginning is damaged"},
		{"the manifest's header", 110, backup.ErrForeign, "its beginning is damaged"},
		{"a name in the manifest", manifest + 4, backup.ErrDamaged, "manifest.json"},
		{"the release in the manifest", bytes.Index(good, []byte("v1.2.3")), backup.ErrDamaged, "manifest.json and SHA256SUMS do not fit together"},
		{"a root in the manifest", bytes.Index(good, []byte(`"root": "`)) + 12, backup.ErrDamaged, "manifest.json and SHA256SUMS do not fit together"},
		{"what follows the manifest", sums - 1, backup.ErrDamaged, "what follows manifest.json"},
		{"the digests' header", sums, backup.ErrDamaged, "the header of SHA256SUMS"},
		{"the digests", sums + 512, backup.ErrDamaged, "do not fit together"},
		{"what follows the digests", ledger - 1, backup.ErrDamaged, "what follows SHA256SUMS"},
		{"the ledger's header", ledger + 150, backup.ErrDamaged, "the header of ledger.db"},
		{"the ledger", ledger + 512 + 9000, backup.ErrDamaged, "ledger.db in it is not what was backed up"},
		{"the people's header", folk + 300, backup.ErrDamaged, "the header of people.db"},
		{"the people", folk + 512 + 20000, backup.ErrDamaged, "people.db in it is not what was backed up"},
		{"the demo's mark", demo + 512, backup.ErrDamaged, "demo.json in it is not what was backed up"},
		{"what follows the demo's mark", demo + 512 + 100, backup.ErrDamaged, "what follows demo.json"},
		{"the end", len(good) - 1, backup.ErrDamaged, "what follows its end"},
	} {
		bad := bytes.Clone(good)
		bad[test.at] ^= 0x20
		_, err := backup.Read(bytes.NewReader(bad), "", nil)
		require.ErrorIs(t, err, test.why, test.name)
		require.ErrorContains(t, err, test.says, test.name)
	}
	_, err := backup.Read(bytes.NewReader(append(bytes.Clone(good), 0)), "", nil)
	require.ErrorContains(t, err, "something stands after its end")
	_, err = backup.Read(bytes.NewReader(bytes.Replace(good, []byte(`"format": 1`), []byte(`"format": 9`), 1)), "", nil)
	require.ErrorIs(t, err, backup.ErrNewer)
	require.ErrorContains(t, err, "backup format 9, this one reads up to 1")
	_, err = backup.Read(bytes.NewReader(nil), "", nil)
	require.ErrorIs(t, err, backup.ErrForeign)
}

func TestLawNoChangedByteGoesUnseen(t *testing.T) {
	_, good := gathered(t, source(t, nil))
	rapid.Check(t, func(rt *rapid.T) {
		bad := bytes.Clone(good)
		if rapid.IntRange(0, 4).Draw(rt, "cut") == 0 {
			bad = bad[:rapid.IntRange(0, len(bad)-1).Draw(rt, "length")]
		} else {
			// Ends are where the small parts are.
			at := rapid.OneOf(rapid.IntRange(0, len(bad)-1), rapid.IntRange(0, 6000), rapid.IntRange(len(bad)-2000, len(bad)-1)).Draw(rt, "at")
			bad[at] ^= byte(1 << rapid.IntRange(0, 7).Draw(rt, "bit"))
		}
		_, err := backup.Read(bytes.NewReader(bad), "", nil)
		require.Error(rt, err)
		require.True(rt, errors.Is(err, backup.ErrDamaged) || errors.Is(err, backup.ErrForeign) || errors.Is(err, backup.ErrNewer), "%v", err)
	})
}

// Nothing stands under the name before the whole archive is on disk and was read back: whoever is killed at any instant
// leaves a .part.
func TestAtNoInstantIsHalfAFileUnderItsName(t *testing.T) {
	m, good := gathered(t, source(t, nil))
	dir := t.TempDir()
	path := filepath.Join(dir, "clinic.tar")
	looked := 0
	look := func() {
		looked++
		require.NoFileExists(t, path)
	}
	got, err := backup.WriteFile(path, false, func(w io.Writer) error {
		for part := range slices.Chunk(good, 10_000) {
			look()
			if _, err := w.Write(part); err != nil {
				return err
			}
		}
		return nil
	}, func(string, int64, int64) { look() })
	require.NoError(t, err)
	require.Equal(t, m, got)
	require.Greater(t, looked, 10)
	info, err := os.Stat(path)
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), info.Mode().Perm())

	whole := func(w io.Writer) error { _, err := w.Write(good); return err }
	_, err = backup.WriteFile(path, false, whole, nil)
	require.ErrorIs(t, err, backup.ErrThere)
	_, err = backup.WriteFile(path, true, func(w io.Writer) error { _, err := w.Write(good[:len(good)/2]); return err }, nil)
	require.ErrorIs(t, err, backup.ErrDamaged, "what was written is read back")
	failed := errors.New("the cable was pulled")
	_, err = backup.WriteFile(path, true, func(w io.Writer) error { _, _ = w.Write(good[:100]); return failed }, nil)
	require.ErrorIs(t, err, failed)
	is, err := os.ReadFile(path)
	require.NoError(t, err)
	require.True(t, bytes.Equal(good, is), "the one before stays")
	_, err = backup.WriteFile(path, true, whole, nil)
	require.NoError(t, err)
	names, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Len(t, names, 1, "nothing is left over")
}

func TestACopyThatDoesNotVerifyIsNoBackup(t *testing.T) {
	s := source(t, nil)
	honest := s.Ledger
	s.Ledger = func(ctx context.Context, path string, progress func(done, total int64)) (store.Contents, error) {
		c, err := honest(ctx, path, progress)
		c.Roots[0].Root = store.Checkpoint{}.Root
		return c, err
	}
	_, err := backup.Gather(t.Context(), s, t.TempDir(), nil)
	require.ErrorIs(t, err, store.ErrCopy)
	require.ErrorContains(t, err, "the copies were made and are not good")
}

func FuzzRead(f *testing.F) {
	_, good := gathered(f, source(f, nil))
	f.Add(good[:4096])
	f.Add([]byte("pottrail"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if _, err := backup.Read(bytes.NewReader(data), "", nil); err == nil {
			t.Fatal("what is no archive was taken for one")
		}
	})
}
