package daemon

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/backup"
	"github.com/pottrail/pottrail/store/people"
	"github.com/pottrail/pottrail/store/staff"
)

// folderMaking is where copies are made and verified before they go into an archive.
const folderMaking = "backup.making"

// backups makes copies of a running daemon's stores, one at a time.
type backups struct {
	folder  folder
	source  backup.Source // without its instant
	making  chan struct{} // holds one while a backup is made
	nightly *nightly      // nil without a folder for them
}

func (d *running) openBackups() error {
	if err := os.RemoveAll(d.folder.path(folderMaking)); err != nil { // of a daemon that was killed
		return fmt.Errorf("left over from a backup: %w", err)
	}
	b := &backups{folder: d.folder, making: make(chan struct{}, 1),
		source: backup.Source{Ledger: d.ledger.Copy, People: d.service.people.file.Copy, Staff: d.service.staff.file.Copy, Release: d.o.Version}}
	d.backups = b
	return b.openNightly(d)
}

// Backup makes one and writes the archive, for whoever asks over the socket; see [web.Options].
func (b *backups) Backup(ctx context.Context, w io.Writer, progress backup.Progress) error {
	err := b.make(ctx, b.folder.path(folderMaking), progress, func(m backup.Manifest, at string) error { return backup.Write(w, m, at, progress) })
	switch {
	case errors.Is(err, store.ErrNoSpace), errors.Is(err, people.ErrNoSpace), errors.Is(err, staff.ErrNoSpace), errors.Is(err, backup.ErrNoSpace):
		return &ask.Error{Kind: ask.NoSpace, Code: "no-space", Text: err.Error()}
	case err != nil:
		return &ask.Error{Kind: ask.Unavailable, Code: "no-backup", Text: err.Error()}
	}
	return nil
}

// make makes verified copies in a folder of its own, lets use have them, and removes them.
func (b *backups) make(ctx context.Context, at string, progress backup.Progress, use func(m backup.Manifest, at string) error) error {
	select {
	case b.making <- struct{}{}:
		defer func() { <-b.making }()
	case <-ctx.Done():
		return fmt.Errorf("another backup is being made: %w", ctx.Err())
	}
	source, err := b.folder.source(b.source)
	if err != nil {
		return err
	}
	return gather(ctx, source, at, progress, use)
}

// source fills in what stands on the folder and the clock.
func (f folder) source(s backup.Source) (backup.Source, error) {
	demo, err := os.ReadFile(f.path(fileDemo))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return s, fmt.Errorf("%s: %w", fileDemo, err)
	}
	s.Demo, s.Created = demo, time.Now()
	return s, nil
}

func gather(ctx context.Context, s backup.Source, at string, progress backup.Progress, use func(m backup.Manifest, at string) error) (err error) {
	if err := os.RemoveAll(at); err != nil {
		return fmt.Errorf("left over from a backup: %w", err)
	}
	if err := os.Mkdir(at, 0o700); err != nil {
		return fmt.Errorf("a folder for the copies: %w", err)
	}
	defer func() {
		if gone := os.RemoveAll(at); gone != nil {
			err = errors.Join(err, fmt.Errorf("the copies of a backup: %w", gone))
		}
	}()
	m, err := backup.Gather(ctx, s, at, progress)
	if err != nil {
		return err
	}
	return use(m, at)
}

// StoppedBackup writes a backup of a data folder that no daemon has open. It changes nothing in the ledger and the people
// file, and needs no key.
func StoppedBackup(ctx context.Context, o config.Options, release string, w io.Writer, progress backup.Progress) error {
	f := folder{o.Folder.Dir}
	if _, err := os.Stat(f.path(fileLedger)); errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s: there is no ledger: %w", f.dir, ErrForeign)
	}
	source, err := f.source(backup.Source{Release: release,
		Ledger: func(ctx context.Context, path string, told func(done, total int64)) (store.Contents, error) {
			return store.CopyFile(ctx, f.path(fileLedger), path, store.Options{Reserve: o.Store.Reserve}, told)
		},
		People: func(path string) (people.Contents, error) { return people.CopyFile(f.path(filePeople), path) },
	})
	if err != nil {
		return err
	}
	if _, err := os.Stat(f.path(fileStaff)); !errors.Is(err, fs.ErrNotExist) {
		source.Staff = func(path string) (staff.Contents, error) { return staff.CopyFile(f.path(fileStaff), path) }
	}
	return gather(ctx, source, f.path(folderMaking), progress, func(m backup.Manifest, at string) error { return backup.Write(w, m, at, progress) })
}
