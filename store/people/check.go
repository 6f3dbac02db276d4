package people

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io/fs"
	"strings"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/boltfile"
)

// Fault is one thing that [File.Check] found wrong. Nothing in it tells who a patient is.
type Fault struct {
	Part   string // "file", "record", "index", "refused", "head"
	Text   string // what is wrong, a sentence
	Remedy string // what to do about it
}

// OpenToRead opens a people file without changing a byte of it or of its key file, and without making either: for looking
// at it while nobody has it open. Errors are those of [Open].
func OpenToRead(path, keyPath string, o Options) (*File, error) {
	f := &File{path: path, keyPath: keyPath, options: o}
	keys, err := readKeys(keyPath, o.KeyGiven)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("open people file %s: %w: put %s back from its backup", path, ErrKeyMissing, keyPath)
	case err != nil:
		return nil, fmt.Errorf("open people file %s: key file %s: %w", path, keyPath, err)
	}
	if f.db, err = openBolt(path, boltfile.ReadOnly(o.Timeout)); err == nil {
		if err = f.unlock(keys); err != nil {
			_ = f.db.Close()
		}
	}
	if err != nil {
		return nil, fmt.Errorf("open people file %s: %w", path, err)
	}
	return f, nil
}

const (
	putBack  = "Copy the data folder first, then put the last backup of the people file back. The ledger is not touched by this."
	newIndex = "The record itself is whole: enter the patient's particulars again, and the index has them."
)

// Check opens every record and every refused message, and holds the index against the records. Each fault goes to report;
// progress may be nil. What a damaged page makes of it is an error.
func (f *File) Check(ctx context.Context, report func(Fault), progress func(done, total uint64)) error {
	f.mu.RLock()
	defer f.mu.RUnlock()
	return boltfile.View(f.db, func(tx *bolt.Tx) error {
		c := &checkup{ctx: ctx, f: f, tx: tx, report: report, progress: progress, marks: map[string]bool{}}
		return errors.Join(c.records(), c.index(), c.refused(), c.reads())
	})
}

type checkup struct {
	ctx      context.Context
	f        *File
	tx       *bolt.Tx
	report   func(Fault)
	progress func(done, total uint64)
	marks    map[string]bool // that the index should have
	closed   bool            // some record cannot be opened, so that its place in the index is not known
}

func (c *checkup) records() error {
	records, keys := c.tx.Bucket([]byte(inRecords)), c.tx.Bucket([]byte(inKeys))
	total, done := uint64(records.Stats().KeyN), uint64(0)
	err := records.ForEach(func(key, _ []byte) error {
		ref := string(key)
		p, ok, err := c.f.read(c.tx, ref)
		switch {
		case err != nil:
			c.closed = true
			c.report(Fault{"record", fmt.Sprintf("The record of the patient %s cannot be opened: it or its key was changed.", plainRef(ref)), putBack})
		case !ok:
			c.closed = true
			c.report(Fault{"record", fmt.Sprintf("The record of the patient %s has no key, so nobody can open it.", plainRef(ref)), putBack})
		}
		for _, mark := range c.f.marks(p) {
			c.marks[string(append(mark, ref...))] = true
		}
		if done++; c.progress != nil && done%100 == 0 {
			c.progress(done, total)
		}
		return c.ctx.Err()
	})
	if err != nil {
		return err
	}
	return keys.ForEach(func(key, _ []byte) error {
		if records.Get(key) == nil {
			c.report(Fault{"record", fmt.Sprintf("There is a key for the patient %s, and no record.", plainRef(string(key))), putBack})
		}
		return nil
	})
}

func (c *checkup) index() error {
	index := c.tx.Bucket([]byte(inIndex))
	for mark := range c.marks {
		if found, _ := index.Cursor().Seek([]byte(mark)); !bytes.Equal(found, []byte(mark)) {
			c.report(Fault{"index", fmt.Sprintf("The patient %s is not found by one of the numbers or names on record.", plainRef(mark[min(len(mark), markSize):])), newIndex})
		}
	}
	if c.closed || index.Stats().KeyN == len(c.marks) {
		return nil
	}
	return index.ForEach(func(key, _ []byte) error {
		if !c.marks[string(key)] {
			c.report(Fault{"index", "The index leads from a number or a name to a patient who does not have it.", putBack})
		}
		return nil
	})
}

func (c *checkup) refused() error {
	size := uint64(0)
	err := c.tx.Bucket([]byte(inRefused)).ForEach(func(key, sealed []byte) error {
		size += uint64(len(sealed))
		if _, err := c.f.openRefused(key, sealed); err != nil || len(key) != 8 {
			c.report(Fault{"refused", fmt.Sprintf("Refused message %d cannot be opened: it was changed.", be64of(key)), "Nothing that was recorded hangs on it. Put the last backup of the people file back if that message matters."})
		}
		return nil
	})
	if kept := readCount(c.tx.Bucket([]byte(inMeta)), metaBytes); err == nil && kept != size {
		c.report(Fault{"head", "The count of what the refused messages take up is wrong.", "Nothing is lost: it is right again when the oldest have made way."})
	}
	return err
}

// reads opens the notes of who read what.
func (c *checkup) reads() error {
	b := c.tx.Bucket([]byte(inReads))
	if b == nil {
		return nil // a file from before there were any
	}
	return b.ForEach(func(key, sealed []byte) error {
		if _, err := unseal(c.f.reads, sealed, inReads+string(key)); err != nil {
			c.report(Fault{"reads", fmt.Sprintf("Note %d of who read what cannot be opened: it was changed.", be64of(key)), putBack})
		}
		return nil
	})
}

func be64of(key []byte) uint64 {
	if len(key) != 8 {
		return 0
	}
	return binary.BigEndian.Uint64(key)
}

// markSize is the length of a blinded entry, in bytes.
const markSize = 32

// plainRef shows a ref that this program made; one that came from elsewhere may hold anything.
func plainRef(ref string) string {
	if len(ref) == 2*refSize && strings.Trim(ref, "0123456789abcdef") == "" {
		return ref
	}
	return "of a ref that was not made here"
}
