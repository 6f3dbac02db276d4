package staff

import (
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/boltfile"
)

// ErrCopy says that a copy of a staff file is not what it was made of.
var ErrCopy = errors.New("the copy is not what the staff file was")

// Contents is what a staff file held at one transaction, in numbers.
type Contents struct {
	Format   int `json:"format"`
	Staff    int `json:"staff"` // people who are or were on the list
	Stations int `json:"stations"`
	Sessions int `json:"sessions"` // that are open or kept
	Doubts   int `json:"doubts"`
}

// Copy writes the file as it is, PINs sealed, to a new file at path that only its owner can read. The copy is on disk when
// Copy returns and not yet looked at: see [CheckCopy].
func (f *File) Copy(path string) (Contents, error) {
	var out Contents
	err := f.view(func(tx *bolt.Tx) (err error) {
		out, err = copyOut(tx, path)
		return err
	})
	if err != nil {
		return Contents{}, fmt.Errorf("copy staff file %s: %w", f.path, err)
	}
	return out, nil
}

// CopyFile is [File.Copy] of a file that nobody has open. It needs no key, and changes nothing.
func CopyFile(from, path string) (Contents, error) {
	var out Contents
	err := readOnly(from, time.Second, func(tx *bolt.Tx) (err error) {
		out, err = copyOut(tx, path)
		return err
	})
	if err != nil {
		return Contents{}, fmt.Errorf("copy staff file %s: %w", from, err)
	}
	return out, nil
}

// CheckCopy opens a copy that nobody has open, reads all of it and holds its indexes against its entries, as far as that can be
// done without a key.
func CheckCopy(path string, want Contents) error {
	err := readOnly(path, time.Second, func(tx *bolt.Tx) error {
		have, err := contentsOf(tx)
		if err == nil {
			err = check(tx)
		}
		switch {
		case errors.Is(err, ErrNewer):
			return err
		case err != nil:
			return fmt.Errorf("%w: %w", ErrCopy, err)
		case have != want:
			return fmt.Errorf("%w: it holds %+v in place of %+v", ErrCopy, have, want)
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("check copy %s: %w", path, err)
	}
	return nil
}

// CheckFile reads every entry of a file that nobody has open, without its key, and holds the indexes against what they are of;
// what does not fit is [ErrDamaged], and says where. It waits no longer than timeout for whoever has the file. Nothing is
// changed.
func CheckFile(path string, timeout time.Duration) error {
	if err := readOnly(path, timeout, check); err != nil {
		return fmt.Errorf("check staff file %s: %w", path, err)
	}
	return nil
}

// readOnly reads a file that nobody has open and that is one of ours.
func readOnly(path string, timeout time.Duration, fn func(tx *bolt.Tx) error) error {
	o := boltfile.Options(timeout)
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
	err = boltfile.View(db, func(tx *bolt.Tx) error {
		if err := checkFormat(tx); err != nil {
			return err
		}
		return fn(tx)
	})
	if errors.Is(err, boltfile.ErrForeign) {
		err = fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	return errors.Join(err, db.Close())
}

// contentsOf counts.
func contentsOf(tx *bolt.Tx) (Contents, error) {
	var out Contents
	for _, row := range []struct {
		bucket string
		n      *int
	}{{inStaff, &out.Staff}, {inStations, &out.Stations}, {inSessions, &out.Sessions}, {inDoubts, &out.Doubts}} {
		if err := tx.Bucket([]byte(row.bucket)).ForEach(func(_, _ []byte) error { *row.n++; return nil }); err != nil {
			return out, err
		}
	}
	out.Format = int(binary.BigEndian.Uint32(tx.Bucket([]byte(inMeta)).Get([]byte(metaFormat))))
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
