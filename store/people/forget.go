package people

import (
	"bytes"
	"errors"
	"fmt"
	"time"

	bolt "go.etcd.io/bbolt"
)

// Forget destroys a person's record, and the refused messages that mention the person; ok is false when there was no
// record. Everything else is copied to a new file, with all keys sealed under a new master key, and then the old file goes:
// what was deleted could else be found in free pages. The old master key goes with [File.Settle]. While it runs nothing else
// is read or written. Cut short at any instant, the file opens afterwards with or without the record.
//
// Say is what must be said of it elsewhere, in clear: it is kept in the same step, until [File.Said].
//
// A master key that is given ([Options].KeyGiven) stays: the record is not in the new file, and what a disk keeps of the old
// one can be opened until [File.Rotate].
func (f *File) Forget(ref string, now time.Time, say ...[]byte) (ok bool, err error) {
	f.changing.Lock()
	defer f.changing.Unlock()
	f.mu.Lock()
	defer f.mu.Unlock()
	if ok, err = f.forget(ref, now, say); err != nil {
		return false, fmt.Errorf("forget a person: %w", err)
	}
	return ok, nil
}

func (f *File) forget(ref string, now time.Time, say [][]byte) (bool, error) {
	out := without{ref: ref, now: now, say: say}
	ok := false
	err := f.db.View(func(tx *bolt.Tx) (err error) {
		out.person, ok, err = f.read(tx, ref)
		if errors.Is(err, ErrSealed) { // what cannot be opened can be destroyed all the same
			ok, err = true, nil
		}
		return err
	})
	if err != nil || !ok {
		return false, err
	}
	key := f.master
	if !f.options.KeyGiven {
		if key, err = newMaster(); err != nil {
			return false, err
		}
	}
	err = f.exchange(out, key, f.keyPath)
	return err == nil, err
}

// KeyGiven reports whether the master key is put in its place by something else, so that forgetting leaves it as it is.
func (f *File) KeyGiven() bool {
	f.mu.RLock()
	defer f.mu.RUnlock()
	return f.options.KeyGiven
}

// Forgotten says since when a ref stands for nobody, because the record was destroyed; ok is false when it was not.
func (f *File) Forgotten(ref string) (since time.Time, ok bool, err error) {
	f.mu.RLock()
	defer f.mu.RUnlock()
	var raw string
	if err := f.db.View(func(tx *bolt.Tx) error {
		raw = string(tx.Bucket([]byte(inGone)).Get([]byte(ref)))
		return nil
	}); err != nil || raw == "" {
		return time.Time{}, false, err
	}
	since, err = time.Parse(time.RFC3339, raw)
	if err != nil {
		return time.Time{}, true, fmt.Errorf("when a record was destroyed: %w", ErrSealed)
	}
	return since, true, nil
}

// Unsaid is what is still to be said elsewhere of destroyed records, in the order in which [File.Forget] was given it.
func (f *File) Unsaid() (say [][]byte, err error) {
	f.mu.RLock()
	defer f.mu.RUnlock()
	err = f.db.View(func(tx *bolt.Tx) error {
		return tx.Bucket([]byte(inUnsaid)).ForEach(func(_, text []byte) error {
			say = append(say, bytes.Clone(text))
			return nil
		})
	})
	if err != nil {
		return nil, fmt.Errorf("what is to be said of destroyed records: %w", err)
	}
	return say, nil
}

// Said takes out what was said elsewhere by now: the first so many of [File.Unsaid].
func (f *File) Said(n int) error {
	f.mu.RLock()
	defer f.mu.RUnlock()
	err := f.update(func(tx *bolt.Tx) error {
		c := tx.Bucket([]byte(inUnsaid)).Cursor()
		for key, _ := c.First(); key != nil && n > 0; key, _ = c.First() {
			if err := c.Delete(); err != nil {
				return err
			}
			n--
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("what was said of destroyed records: %w", err)
	}
	return nil
}
