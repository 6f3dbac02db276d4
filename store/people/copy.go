package people

import (
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/boltfile"
)

// ErrCopy says that a copy of a people file is not what it was made of.
var ErrCopy = errors.New("the copy is not what the people file was")

// Contents is what a people file held at one transaction, in numbers.
type Contents struct {
	Format  int `json:"format"`
	People  int `json:"people"`  // sealed records
	Refused int `json:"refused"` // sealed messages that were refused
}

// Copy writes the file as it is, sealed, to a new file at path that only its owner can read. The master key is not in it.
// The copy is on disk when Copy returns and not yet looked at: see [CheckCopy].
func (f *File) Copy(path string) (Contents, error) {
	f.mu.RLock()
	defer f.mu.RUnlock()
	var out Contents
	err := boltfile.View(f.db, func(tx *bolt.Tx) (err error) {
		out, err = copyOut(tx, path)
		return err
	})
	if err != nil {
		return Contents{}, fmt.Errorf("copy people file %s: %w", f.path, err)
	}
	return out, nil
}

// CopyFile is [File.Copy] of a file that nobody has open. It needs no key, and changes nothing.
func CopyFile(from, path string) (Contents, error) {
	var out Contents
	err := readOnly(from, func(tx *bolt.Tx) (err error) {
		out, err = copyOut(tx, path)
		return err
	})
	if err != nil {
		return Contents{}, fmt.Errorf("copy people file %s: %w", from, err)
	}
	return out, nil
}

// CheckCopy opens a copy that nobody has open and reads all of it, as far as that can be done without a key.
func CheckCopy(path string, want Contents) error {
	err := readOnly(path, func(tx *bolt.Tx) error {
		have, err := contentsOf(tx)
		switch {
		case err != nil:
			return fmt.Errorf("%w: %w", ErrCopy, err)
		case have != want:
			return fmt.Errorf("%w: it has %d records and %d refused messages in place of %d and %d", ErrCopy, have.People, have.Refused, want.People, want.Refused)
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("check copy %s: %w", path, err)
	}
	return nil
}

func readOnly(path string, fn func(tx *bolt.Tx) error) error {
	o := boltfile.Options(time.Second)
	o.ReadOnly = true
	db, err := boltfile.Open(path, o)
	switch {
	case errors.Is(err, boltfile.ErrInUse):
		return ErrInUse
	case errors.Is(err, boltfile.ErrForeign):
		return fmt.Errorf("%w (%w)", ErrForeign, err)
	case err != nil:
		return err
	}
	return errors.Join(boltfile.View(db, fn), db.Close())
}

// contentsOf counts, and so reads every page that is in use.
func contentsOf(tx *bolt.Tx) (Contents, error) {
	var out Contents
	counts := map[string]int{}
	for _, name := range buckets() {
		b := tx.Bucket([]byte(name))
		if b == nil {
			return out, fmt.Errorf("%w: it has no bucket %s", ErrForeign, name)
		}
		if err := b.ForEach(func(_, _ []byte) error { counts[name]++; return nil }); err != nil {
			return out, err
		}
	}
	for _, name := range laterBuckets() {
		if b := tx.Bucket([]byte(name)); b != nil { // a file from before has none
			if err := b.ForEach(func(_, _ []byte) error { return nil }); err != nil {
				return out, err
			}
		}
	}
	raw := tx.Bucket([]byte(inMeta)).Get([]byte(metaFormat))
	if len(raw) != 4 {
		return out, fmt.Errorf("%w: it says no format", ErrForeign)
	}
	if out.Format = int(binary.BigEndian.Uint32(raw)); out.Format > formatVersion {
		return out, fmt.Errorf("%w (format %d, this one reads up to %d)", ErrNewer, out.Format, formatVersion)
	}
	if counts[inKeys] != counts[inRecords] {
		return out, fmt.Errorf("%w: it has %d records and %d keys", ErrForeign, counts[inRecords], counts[inKeys])
	}
	out.People, out.Refused = counts[inRecords], counts[inRefused]
	return out, nil
}

func copyOut(tx *bolt.Tx, path string) (Contents, error) {
	out, err := contentsOf(tx)
	if err != nil {
		return out, err
	}
	file, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return out, err
	}
	_, err = tx.WriteTo(file)
	if err = errors.Join(err, file.Sync(), file.Close()); err == nil {
		return out, nil
	}
	if boltfile.Full(err) {
		err = fmt.Errorf("%w: %w", ErrNoSpace, err)
	}
	return out, errors.Join(err, os.Remove(path))
}
