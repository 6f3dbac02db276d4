package prints

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/boltfile"
	"github.com/pottrail/pottrail/store/sealing"
)

// formatVersion is raised when a release cannot read what an earlier one wrote without changing it.
//
// 1: first release, 2026-11.
const formatVersion = 1

const (
	inMeta   = "meta"
	inJobs   = "jobs"   // be64 id → record; the sequence of this bucket numbers the jobs
	inBodies = "bodies" // be64 id → sealed bytes for the printer
	inOpen   = "open"   // printer, 0, be64 id → be64 place in the line, state: all that are not done; its sequence gives the places
	inDone   = "done"   // be64 nanoseconds, be64 id → nothing: the done ones by when they became so
	inNames  = "names"  // name, 0, copy, be64 id → nothing
	inOwed   = "owed"   // be64 id → nothing: not printed, and the ledger does not yet know

	metaFormat = "format" // be32
	metaProof  = "proof"  // a known text, sealed: shows that the key is the right one
	metaDone   = "done"   // be64: how many are done
)

func buckets() []string { return []string{inMeta, inJobs, inBodies, inOpen, inDone, inNames, inOwed} }

const proofText = "print queue of pottrail"

// openWait is how long [Open] waits for another process to let go of the file.
const openWait = time.Second

// openFile opens the file, made first if there is none.
func openFile(path string, key []byte, o *bolt.Options) (*bolt.DB, error) {
	if len(key) != sealing.KeySize {
		return nil, fmt.Errorf("%w: it has %d bytes, of %d", ErrKey, len(key), sealing.KeySize)
	}
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		if err := boltfile.Make(path, func(tx *bolt.Tx) error { return populate(tx, key) }); err != nil {
			return nil, fmt.Errorf("make it: %w", err)
		}
	}
	db, err := boltfile.Open(path, o)
	switch {
	case errors.Is(err, boltfile.ErrInUse):
		return nil, fmt.Errorf("%w; stop that one first", ErrInUse)
	case errors.Is(err, boltfile.ErrForeign):
		return nil, fmt.Errorf("%w (%w); it was not touched", ErrForeign, err)
	case err != nil:
		return nil, err
	}
	if err := boltfile.View(db, checkFormat); err != nil {
		_ = db.Close()
		if errors.Is(err, boltfile.ErrForeign) {
			err = fmt.Errorf("%w (%w)", ErrForeign, err)
		}
		return nil, err
	}
	return db, nil
}

func populate(tx *bolt.Tx, key []byte) error {
	for _, name := range buckets() {
		if _, err := tx.CreateBucket([]byte(name)); err != nil {
			return err
		}
	}
	return errors.Join(
		tx.Bucket([]byte(inMeta)).Put([]byte(metaFormat), binary.BigEndian.AppendUint32(nil, formatVersion)),
		putProof(tx, key),
	)
}

func putProof(tx *bolt.Tx, key []byte) error {
	proof, err := sealing.Seal(key, []byte(proofText), inMeta)
	if err != nil {
		return err
	}
	return tx.Bucket([]byte(inMeta)).Put([]byte(metaProof), proof)
}

func checkFormat(tx *bolt.Tx) error {
	meta := tx.Bucket([]byte(inMeta))
	if meta == nil {
		return fmt.Errorf("%w: it has no bucket %s", ErrForeign, inMeta)
	}
	raw := meta.Get([]byte(metaFormat))
	if len(raw) != 4 {
		return fmt.Errorf("%w: it says no format", ErrForeign)
	}
	if format := binary.BigEndian.Uint32(raw); format > formatVersion {
		return fmt.Errorf("%w (format %d, this one reads up to %d); use that release", ErrNewer, format, formatVersion)
	}
	for _, name := range buckets() {
		if tx.Bucket([]byte(name)) == nil {
			return fmt.Errorf("%w: it has no bucket %s", ErrForeign, name)
		}
	}
	return nil
}

func (q *Queue) checkKey() error {
	return q.view(func(tx *bolt.Tx) error {
		if _, err := sealing.Unseal(q.key, tx.Bucket([]byte(inMeta)).Get([]byte(metaProof)), inMeta); err != nil {
			return ErrKey
		}
		return nil
	})
}

func be64(n uint64) []byte { return binary.BigEndian.AppendUint64(nil, n) }
