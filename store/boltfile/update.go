package boltfile

import (
	"errors"
	"fmt"
	"strings"

	bolt "go.etcd.io/bbolt"
	berrors "go.etcd.io/bbolt/errors"
)

var (
	// ErrNoSpace says that there was no space, and that it is certain that nothing was written: the same may be tried again.
	ErrNoSpace = errors.New("no space left on the disk")
	// ErrUncertain says that writing or syncing failed, so that nobody knows what the disk holds. Nothing more may be
	// written before the file was opened anew.
	ErrUncertain = errors.New("the file could not be written")
	// ErrStuck says that a damaged page was met while writing: bbolt may hold its locks for ever, so that the file can
	// neither be written nor closed.
	ErrStuck = errors.New("the file is damaged")
)

// Update runs fn in one transaction that is on disk when nil is returned. An error of fn undoes all and is returned as it
// is; other errors wrap [ErrNoSpace], [ErrUncertain] or [ErrStuck].
func Update(db *bolt.DB, fn func(tx *bolt.Tx) error) (err error) {
	back := FaultsPanic()
	defer back()
	defer Guard(func(fault any) { err = fmt.Errorf("%w: %v", ErrStuck, fault) })
	tx, err := db.Begin(true)
	if err != nil {
		return fmt.Errorf("%w: %w", ErrUncertain, err)
	}
	id := tx.ID()
	if err := fn(tx); err != nil {
		_ = tx.Rollback()
		return err
	}
	if err = tx.Commit(); err == nil {
		return nil
	}
	_ = tx.Rollback() // after a failed commit it says that the transaction is over
	if !isFull(err) {
		return fmt.Errorf("%w: %w", ErrUncertain, err)
	}
	// A commit that failed in its very last write may be there after all: then nobody knows, and "try again" would not be
	// the truth.
	landed := true
	if readErr := db.View(func(tx *bolt.Tx) error { landed = tx.ID() >= id; return nil }); readErr != nil || landed {
		return fmt.Errorf("%w: %w", ErrUncertain, err)
	}
	return fmt.Errorf("%w: %w", ErrNoSpace, err)
}

// View runs fn in a reading transaction; what a damaged page makes of it is an error that wraps [ErrForeign]. Nothing
// read may be kept without a copy.
func View(db *bolt.DB, fn func(tx *bolt.Tx) error) (err error) {
	back := FaultsPanic()
	defer back()
	defer Guard(func(fault any) { err = fmt.Errorf("%w: %v", ErrForeign, fault) })
	return db.View(fn)
}

// Full reports whether an error of the system means that there is no space, by disk, quota or limit.
func Full(err error) bool { return full(err) }

// isFull reports whether a commit failed for want of space.
func isFull(err error) bool {
	return errors.Is(err, berrors.ErrMaxSizeReached) || full(err) ||
		strings.HasPrefix(err.Error(), "file resize error") && fullText(err.Error()) // bbolt hides the cause; nothing was written yet
}
