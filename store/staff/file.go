package staff

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"sync"
	"sync/atomic"
	"time"

	"github.com/go-json-experiment/json"
	bolt "go.etcd.io/bbolt"
	berrors "go.etcd.io/bbolt/errors"

	"github.com/pottrail/pottrail/store/boltfile"
	"github.com/pottrail/pottrail/store/sealing"
)

// formatVersion is raised when a release cannot read what an earlier one wrote without changing it.
//
// 1: first release, 2026-11.
const formatVersion = 1

const (
	inMeta      = "meta"
	inStaff     = "staff"     // staff key → person, the PIN sealed
	inTries     = "tries"     // staff key, 0, station → wrong PINs; an empty station: at all of them; an empty staff key: of all
	inStrangers = "strangers" // the same of badges that are on no list; its sequence counts them
	inStations  = "stations"  // station key → station
	inKeys      = "keys"      // SHA-256 of a station's secret → station key
	inLinks     = "links"     // SHA-256 of a link's token → the station that it enrols
	inSessions  = "sessions"  // be64 number → session; its sequence numbers them
	inOpen      = "open"      // be64 number → nothing: those that have not ended
	inTokens    = "tokens"    // SHA-256 of a session's token → be64 number
	inSigned    = "signed"    // staff key, 0, station, 0, be64 since, be64 number → be64 end; nothing while open
	inDoubts    = "doubts"    // be64 → doubt
	inDoubted   = "doubted"   // event id → be64 in doubts

	metaFormat  = "format"   // be32
	metaProof   = "proof"    // a known text, sealed: shows that the key is the right one
	metaForce   = "in-force" // there since somebody was first on the list
	metaDropped = "dropped"  // be64: doubts that made way for later ones
	metaEnded   = "ended"    // be64: how many sessions are kept that have ended
)

func buckets() []string {
	return []string{inMeta, inStaff, inTries, inStrangers, inStations, inKeys, inLinks, inSessions, inOpen, inTokens, inSigned, inDoubts, inDoubted}
}

const proofText = "staff file of pottrail"

// File is an open staff file. It is safe for concurrent use; whatever changes it is on disk when the method returns, but for
// the last use of sessions and stations, which is written down now and then.
type File struct {
	path    string
	db      *bolt.DB
	o       Options
	hashes  *hashes
	most    int // sessions that are open
	inForce atomic.Bool

	// Changes of sessions are made one after the other: first on disk, then in memory.
	changing sync.Mutex

	mu     sync.RWMutex // guards what follows; never held while reading or writing the file
	key    []byte
	setUp  *setUpLink
	open   map[uint64]*live
	tokens map[digest]uint64
	places map[place]uint64
	begun  opened // when the file was opened, by both clocks
	fatal  error
	stuck  bool // bbolt may hold its locks for ever
	closed bool
}

// opened is an instant by both clocks.
type opened struct {
	wall   time.Time
	steady time.Duration
}

// Open opens the staff file at path, and makes it when there is none. Key has 32 bytes and seals the PINs; it must be the same
// each time. Errors wrap [ErrInUse], [ErrForeign], [ErrNewer], [ErrKey] or [ErrDamaged], or are what the system said; nothing
// is changed then.
func Open(path string, key []byte, o Options) (*File, error) {
	f, err := attach(path, key, o.filled())
	if err == nil {
		if err = f.checkKey(); err == nil {
			err = f.begin()
		}
		if err != nil {
			_ = f.Close()
		}
	}
	if err != nil {
		return nil, fmt.Errorf("open staff file %s: %w", path, err)
	}
	return f, nil
}

// Abandon opens a staff file whose key is lost, or was changed without [File.Rekey]: nobody's PIN can be checked any more, so
// each needs a new one, and the file takes the new key. All else stays.
func Abandon(path string, key []byte, o Options) (*File, error) {
	f, err := attach(path, key, o.filled())
	if err == nil {
		err = f.update(func(tx *bolt.Tx) error { return putProof(tx, key) })
		if err == nil {
			err = f.begin()
		}
		if err != nil {
			_ = f.Close()
		}
	}
	if err != nil {
		return nil, fmt.Errorf("open staff file %s without its key: %w", path, err)
	}
	return f, nil
}

func attach(path string, key []byte, o Options) (*File, error) {
	if len(key) != sealing.KeySize {
		return nil, fmt.Errorf("%w: it has %d bytes, of %d", ErrKey, len(key), sealing.KeySize)
	}
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		if err := boltfile.Make(path, func(tx *bolt.Tx) error { return populate(tx, key) }); err != nil {
			return nil, fmt.Errorf("make it: %w", err)
		}
	}
	settings := boltfile.Options(o.Timeout)
	if o.Bolt != nil {
		o.Bolt(settings)
	}
	db, err := boltfile.Open(path, settings)
	switch {
	case errors.Is(err, boltfile.ErrInUse):
		return nil, fmt.Errorf("%w; stop that one first", ErrInUse)
	case errors.Is(err, boltfile.ErrForeign):
		return nil, fmt.Errorf("%w (%w); it was not touched", ErrForeign, err)
	case err != nil:
		return nil, err
	}
	f := &File{path: path, db: db, o: o, key: bytes.Clone(key), open: map[uint64]*live{}, tokens: map[digest]uint64{}, places: map[place]uint64{},
		most: MostOpen, begun: opened{o.Now(), o.Steady()}}
	f.hashes = newHashes(o.Cost, o.Random)
	if err := f.view(checkFormat); err != nil {
		_ = db.Close()
		if errors.Is(err, ErrDamaged) {
			err = fmt.Errorf("%w (%w)", ErrForeign, err)
		}
		return nil, err
	}
	return f, nil
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
	if meta.Get([]byte(metaProof)) == nil {
		return fmt.Errorf("%w: it has no proof of its key", ErrForeign)
	}
	return nil
}

func (f *File) checkKey() error {
	return f.view(func(tx *bolt.Tx) error {
		if _, err := sealing.Unseal(f.key, tx.Bucket([]byte(inMeta)).Get([]byte(metaProof)), inMeta); err != nil {
			return ErrKey
		}
		return nil
	})
}

// begin reads what is kept in memory.
func (f *File) begin() error {
	var open []session
	err := f.view(func(tx *bolt.Tx) error {
		f.inForce.Store(tx.Bucket([]byte(inMeta)).Get([]byte(metaForce)) != nil)
		c := tx.Bucket([]byte(inOpen)).Cursor()
		for key, _ := c.First(); key != nil; key, _ = c.Next() {
			s, err := loadSession(tx, be64of(key))
			if err != nil {
				return err
			}
			open = append(open, s)
		}
		return nil
	})
	if err != nil {
		return err
	}
	return f.resume(open)
}

// Close notes the last use of each session, waits for what is being written, and closes the file. Everything afterwards fails
// with [ErrClosed]. Sessions stay open: who was signed in is so after the next start, unless they were idle for too long.
func (f *File) Close() error {
	f.changing.Lock()
	defer f.changing.Unlock()
	f.saveUses()
	f.mu.Lock()
	skip := f.closed || f.stuck
	f.closed = true
	f.mu.Unlock()
	if skip {
		return nil
	}
	if err := f.db.Close(); err != nil {
		return fmt.Errorf("close staff file %s: %w", f.path, err)
	}
	return nil
}

// view reads what is committed, without waiting for whoever writes. Nothing read may be kept without a copy.
func (f *File) view(fn func(tx *bolt.Tx) error) error {
	f.mu.RLock()
	closed := f.closed
	f.mu.RUnlock()
	if closed {
		return ErrClosed
	}
	err := boltfile.View(f.db, fn)
	switch {
	case errors.Is(err, berrors.ErrDatabaseNotOpen):
		return ErrClosed
	case errors.Is(err, boltfile.ErrForeign):
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	return err
}

// update changes the file in one transaction.
func (f *File) update(fn func(tx *bolt.Tx) error) error {
	f.mu.RLock()
	err := f.fatal
	if f.closed {
		err = ErrClosed
	}
	f.mu.RUnlock()
	if err != nil {
		return err
	}
	err = boltfile.Update(f.db, fn)
	switch {
	case err == nil:
		return nil
	case errors.Is(err, berrors.ErrDatabaseNotOpen):
		return ErrClosed
	case errors.Is(err, boltfile.ErrNoSpace):
		return fmt.Errorf("%w: %w", ErrNoSpace, err)
	case errors.Is(err, boltfile.ErrUncertain), errors.Is(err, boltfile.ErrStuck):
		err = fmt.Errorf("%w: %w", ErrFatal, err)
		f.mu.Lock()
		defer f.mu.Unlock()
		f.stuck = f.stuck || errors.Is(err, boltfile.ErrStuck)
		f.fatal = err
	}
	return err
}

func be64(n uint64) []byte { return binary.BigEndian.AppendUint64(nil, n) }

// be64of is the inverse of be64; what has another length is 0, which numbers nothing.
func be64of(raw []byte) uint64 {
	if len(raw) != 8 {
		return 0
	}
	return binary.BigEndian.Uint64(raw)
}

func putJSON(tx *bolt.Tx, bucket string, key []byte, value any) error {
	raw, err := json.Marshal(value)
	if err != nil {
		return fmt.Errorf("write down in %s: %w", bucket, err)
	}
	return tx.Bucket([]byte(bucket)).Put(key, raw)
}

// parse reads what putJSON wrote; anything else is [ErrDamaged].
func parse[T any](bucket string, raw []byte) (out T, err error) {
	if err := json.Unmarshal(raw, &out, json.RejectUnknownMembers(true)); err != nil {
		return out, fmt.Errorf("%w: an entry of %s cannot be read", ErrDamaged, bucket) // the cause may hold what it says
	}
	return out, nil
}
