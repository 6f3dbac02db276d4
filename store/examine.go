package store

import (
	"context"
	"errors"
	"fmt"
	"sync"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/events/evidence"
	"github.com/pottrail/pottrail/store/boltfile"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// ExamineOptions say how a ledger's file is looked at. The zero value looks at everything and tells nobody.
type ExamineOptions struct {
	// Quick looks at the end only: the last Recent entries, then what was recorded since the program last stopped in good
	// order, newest first, and how the pages hang together, both until the context ends.
	Quick bool
	// Recent is how many entries a quick look takes at least. Zero means 1,000.
	Recent uint64
	// Report is called with each finding, one after the other.
	Report func(Finding)
	// Progress is called now and then: what is being looked at, how much of it is done.
	Progress func(stage string, done, total uint64)
	// Others are checkpoints that are known beside those in the ledger; Keys are this node's public ones, so that a checkpoint
	// that was changed is told from a record that was.
	Others []evidence.Kept
	Keys   []string
	// Paper is a checkpoint of this node's log as it is printed, see [evidence.Checkpoint.Short]; "" when there is none.
	Paper string
	// NoHashes leaves out what finds most, the hashes of entries. It is for showing that tests notice.
	NoHashes bool
	// Options are those of [Open], as far as they matter for reading.
	Options Options
}

// Examined says what was looked at.
type Examined struct {
	Origin   string `json:"origin,omitzero"`
	Entries  uint64 `json:"entries"` // in the ledger
	Looked   uint64 `json:"looked"`  // at so many of them
	Things   uint64 `json:"things"`  // cases, bags and days of rooms that were judged anew
	Pages    uint64 `json:"pages"`   // of the file that were looked at
	Findings uint64 `json:"findings"`
	// Sound says that the pages of the file hang together, as far as they were looked at, so that reading it is safe.
	Sound bool `json:"sound"`
}

// Examine looks at the file of a ledger that nobody has open, without changing a byte of it: everything that [Ledger.Check]
// recomputes. What is wrong with it goes to [ExamineOptions.Report]; an error says that it could not be looked at:
// [ErrInUse], [ErrForeign] for a file that is no ledger, [ErrNewer], the system's, the context's.
//
// A damaged file can end the process that reads it, whatever is done here: whoever must go on calls it in another process.
func Examine(ctx context.Context, path string, o ExamineOptions) (out Examined, err error) {
	if o.Recent == 0 {
		o.Recent = 1000
	}
	if o.Options.MapSize == 0 {
		o.Options.MapSize = 1 << 20 // nothing will be added
	}
	options := o.Options.withDefaults()
	options.Mend = true // a protocol that this release cannot use is no damage
	l := &Ledger{path: path, options: options, slots: make(chan struct{}, 2), cache: newThings(1), changed: make(chan struct{}), copies: map[string]byte{}}
	if l.standard, err = makeLaw(protocol.Default(), options.Zones); err != nil {
		return out, fmt.Errorf("the default protocol: %w", err)
	}
	var telling sync.Mutex
	k := &checkup{ctx: ctx, l: l, progress: o.Progress, noHashes: o.NoHashes, others: o.Others, keys: o.Keys, paper: o.Paper, report: func(f Finding) {
		telling.Lock()
		defer telling.Unlock()
		out.Findings++
		if o.Report != nil {
			o.Report(f)
		}
	}}
	if l.db, err = openToRead(path, options); err != nil {
		return out, err
	}
	defer func() { err = errors.Join(err, l.db.Close()) }()
	walk, err := boltfile.WalkPages(ctx, path, func(done, total uint64) { k.tell("pages", done, total) })
	if err != nil && !(o.Quick && ctx.Err() != nil) {
		return out, fmt.Errorf("examine %s: %w", path, err)
	}
	out.Pages, out.Sound = walk.Done, walk.Pages == nil
	k.pages(walk)
	if !out.Sound {
		return out, nil
	}
	err = l.view(func(tx *bolt.Tx) error {
		if missing := lacking(tx); missing != "" {
			k.fault(PartFile, "", "The file is no whole ledger: its part %q is missing.", missing)
			return nil
		}
		h := readHead(tx)
		l.origin, l.half, l.state.now = h.origin, h.building, h.now
		_ = l.readState(tx) // as far as it comes; what is wrong is found below
		k.state, k.tx = l.state, tx
		k.unfiled = h.told && h.fold < filedSince
		out.Origin, out.Entries = l.origin, lastSeq(tx)
		if o.Quick {
			return k.recent(o.Recent, h.stopped)
		}
		return k.run(tx)
	})
	out.Looked, out.Things = k.counts[inEntries], k.things
	if err != nil {
		return out, fmt.Errorf("examine %s: %w", path, err)
	}
	return out, nil
}

// openToRead opens a ledger's file without writing to it.
func openToRead(path string, o Options) (*bolt.DB, error) {
	b := o.bolt()
	b.ReadOnly = true
	return openWith(path, b)
}

// lacking is the first part of a ledger that a file does not have.
func lacking(tx *bolt.Tx) string {
	for b := range bucketCount {
		if tx.Bucket([]byte(b.String())) == nil && !b.optional() {
			return b.String()
		}
	}
	return ""
}

// openReadOnly opens a ledger for [Options.ReadOnly].
func (l *Ledger) openReadOnly() (err error) {
	if l.db, err = openToRead(l.path, l.options); err != nil {
		return err
	}
	err = l.view(func(tx *bolt.Tx) error {
		if missing := lacking(tx); missing != "" {
			return fmt.Errorf("%w: its part %s is missing", ErrForeign, missing)
		}
		h := readHead(tx)
		l.origin, l.half, l.state.now = h.origin, h.building, h.now
		l.options.Mend = true // a protocol that this release cannot use is no reason to show nothing
		_ = l.readState(tx)   // as far as it comes: a check has told what is wrong
		return nil
	})
	if err != nil {
		_ = l.db.Close()
		return fmt.Errorf("open ledger %s to read: %w", l.path, err)
	}
	return nil
}
