package store

import (
	"crypto/rand"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"time"

	bolt "go.etcd.io/bbolt"
	berrors "go.etcd.io/bbolt/errors"
)

// formatVersion is raised when a release cannot read what an earlier one wrote without changing it.
//
// 1: first release, 2026-11.
const formatVersion = 1

const (
	metaFormat   = "format"   // be32
	metaOrigin   = "origin"   // text
	metaFold     = "fold"     // be32, of the snapshots that were last told to be judged again
	metaNow      = "now"      // instant of the last judgement
	metaBuilding = "building" // there while a rebuild is not finished
)

// open maps the file, made first if there is none, and says what is wrong with it in the package's own errors.
func openFile(path string, o Options) (db *bolt.DB, err error) {
	for range 3 {
		info, err := os.Stat(path)
		if err == nil && info.Size() == 0 { // bbolt would take it for a new file, and ours are never empty
			return nil, fmt.Errorf("open ledger %s: %w: it is empty", path, ErrForeign)
		}
		if err == nil {
			return openExisting(path, o)
		}
		if !errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf("open ledger %s: %w", path, err)
		}
		if err := createFile(path, o); err != nil {
			return nil, fmt.Errorf("make ledger %s: %w", path, err)
		}
	}
	return nil, fmt.Errorf("open ledger %s: it vanished as soon as it was made", path)
}

func (o Options) bolt() *bolt.Options {
	return &bolt.Options{
		Timeout:         o.Timeout,
		FreelistType:    bolt.FreelistMapType,
		InitialMmapSize: int(o.MapSize),
		MaxSize:         int(o.MaxSize),
	} // the freelist stays synced: without it a cold start of a large file takes minutes; and never NoSync
}

func openExisting(path string, o Options) (db *bolt.DB, err error) {
	var file *os.File
	defer guard(func(fault any) { // bbolt panics on some damaged files, and leaves it mapped, which holds the lock
		if file != nil {
			unlock(file)
			_ = file.Close()
		}
		db, err = nil, fmt.Errorf("open ledger %s: %w: %v", path, ErrForeign, fault)
	})
	inner := o.bolt()
	inner.OpenFile = func(name string, flag int, mode os.FileMode) (f *os.File, err error) {
		if o.OpenFile != nil {
			f, err = o.OpenFile(name, flag, mode)
		} else {
			f, err = os.OpenFile(name, flag, mode)
		}
		file = f
		return f, err
	}
	db, err = bolt.Open(path, 0o600, inner)
	switch {
	case errors.Is(err, berrors.ErrTimeout):
		return nil, fmt.Errorf("open ledger %s: %w; stop that one first", path, ErrInUse)
	case errors.Is(err, berrors.ErrInvalid), errors.Is(err, berrors.ErrVersionMismatch), errors.Is(err, berrors.ErrChecksum), errors.Is(err, berrors.ErrInvalidMapping):
		return nil, fmt.Errorf("open ledger %s: %w (%w); it was not touched", path, ErrForeign, err)
	case errors.Is(err, fs.ErrPermission):
		return nil, fmt.Errorf("open ledger %s: %w", path, err)
	case err != nil:
		return nil, fmt.Errorf("open ledger %s: %w", path, err)
	}
	if err := db.View(checkFormat); err != nil {
		_ = db.Close()
		return nil, fmt.Errorf("open ledger %s: %w", path, err)
	}
	return db, nil
}

// guard calls caught with a panic or a fault of reading mapped memory; defer it.
func guard(caught func(fault any)) {
	if fault := recover(); fault != nil {
		caught(fault)
	}
}

// faultsPanic makes a fault of reading mapped memory a panic of this goroutine until the returned function is called,
// in place of the end of the process.
func faultsPanic() (back func()) {
	old := debug.SetPanicOnFault(true)
	return func() { debug.SetPanicOnFault(old) }
}

func checkFormat(tx *bolt.Tx) error {
	meta := tx.Bucket([]byte(inMeta.String()))
	if meta == nil {
		return fmt.Errorf("%w: it has no meta bucket", ErrForeign)
	}
	raw := meta.Get([]byte(metaFormat))
	if len(raw) != 4 {
		return fmt.Errorf("%w: it says no format", ErrForeign)
	}
	if format := binary.BigEndian.Uint32(raw); format > formatVersion {
		return fmt.Errorf("%w (format %d, this one reads up to %d); use that release", ErrNewer, format, formatVersion)
	}
	for b := range bucketCount {
		if tx.Bucket([]byte(b.String())) == nil {
			return fmt.Errorf("%w: bucket %s is missing", ErrForeign, b)
		}
	}
	return nil
}

// createFile makes an empty ledger beside its place, and puts it there when it is whole and on disk: a power cut in the
// first write of a bbolt file can leave one that cannot be opened (its README, "Caveats").
func createFile(path string, o Options) error {
	folder := filepath.Dir(path)
	temp, err := os.CreateTemp(folder, filepath.Base(path)+".new-*")
	if err != nil {
		return err
	}
	defer func() { _ = os.Remove(temp.Name()) }()
	if err := temp.Close(); err != nil {
		return err
	}
	if err := populate(temp.Name(), o); err != nil {
		return err
	}
	// Link, unlike rename, never replaces what another process made meanwhile.
	if err := os.Link(temp.Name(), path); err != nil && !errors.Is(err, fs.ErrExist) {
		if err := os.Rename(temp.Name(), path); err != nil {
			return err
		}
	}
	return syncFolder(folder)
}

func populate(path string, o Options) error {
	origin, err := o.origin()
	if err != nil {
		return err
	}
	db, err := bolt.Open(path, 0o600, &bolt.Options{Timeout: time.Second, FreelistType: bolt.FreelistMapType})
	if err != nil {
		return err
	}
	err = db.Update(func(tx *bolt.Tx) error {
		for b := range bucketCount {
			if _, err := tx.CreateBucket([]byte(b.String())); err != nil {
				return err
			}
		}
		meta := tx.Bucket([]byte(inMeta.String()))
		return errors.Join(
			meta.Put([]byte(metaFormat), binary.BigEndian.AppendUint32(nil, formatVersion)),
			meta.Put([]byte(metaOrigin), []byte(origin)),
			meta.Put([]byte(metaFold), binary.BigEndian.AppendUint32(nil, foldVersion)),
		)
	})
	if err == nil {
		err = db.Sync()
	}
	return errors.Join(err, db.Close())
}

// origin is the name of the new log: 96 random bits are enough never to meet again.
func (o Options) origin() (string, error) {
	if o.Origin == "" {
		source := o.Random
		if source == nil {
			source = rand.Reader
		}
		bits := make([]byte, 12)
		if _, err := io.ReadFull(source, bits); err != nil {
			return "", fmt.Errorf("random origin: %w", err)
		}
		return hex.EncodeToString(bits), nil
	}
	if len(o.Origin) > 64 || strings.Trim(o.Origin, "abcdefghijklmnopqrstuvwxyz0123456789-") != "" {
		return "", fmt.Errorf("origin %q: 1 to 64 of a-z, 0-9 and hyphen are wanted", o.Origin)
	}
	return o.Origin, nil
}

// syncFolder makes a new name in a folder last.
func syncFolder(folder string) error {
	f, err := os.Open(folder)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
