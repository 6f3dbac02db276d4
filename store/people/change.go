package people

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/boltfile"
)

// Rotate changes the master key: the key of every record is sealed anew under a new one in a new file, which takes the old
// one's place; the records themselves stay as they are. While it runs nothing else is read or written. Both master keys are
// in the key file until [File.Settle], so that the people file, and what is sealed elsewhere under a derived key, can be
// opened after being cut short at any instant.
//
// The new key goes into the key file at newKeyPath, which must not be there yet; "" means the one in use, and is
// [ErrKeyGiven] when that is put in its place by something else.
func (f *File) Rotate(newKeyPath string) error {
	f.changing.Lock()
	defer f.changing.Unlock()
	if err := f.rotate(newKeyPath); err != nil {
		return fmt.Errorf("change the master key: %w", err)
	}
	return nil
}

func (f *File) rotate(newKeyPath string) error {
	if newKeyPath != "" {
		if _, err := os.Lstat(newKeyPath); err == nil {
			return fmt.Errorf("%s: %w", newKeyPath, fs.ErrExist)
		} else if !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	} else if f.options.KeyGiven {
		return fmt.Errorf("%w: %s", ErrKeyGiven, f.keyPath)
	}
	fresh, err := newMaster()
	if err != nil {
		return err
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if newKeyPath == "" {
		return f.exchange(without{}, fresh, f.keyPath)
	}
	if err := f.exchange(without{}, fresh, newKeyPath); err != nil {
		return err
	}
	f.options.KeyGiven = false
	return nil
}

// Settle takes the keys that are no longer needed out of the key file, and with that ends a change of keys: call it when
// nothing is sealed any more under a key derived from them ([File.DerivedKeys]). Without a change it does nothing.
func (f *File) Settle() error {
	f.changing.Lock()
	defer f.changing.Unlock()
	f.mu.Lock()
	defer f.mu.Unlock()
	if len(f.spare) == 0 || f.options.KeyGiven {
		return nil
	}
	if err := writeKeys(f.keyPath, f.master); err != nil {
		return fmt.Errorf("take the old master key out of %s: %w", f.keyPath, err)
	}
	f.spare = nil
	f.reached("settled")
	return nil
}

// reached tells tests how far a change of keys has come.
func (f *File) reached(step string) {
	if f.step != nil {
		f.step(step)
	}
}

// without is whom a copy leaves out, and since when; the zero value leaves nobody out.
type without struct {
	ref    string
	person Person
	now    time.Time
	say    [][]byte // elsewhere
}

// exchange puts a copy of the file under another master key into its place, and the keys into the file at keyPath. It may be
// the same key. The lock is held.
func (f *File) exchange(out without, fresh masterKey, keyPath string) error {
	if err := f.broken.why(); err != nil {
		return err
	}
	temp, err := f.copyWithout(out, fresh)
	if err != nil {
		return err
	}
	defer func() { _ = os.Remove(temp) }()
	f.reached("copied")
	// All keys are in the key file while the files change places, so that whichever is there can be opened.
	keys := slices.Concat([]masterKey{fresh, f.master}, f.spare)
	if fresh != f.master {
		if err := writeKeys(keyPath, keys...); err != nil {
			return fmt.Errorf("write the key file: %w", err)
		}
	}
	f.reached("keys written")
	if err := f.db.Close(); err != nil {
		return f.broken.down(err)
	}
	renamed := os.Rename(temp, f.path)
	f.reached("renamed")
	if renamed == nil {
		renamed = boltfile.SyncFolder(filepath.Dir(f.path))
	}
	f.reached("synced")
	db, err := openBolt(f.path, f.options.bolt())
	if err != nil {
		return f.broken.down(errors.Join(renamed, err)) // f.db stays closed: whatever is read says so
	}
	f.db = db
	if fresh == f.master {
		keys = keys[1:]
	}
	if err := f.unlock(keys); err != nil {
		return f.broken.down(errors.Join(renamed, err))
	}
	f.reached("opened")
	if renamed != nil {
		return f.broken.down(renamed)
	}
	f.keyPath = keyPath
	return nil
}

// copyWithout writes a new file under a master key, without one person.
func (f *File) copyWithout(out without, fresh masterKey) (path string, err error) {
	temp, err := os.CreateTemp(filepath.Dir(f.path), filepath.Base(f.path)+inTheMaking+"*")
	if err != nil {
		return "", err
	}
	defer func() {
		if err != nil {
			_ = os.Remove(temp.Name())
		}
	}()
	if err := temp.Close(); err != nil {
		return "", err
	}
	db, err := bolt.Open(temp.Name(), 0o600, boltfile.Options(time.Second))
	if err != nil {
		return "", err
	}
	to := &File{db: db, options: f.options}
	if err := to.use(fresh); err != nil {
		return "", errors.Join(err, db.Close())
	}
	err = f.db.View(func(old *bolt.Tx) error {
		return db.Update(func(tx *bolt.Tx) error {
			if err := populate(tx, fresh); err != nil {
				return err
			}
			if err := f.copyRecords(old, to, tx, out.ref); err != nil {
				return err
			}
			if err := f.copyRefused(old, to, tx, out.person); err != nil {
				return err
			}
			if err := f.copyReads(old, to, tx); err != nil {
				return err
			}
			return errors.Join(copyGone(old, tx, out), copyUnsaid(old, tx, out.say))
		})
	})
	return temp.Name(), errors.Join(err, db.Close())
}

func (f *File) copyRecords(old *bolt.Tx, to *File, tx *bolt.Tx, ref string) error {
	records := old.Bucket([]byte(inRecords))
	return old.Bucket([]byte(inKeys)).ForEach(func(name, wrapped []byte) error {
		if string(name) == ref {
			return nil
		}
		key, err := unseal(f.wrap, wrapped, inKeys+string(name))
		if err != nil {
			return fmt.Errorf("a record that is to be kept: %w", err)
		}
		again, err := seal(to.wrap, key, inKeys+string(name))
		if err != nil {
			return err
		}
		person, ok, err := f.read(old, string(name))
		if err != nil || !ok {
			return errors.Join(err, ErrSealed)
		}
		return errors.Join(
			tx.Bucket([]byte(inKeys)).Put(name, again),
			tx.Bucket([]byte(inRecords)).Put(name, records.Get(name)),
			to.list(tx, string(name), person),
		)
	})
}

func (f *File) copyRefused(old *bolt.Tx, to *File, tx *bolt.Tx, person Person) error {
	from, into, meta := old.Bucket([]byte(inRefused)), tx.Bucket([]byte(inRefused)), tx.Bucket([]byte(inMeta))
	size, dropped := uint64(0), readCount(old.Bucket([]byte(inMeta)), metaDropped)
	err := from.ForEach(func(key, sealed []byte) error {
		r, err := f.openRefused(key, sealed)
		if err != nil {
			return fmt.Errorf("a refused message: %w", err)
		}
		if r.mentions(person) {
			dropped++
			return nil
		}
		again, err := reseal(f.refuse, to.refuse, sealed, inRefused+string(key))
		if err != nil {
			return err
		}
		size += uint64(len(again))
		return into.Put(key, again)
	})
	return errors.Join(err, into.SetSequence(from.Sequence()), writeCount(meta, metaBytes, size), writeCount(meta, metaDropped, dropped))
}

func (f *File) copyReads(old *bolt.Tx, to *File, tx *bolt.Tx) error {
	from, into := old.Bucket([]byte(inReads)), tx.Bucket([]byte(inReads))
	err := from.ForEach(func(key, sealed []byte) error {
		again, err := reseal(f.reads, to.reads, sealed, inReads+string(key))
		if err != nil {
			return fmt.Errorf("a note of who read: %w", err)
		}
		return into.Put(key, again)
	})
	dropped := readCount(old.Bucket([]byte(inMeta)), metaUnread)
	return errors.Join(err, into.SetSequence(from.Sequence()), writeCount(tx.Bucket([]byte(inMeta)), metaUnread, dropped))
}

// copyGone copies which records were destroyed when, and adds the one that is left out now.
func copyGone(old, tx *bolt.Tx, out without) error {
	into := tx.Bucket([]byte(inGone))
	err := old.Bucket([]byte(inGone)).ForEach(into.Put)
	if out.ref != "" {
		err = errors.Join(err, into.Put([]byte(out.ref), []byte(out.now.UTC().Format(time.RFC3339))))
	}
	return err
}

// copyUnsaid copies what is still to be said elsewhere, and adds what is to be said now.
func copyUnsaid(old, tx *bolt.Tx, say [][]byte) error {
	into := tx.Bucket([]byte(inUnsaid))
	add := func(_, text []byte) error {
		seq, err := into.NextSequence()
		if err != nil {
			return err
		}
		return into.Put(binary.BigEndian.AppendUint64(nil, seq), text)
	}
	err := old.Bucket([]byte(inUnsaid)).ForEach(add)
	for _, text := range say {
		err = errors.Join(err, add(nil, text))
	}
	return err
}

// reseal seals under another key what stays where it is.
func reseal(from, to, sealed []byte, about string) ([]byte, error) {
	text, err := unseal(from, sealed, about)
	if err != nil {
		return nil, err
	}
	return seal(to, text, about)
}
