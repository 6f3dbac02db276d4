package people

import (
	"errors"
	"fmt"
	"sync"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/boltfile"
)

// broken is what keeps a file from being written; it is kept apart from the file's own lock, which readers and writers share.
type broken struct {
	mu    sync.Mutex
	fatal error
	stuck bool // bbolt may hold its locks for ever
	told  func(error)
}

// why is the error after which nothing more may be written, or nil.
func (b *broken) why() error {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.fatal
}

func (b *broken) isStuck() bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.stuck
}

// down lets nothing more be written; the first reason counts, and whoever asked for it is told once.
func (b *broken) down(cause error) error {
	err := fmt.Errorf("%w: %w", ErrFatal, cause)
	b.mu.Lock()
	first := b.fatal == nil
	if first {
		b.fatal = err
	}
	b.stuck = b.stuck || errors.Is(cause, boltfile.ErrStuck)
	told := b.told
	b.mu.Unlock()
	if first && told != nil {
		told(err)
	}
	return err
}

// OnBroken has a function told once with the error after which nothing more is written ([ErrFatal]): the file must then be
// closed and opened again. It must not wait for the file.
func (f *File) OnBroken(told func(error)) {
	f.broken.mu.Lock()
	defer f.broken.mu.Unlock()
	f.broken.told = told
}

// update changes the file in one transaction that is on disk when nil is returned. The file's lock is held.
func (f *File) update(fn func(tx *bolt.Tx) error) error {
	if err := f.broken.why(); err != nil {
		return err
	}
	err := boltfile.Update(f.db, fn)
	switch {
	case errors.Is(err, boltfile.ErrNoSpace):
		return fmt.Errorf("%w: %w", ErrNoSpace, err)
	case errors.Is(err, boltfile.ErrUncertain), errors.Is(err, boltfile.ErrStuck):
		return f.broken.down(err)
	}
	return err
}
