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
	"strings"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/boltfile"
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
	metaPutBack  = "putback"  // JSON of [PutBack]s: when it was put back from copies
	metaStopped  = "stopped"  // be64: the last entry when the program last ended in good order
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
	b := boltfile.Options(o.Timeout)
	b.InitialMmapSize, b.MaxSize, b.OpenFile = int(o.MapSize), int(o.MaxSize), o.OpenFile
	return b
}

func openExisting(path string, o Options) (*bolt.DB, error) {
	db, err := openWith(path, o.bolt())
	if err != nil {
		return nil, err
	}
	if err := db.View(checkFormat); err != nil {
		_ = db.Close()
		if kept := copiesBefore(path); errors.Is(err, ErrNewer) && len(kept) > 0 {
			return nil, fmt.Errorf("open ledger %s: %w, or go back to %s, which was made before it was changed and lacks what was recorded since", path, err, kept[0])
		}
		return nil, fmt.Errorf("open ledger %s: %w", path, err)
	}
	return db, nil
}

func openWith(path string, o *bolt.Options) (*bolt.DB, error) {
	db, err := boltfile.Open(path, o)
	switch {
	case errors.Is(err, boltfile.ErrInUse):
		return nil, fmt.Errorf("open ledger %s: %w; stop that one first", path, ErrInUse)
	case errors.Is(err, boltfile.ErrForeign):
		return nil, fmt.Errorf("open ledger %s: %w (%w); it was not touched", path, ErrForeign, err)
	case err != nil:
		return nil, fmt.Errorf("open ledger %s: %w", path, err)
	}
	return db, nil
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
		return fmt.Errorf("%w (ledger format %d, this one reads up to %d); use that release", ErrNewer, format, formatVersion)
	}
	for b := range bucketCount {
		if tx.Bucket([]byte(b.String())) == nil && !b.optional() {
			return fmt.Errorf("%w: bucket %s is missing", ErrForeign, b)
		}
	}
	return nil
}

// createFile makes an empty ledger.
func createFile(path string, o Options) error {
	origin, err := o.origin()
	if err != nil {
		return err
	}
	return boltfile.Make(path, func(tx *bolt.Tx) error {
		for b := range bucketCount {
			if _, err := tx.CreateBucket([]byte(b.String())); err != nil {
				return err
			}
		}
		meta := tx.Bucket([]byte(inMeta.String()))
		return errors.Join(
			meta.Put([]byte(metaFormat), binary.BigEndian.AppendUint32(nil, formatVersion)),
			meta.Put([]byte(metaOrigin), originValue(origin)),
			meta.Put([]byte(metaFold), foldValue(foldVersion)),
		)
	})
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
