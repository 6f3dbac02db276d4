package daemon

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/backup"
	"github.com/pottrail/pottrail/store/boltfile"
	"github.com/pottrail/pottrail/store/people"
	"github.com/pottrail/pottrail/store/staff"
	"github.com/pottrail/pottrail/tracker"
)

// ErrNotEmpty says that a folder into which a backup is to be put back holds something.
var ErrNotEmpty = errors.New("a backup is put back into an empty folder only")

// folderRestoring holds what is put back until all of it was verified. No daemon starts over a folder with this in it and
// no ledger.
const folderRestoring = "restore.part"

// What is passed over after a restore, unless told otherwise. Common practice, no source: some hundred cases more than a
// busy clinic labels in a day, and more reprints of one label than anybody needs in one.
const (
	DefaultMargin = 500
	DefaultCopies = 3
)

// Restoring says what to put back, and where.
type Restoring struct {
	Archive  io.Reader
	Folder   string
	Key      string // path of the people file's master key; empty: it is put there by hand later
	Margin   int    // serials passed over, of each clinic and year; 0: as many as [Restored] says, for how busy it was
	Copies   int    // copies of labels passed over
	Progress backup.Progress
}

// Restored is what was put back.
type Restored struct {
	Manifest backup.Manifest
	Renewed  store.Renewed
	Folder   string
	Key      bool // the key is there, and opens the people file
	Margin   int  // serials passed over
	Likely   int  // how many the busiest clinic may have handed out since, at the pace of its busiest day before
}

// Restore puts a backup back into an empty folder, as the ledger of a new origin. Everything is verified before anything
// is in its place; cut short, it leaves a folder over which no daemon starts.
func Restore(ctx context.Context, r Restoring) (out Restored, err error) {
	out.Folder = r.Folder
	made, err := emptyFolder(r.Folder)
	if err != nil {
		return out, err
	}
	f := folder{r.Folder}
	part := f.path(folderRestoring)
	if err := os.Mkdir(part, 0o700); err != nil {
		return out, fmt.Errorf("restore: %w", err)
	}
	defer func() {
		if err == nil {
			return
		}
		for _, name := range []string{fileKey, filePeople, fileStaff, fileDemo, fileLedger} { // none was there before
			_ = os.Remove(f.path(name))
		}
		err = errors.Join(err, os.RemoveAll(part))
		if made {
			err = errors.Join(err, os.Remove(r.Folder))
		}
	}()
	if out.Manifest, err = backup.Read(r.Archive, part, r.Progress); err != nil {
		return out, err
	}
	if err = backup.Check(ctx, out.Manifest, part, r.Progress); err != nil {
		why := backup.ErrDamaged
		if errors.Is(err, store.ErrNewer) || errors.Is(err, people.ErrNewer) || errors.Is(err, staff.ErrNewer) {
			why = backup.ErrNewer
		}
		return out, fmt.Errorf("%w: %w", why, err)
	}
	if r.Key != "" {
		if err = tryKey(part, r.Key); err != nil {
			return out, err
		}
		out.Key = true
	}
	if err = out.renew(part, r); err != nil {
		return out, err
	}
	if out.Manifest.Staff != nil {
		if _, err = staff.EndSessions(filepath.Join(part, fileStaff), out.Manifest.Created); err != nil {
			return out, err
		}
	}
	after := out.Manifest
	after.Ledger.Origin = out.Renewed.Origin
	if err = backup.Check(ctx, after, part, r.Progress); err != nil {
		return out, fmt.Errorf("what was put back is not what was backed up: %w", err)
	}
	if err = f.close(); err == nil {
		err = moveIn(f, part)
	}
	return out, err
}

// emptyFolder makes a folder, or accepts an empty one; made says that it was not there before.
func emptyFolder(dir string) (made bool, err error) {
	entries, err := os.ReadDir(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if err := os.MkdirAll(dir, 0o700); err != nil {
			return false, fmt.Errorf("the folder cannot be made: %w", err)
		}
		return true, nil
	case err != nil:
		return false, fmt.Errorf("the folder cannot be read: %w", err)
	case len(entries) == 0:
		return false, nil
	}
	for _, e := range entries {
		if e.Name() == folderRestoring {
			return false, fmt.Errorf("%s: a restore into it was cut short or is under way: %w; remove %s and what else that restore left", dir, ErrNotEmpty, folderRestoring)
		}
	}
	return false, fmt.Errorf("%s holds %q: %w, and nothing was touched", dir, entries[0].Name(), ErrNotEmpty)
}

// tryKey copies a key beside the people file, and opens that with it.
func tryKey(part, key string) error {
	text, err := os.ReadFile(key)
	if err != nil {
		return fmt.Errorf("the key: %w", err)
	}
	to := filepath.Join(part, fileKey)
	if err := os.WriteFile(to, text, 0o600); err != nil {
		return fmt.Errorf("the key: %w", err)
	}
	file, err := people.Open(filepath.Join(part, filePeople), to, people.Options{})
	switch {
	case errors.Is(err, people.ErrKeyWrong):
		return fmt.Errorf("the key %s does not open the people file of this backup; a key changes when a person is forgotten, so look for the one of the time of the backup: %w", key, people.ErrKeyWrong)
	case err != nil:
		return fmt.Errorf("the key %s: %w", key, err)
	}
	return file.Close()
}

// busyDays is how many days before the backup say how busy a clinic is: four weeks, so that one of holidays does not count.
const busyDays = 28

// renew makes the ledger one of a new origin. Unless a margin was named, it is the default or, where a clinic may have got
// further since, twice that.
func (out *Restored) renew(part string, r Restoring) error {
	ledger, now := filepath.Join(part, fileLedger), time.Now()
	from := out.Manifest.Created
	if at := out.Manifest.Ledger.Recorded; !at.IsZero() && at.Before(from) {
		from = at
	}
	busiest, err := store.Busiest(ledger, busyDays)
	if err != nil {
		return err
	}
	days := int(max(0, now.Sub(out.Manifest.Created))/(24*time.Hour)) + 1
	out.Likely = min(busiest*days, tracker.MaxSerial/2)
	if out.Margin = r.Margin; out.Margin == 0 {
		out.Margin = min(max(DefaultMargin, 2*out.Likely), tracker.MaxSerial/2)
	}
	out.Renewed, err = store.Renew(ledger, store.Renewal{Serials: out.Margin, Copies: r.Copies, From: from, To: now})
	return err
}

// moveIn gives everything its place, the ledger last.
func moveIn(f folder, part string) error {
	for _, name := range []string{fileDemo, fileKey, filePeople, fileStaff, fileLedger} {
		err := os.Rename(filepath.Join(part, name), f.path(name))
		if err != nil && !((name == fileDemo || name == fileKey || name == fileStaff) && errors.Is(err, fs.ErrNotExist)) {
			return fmt.Errorf("restore: %w", err)
		}
	}
	if err := errors.Join(os.Remove(part), boltfile.SyncFolder(f.dir)); err != nil {
		return fmt.Errorf("restore: %w", err)
	}
	_ = boltfile.SyncFolder(filepath.Dir(f.dir)) // may not be ours to open
	return nil
}
