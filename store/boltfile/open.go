package boltfile

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime/debug"
	"time"

	bolt "go.etcd.io/bbolt"
	berrors "go.etcd.io/bbolt/errors"
)

var (
	// ErrInUse says that another process has the file open.
	ErrInUse = errors.New("the file is in use by another process")
	// ErrForeign says that the file is no bbolt file, or a damaged one. It was not touched.
	ErrForeign = errors.New("the file is of another kind, or it is damaged")
)

// Options are those with which all our files are opened: the freelist stays synced, since a cold start of a large file
// takes minutes without, and nothing is ever acknowledged before it is on disk. Timeout is how long to wait for another
// process to let go of the file.
func Options(timeout time.Duration) *bolt.Options {
	return &bolt.Options{Timeout: timeout, FreelistType: bolt.FreelistMapType}
}

// Make writes a new file beside its place, lets fill put into it what belongs there, and moves it to path when it is
// whole and on disk: a power cut in the first write of a bbolt file can leave one that cannot be opened (its README,
// "Caveats"). A file that another process made at path meanwhile stays.
func Make(path string, fill func(tx *bolt.Tx) error) error {
	folder := filepath.Dir(path)
	temp, err := os.CreateTemp(folder, filepath.Base(path)+".new-*") // 0600
	if err != nil {
		return err
	}
	defer func() { _ = os.Remove(temp.Name()) }()
	if err := temp.Close(); err != nil {
		return err
	}
	db, err := bolt.Open(temp.Name(), 0o600, Options(time.Second))
	if err != nil {
		return err
	}
	if err = db.Update(fill); err == nil {
		err = db.Sync()
	}
	if err = errors.Join(err, db.Close()); err != nil {
		return err
	}
	// Link, unlike rename, never replaces what another process made meanwhile.
	if err := os.Link(temp.Name(), path); err != nil && !errors.Is(err, fs.ErrExist) {
		if err := os.Rename(temp.Name(), path); err != nil {
			return err
		}
	}
	return SyncFolder(folder)
}

// Open opens a file that is there. Errors wrap [ErrInUse] or [ErrForeign], or are what the system said.
func Open(path string, o *bolt.Options) (db *bolt.DB, err error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if info.Size() == 0 { // bbolt would take it for a new file, and ours are never empty
		return nil, fmt.Errorf("%w: it is empty", ErrForeign)
	}
	back := FaultsPanic()
	defer back()
	var file *os.File
	defer Guard(func(fault any) { // bbolt panics on some damaged files, and leaves it mapped, which holds the lock
		if file != nil {
			unlock(file)
			_ = file.Close()
		}
		db, err = nil, fmt.Errorf("%w: %v", ErrForeign, fault)
	})
	inner := *o
	inner.OpenFile = func(name string, flag int, mode os.FileMode) (f *os.File, err error) {
		if o.OpenFile != nil {
			f, err = o.OpenFile(name, flag, mode)
		} else {
			f, err = os.OpenFile(name, flag, mode)
		}
		file = f
		return f, err
	}
	db, err = bolt.Open(path, 0o600, &inner)
	switch {
	case errors.Is(err, berrors.ErrTimeout):
		return nil, ErrInUse
	case errors.Is(err, berrors.ErrInvalid), errors.Is(err, berrors.ErrVersionMismatch), errors.Is(err, berrors.ErrChecksum), errors.Is(err, berrors.ErrInvalidMapping):
		return nil, fmt.Errorf("%w (%w)", ErrForeign, err)
	}
	return db, err
}

// Guard calls caught with a panic or a fault of reading mapped memory; defer it.
func Guard(caught func(fault any)) {
	if fault := recover(); fault != nil {
		caught(fault)
	}
}

// FaultsPanic makes a fault of reading mapped memory a panic of this goroutine until the returned function is called,
// in place of the end of the process.
func FaultsPanic() (back func()) {
	old := debug.SetPanicOnFault(true)
	return func() { debug.SetPanicOnFault(old) }
}

// SyncFolder makes a new name in a folder last.
func SyncFolder(folder string) error {
	f, err := os.Open(folder)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
