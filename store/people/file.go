package people

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"
	"sync"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/boltfile"
)

// formatVersion is raised when a release cannot read what an earlier one wrote without changing it.
//
// 1: first release, 2026-11.
const formatVersion = 1

const (
	inMeta    = "meta"
	inRecords = "records" // ref → sealed record
	inKeys    = "keys"    // ref → sealed key
	inIndex   = "index"   // blinded field, ref → nothing
	inRefused = "refused" // be64 → sealed message
	inReads   = "reads"   // be64 → sealed note of who read what
	inGone    = "gone"    // ref of a destroyed record → when
	inUnsaid  = "unsaid"  // be64 → what is still to be said elsewhere of a destroyed record

	metaFormat  = "format"
	metaProof   = "proof"   // a known text, sealed: shows that the key is the right one
	metaDropped = "dropped" // be64: refused messages that made way for later ones
	metaBytes   = "bytes"   // be64: of the refused messages
	metaUnread  = "unread"  // be64: notes of reads that made way for later ones
)

func buckets() []string { return []string{inMeta, inRecords, inKeys, inIndex, inRefused} }

// laterBuckets are made when a file without them is opened: none was in the first files, and all begin empty.
func laterBuckets() []string { return []string{inReads, inGone, inUnsaid} }

// Options say how a people file is opened. The zero value is good for a clinic.
type Options struct {
	// Timeout is how long [Open] waits for another process to let go of the file. Zero means one second.
	Timeout time.Duration
	// RefusedCount and RefusedBytes cap the refused messages that are kept; the oldest make way. Zero means 1000 messages
	// and 8 MiB.
	RefusedCount int
	RefusedBytes int64
	// ReadsCount caps the notes of who read what; the oldest make way and are counted. Zero means a million: at a hundred
	// reads a day, more than twenty-five years.
	ReadsCount int
	// KeyGiven says that the key file is put in its place by something else, such as systemd: it may be root's, and it is
	// never made or replaced here.
	KeyGiven bool
	// OpenFile opens the file in place of [os.OpenFile]; for tests that make writing fail.
	OpenFile func(name string, flag int, mode os.FileMode) (*os.File, error)
}

// File is an open people file. It is safe for concurrent use.
type File struct {
	path, keyPath string
	options       Options

	mu     sync.RWMutex // held for writing while the file is exchanged
	db     *bolt.DB
	master masterKey
	spare  []masterKey // further ones in the key file, until [File.Settle]
	wrap   []byte      // derived from master
	index  []byte
	refuse []byte
	reads  []byte

	broken broken // what keeps it from being written

	changing sync.Mutex        // held while keys change, to the end
	step     func(done string) // told of each step of a change of keys, by tests; may be nil
}

// Open opens the people file at path with the master key in the file at keyPath, and makes both (0600) when neither is
// there. Errors are the sentinels of this package in a sentence, or what the system said.
func Open(path, keyPath string, o Options) (*File, error) {
	if o.Timeout == 0 {
		o.Timeout = time.Second
	}
	if o.RefusedCount == 0 {
		o.RefusedCount = 1000
	}
	if o.RefusedBytes == 0 {
		o.RefusedBytes = 8 << 20
	}
	if o.ReadsCount == 0 {
		o.ReadsCount = 1_000_000
	}
	f := &File{path: path, keyPath: keyPath, options: o}
	if err := f.open(); err != nil {
		return nil, fmt.Errorf("open people file %s: %w", path, err)
	}
	return f, nil
}

func (f *File) open() error {
	there, err := exists(f.path)
	if err != nil {
		return err
	}
	keys, err := readKeys(f.keyPath, f.options.KeyGiven)
	switch {
	case errors.Is(err, fs.ErrNotExist) && f.options.KeyGiven:
		return fmt.Errorf("%w: nothing is at %s", ErrKeyMissing, f.keyPath)
	case errors.Is(err, fs.ErrNotExist) && there:
		return fmt.Errorf("%w: put %s back from where its copy is kept, or name it if it lies elsewhere", ErrKeyMissing, f.keyPath)
	case errors.Is(err, fs.ErrNotExist):
		made, err := newMaster()
		if err != nil {
			return err
		}
		if err := writeKeys(f.keyPath, made); err != nil {
			return fmt.Errorf("write the key file: %w", err)
		}
		keys = []masterKey{made}
	case err != nil:
		return fmt.Errorf("key file %s: %w", f.keyPath, err)
	}
	if !there {
		if err := create(f.path, keys[0]); err != nil {
			return err
		}
	}
	if f.db, err = openBolt(f.path, f.options.bolt()); err != nil {
		return err
	}
	if err = f.unlock(keys); err == nil {
		err = f.ready()
	}
	if err != nil {
		_ = f.db.Close()
	}
	return err
}

// ready makes what a file of before lacks, and removes what a killed process left half written.
func (f *File) ready() error {
	missing := false
	err := f.db.View(func(tx *bolt.Tx) error {
		for _, name := range laterBuckets() {
			missing = missing || tx.Bucket([]byte(name)) == nil
		}
		return nil
	})
	if err == nil && missing {
		err = f.update(func(tx *bolt.Tx) error {
			for _, name := range laterBuckets() {
				if _, err := tx.CreateBucketIfNotExists([]byte(name)); err != nil {
					return err
				}
			}
			return nil
		})
	}
	if err == nil {
		err = sweep(f.path)
	}
	if err == nil && !f.options.KeyGiven {
		err = sweep(f.keyPath)
	}
	return err
}

func (o Options) bolt() *bolt.Options {
	b := boltfile.Options(o.Timeout)
	b.OpenFile = o.OpenFile
	return b
}

func openBolt(path string, o *bolt.Options) (*bolt.DB, error) {
	db, err := boltfile.Open(path, o)
	switch {
	case errors.Is(err, boltfile.ErrInUse):
		return nil, ErrInUse
	case errors.Is(err, boltfile.ErrForeign):
		return nil, fmt.Errorf("%w (%w)", ErrForeign, err)
	}
	return db, err
}

// create makes an empty file.
func create(path string, master masterKey) error {
	return boltfile.Make(path, func(tx *bolt.Tx) error { return populate(tx, master) })
}

func populate(tx *bolt.Tx, master masterKey) error {
	for _, name := range append(buckets(), laterBuckets()...) {
		if _, err := tx.CreateBucket([]byte(name)); err != nil {
			return err
		}
	}
	proofKey, err := master.derive(forProof)
	if err != nil {
		return err
	}
	proof, err := seal(proofKey, []byte(forProof), inMeta)
	if err != nil {
		return err
	}
	meta := tx.Bucket([]byte(inMeta))
	return errors.Join(
		meta.Put([]byte(metaFormat), binary.BigEndian.AppendUint32(nil, formatVersion)),
		meta.Put([]byte(metaProof), proof),
	)
}

// unlock finds the key that opens the file. With more in the key file a change of keys was cut short: the others stay
// until [File.Settle], since something else may still be sealed under a key that hangs on them.
func (f *File) unlock(keys []masterKey) error {
	var proof []byte
	err := f.db.View(func(tx *bolt.Tx) error {
		for _, name := range buckets() {
			if tx.Bucket([]byte(name)) == nil {
				return fmt.Errorf("%w: it has no bucket %s", ErrForeign, name)
			}
		}
		meta := tx.Bucket([]byte(inMeta))
		raw := meta.Get([]byte(metaFormat))
		if len(raw) != 4 {
			return fmt.Errorf("%w: it says no format", ErrForeign)
		}
		if format := binary.BigEndian.Uint32(raw); format > formatVersion {
			return fmt.Errorf("%w (format %d, this one reads up to %d)", ErrNewer, format, formatVersion)
		}
		proof = append(proof, meta.Get([]byte(metaProof))...)
		return nil
	})
	if err != nil {
		return err
	}
	for i, key := range keys {
		proofKey, err := key.derive(forProof)
		if err != nil {
			return err
		}
		if _, err := unseal(proofKey, proof, inMeta); err != nil {
			continue
		}
		f.spare = append(slices.Clone(keys[:i]), keys[i+1:]...)
		return f.use(key)
	}
	return fmt.Errorf("%w: %s", ErrKeyWrong, f.keyPath)
}

func (f *File) use(key masterKey) (err error) {
	f.master = key
	if f.wrap, err = key.derive(forWrapping); err != nil {
		return err
	}
	if f.index, err = key.derive(forIndex); err != nil {
		return err
	}
	if f.refuse, err = key.derive(forRefused); err != nil {
		return err
	}
	f.reads, err = key.derive(forReads)
	return err
}

// Close closes the file.
func (f *File) Close() error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.broken.isStuck() {
		return nil // bbolt may hold its locks for ever
	}
	if err := f.db.Close(); err != nil {
		return fmt.Errorf("close people file %s: %w", f.path, err)
	}
	return nil
}

// KeyFile is the path of the file with the master key.
func (f *File) KeyFile() string {
	f.mu.RLock()
	defer f.mu.RUnlock()
	return f.keyPath
}

// Count is how many records there are.
func (f *File) Count() (n int, err error) {
	f.mu.RLock()
	defer f.mu.RUnlock()
	err = f.db.View(func(tx *bolt.Tx) error {
		return tx.Bucket([]byte(inKeys)).ForEach(func(_, _ []byte) error { n++; return nil })
	})
	return n, err
}
