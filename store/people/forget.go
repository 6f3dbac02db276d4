package people

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/boltfile"
)

// Forget destroys a person's record, and the refused messages that mention the person; ok is false when there was no
// record. Everything else is copied to a new file, with all keys sealed under a new master key, and then the old file
// and key go: what was deleted could else be found in free pages. While it runs nothing else is read or written. Cut
// short at any instant, the file opens afterwards with or without the record.
func (f *File) Forget(ref string) (ok bool, err error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if ok, err = f.forget(ref); err != nil {
		return false, fmt.Errorf("forget a person: %w", err)
	}
	return ok, nil
}

func (f *File) forget(ref string) (bool, error) {
	var person Person
	ok := false
	err := f.db.View(func(tx *bolt.Tx) (err error) {
		person, ok, err = f.read(tx, ref)
		if errors.Is(err, ErrSealed) { // what cannot be opened can be destroyed all the same
			ok, err = true, nil
		}
		return err
	})
	if err != nil || !ok {
		return false, err
	}
	fresh, err := newMaster()
	if err != nil {
		return false, err
	}
	temp, err := f.copyWithout(ref, person, fresh)
	if err != nil {
		return false, err
	}
	defer func() { _ = os.Remove(temp) }()
	// Both keys are in the key file while the files change places, so that whichever is there can be opened.
	if err := writeKeys(f.keyPath, fresh, f.master); err != nil {
		return false, err
	}
	if err := f.db.Close(); err != nil {
		return false, err
	}
	renamed := os.Rename(temp, f.path)
	if renamed == nil {
		renamed = boltfile.SyncFolder(filepath.Dir(f.path))
	}
	if f.db, err = openBolt(f.path, f.options.Timeout); err != nil {
		return false, errors.Join(renamed, err)
	}
	keys, err := readKeys(f.keyPath)
	if err != nil {
		return false, errors.Join(renamed, err)
	}
	if err := f.unlock(keys); err != nil { // also drops the key that is not needed
		return false, errors.Join(renamed, err)
	}
	return renamed == nil, renamed
}

// copyWithout writes a new file under a new master key, without one person.
func (f *File) copyWithout(ref string, person Person, fresh masterKey) (path string, err error) {
	temp, err := os.CreateTemp(filepath.Dir(f.path), filepath.Base(f.path)+".new-*")
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
	db, err := bolt.Open(temp.Name(), 0o600, &bolt.Options{Timeout: time.Second, FreelistType: bolt.FreelistMapType})
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
			if err := f.copyRecords(old, to, tx, ref); err != nil {
				return err
			}
			return f.copyRefused(old, to, tx, person)
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
		if mentions(person, string(r.Data)) || mentions(person, r.Text) {
			dropped++
			return nil
		}
		text, err := unseal(f.refuse, sealed, inRefused+string(key))
		if err != nil {
			return err
		}
		again, err := seal(to.refuse, text, inRefused+string(key))
		if err != nil {
			return err
		}
		size += uint64(len(again))
		return into.Put(key, again)
	})
	return errors.Join(err, into.SetSequence(from.Sequence()), writeCount(meta, metaBytes, size), writeCount(meta, metaDropped, dropped))
}
