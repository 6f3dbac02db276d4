package store

import (
	"bytes"
	"fmt"
	"maps"
	"sync"
	"sync/atomic"
	"time"

	bolt "go.etcd.io/bbolt"
	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/store/boltfile"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// Ledger is an open ledger. It is safe for concurrent use.
type Ledger struct {
	db       *bolt.DB
	path     string
	options  Options
	origin   string
	standard law                  // of clinics that adopted none
	free     func() (int64, bool) // bytes free on the disk

	slots chan struct{} // at most two batches at once: one on its way to the disk, one being prepared
	whole sync.Mutex    // held by whoever wants both slots
	prep  sync.Mutex    // held while a batch is prepared; guards cache
	cache *things
	// cacheEpoch is the epoch that the cache belongs to.
	cacheEpoch uint64

	mu      sync.Mutex // guards what follows; never held while reading or writing the file
	state   state      // as committed
	pending *draft     // prepared and not yet committed
	tail    chan struct{}
	epoch   uint64 // raised when a prepared batch came to nothing, so that what was prepared on it is prepared again
	fatal   error
	stuck   bool // bbolt panicked while committing
	closed  bool
	half    bool
	changed chan struct{}
	stats   Stats
	copies  map[string]byte // next copies given out and perhaps not yet recorded
	past    past            // has its own lock

	longest atomic.Int64 // nanoseconds of the longest reading transaction
}

// state is what a batch starts from; maps in it are shared and never changed.
type state struct {
	seq       uint64
	oseq      uint64 // of our origin
	recorded  time.Time
	now       time.Time // of the last judgement
	flagSeq   uint64
	flagFirst uint64 // the oldest kept
	laws      map[string]law
	sweeps    map[string]string
	serials   map[string]int
	putBacks  []PutBack
}

// Open opens the ledger at path, and makes it when there is none. What cannot be opened is not changed: the error is
// [ErrInUse], [ErrForeign] or [ErrNewer] in a sentence, or what the system said.
func Open(path string, o Options) (*Ledger, error) {
	o = o.withDefaults()
	l := &Ledger{path: path, options: o, slots: make(chan struct{}, 2), cache: newThings(o.Cached),
		changed: make(chan struct{}), copies: map[string]byte{}}
	l.tail = make(chan struct{})
	close(l.tail)
	l.free = func() (int64, bool) { return freeBytes(path) }
	var err error
	if l.standard, err = makeLaw(protocol.Default(), o.Zones); err != nil {
		return nil, fmt.Errorf("the default protocol: %w", err)
	}
	back := boltfile.FaultsPanic()
	defer back()
	if o.ReadOnly {
		return l, l.openReadOnly()
	}
	if l.db, err = openFile(path, o); err != nil {
		return nil, err
	}
	refile, err := l.begin()
	if err == nil && refile {
		err = l.keepBefore()
	}
	if err == nil && refile {
		err = l.Rebuild(l.state.now, nil)
	}
	if err != nil {
		_ = l.db.Close()
		return nil, fmt.Errorf("open ledger %s: %w", path, err)
	}
	return l, nil
}

// filedSince is the first version of the fold whose ledgers file events under the days of rooms and the cases that others
// repeat. What is derived in an older one is made anew when it is opened.
const filedSince = 2

// begin reads the state and looks at the end of the ledger. Refile says that its events are filed as of old.
func (l *Ledger) begin() (refile bool, err error) {
	defer boltfile.Guard(func(fault any) { err = fmt.Errorf("%w: %v", ErrForeign, fault) })
	old := false
	err = l.db.View(func(tx *bolt.Tx) error {
		h := readHead(tx)
		l.origin, l.half, l.state.now = h.origin, h.building, h.now
		if h.told {
			old, refile = h.fold != foldVersion, h.fold < filedSince
		}
		if l.origin == "" {
			return fmt.Errorf("%w: it does not say which node's log it keeps", ErrDamaged)
		}
		err := l.readState(tx)
		if l.options.Rebuilding {
			l.half, refile = true, false
			return nil // reading the state again at the end of the rebuild tells
		}
		if err != nil {
			return err
		}
		if l.half {
			return nil
		}
		return l.checkTail(tx)
	})
	if err != nil || !old || l.half || refile { // a half-built one is as new when it is rebuilt
		return refile && !l.half, err
	}
	if err := l.keepBefore(); err != nil {
		return false, err
	}
	return false, l.change(time.Time{}, func(d *draft) error { // what is open is judged again, in small steps
		d.put(inMeta, []byte(metaFold), foldValue(foldVersion))
		d.sweep(everyClinic)
		return nil
	})
}

func (l *Ledger) readState(tx *bolt.Tx) (err error) {
	s := &l.state
	key, leaf := tx.Bucket([]byte(inEntries.String())).Cursor().Last()
	if key != nil {
		s.seq = num64(key)
		e, err := Entry{Seq: s.seq, Leaf: leaf}.Event()
		if err != nil {
			return fmt.Errorf("%w: entry %d: %w", ErrDamaged, s.seq, err)
		}
		s.recorded = e.Record.Recorded
	}
	if s.oseq, err = lastOfOrigin(tx, l.origin); err != nil {
		return err
	}
	log := tx.Bucket([]byte(inFlagLog.String())).Cursor()
	if key, _ := log.First(); key != nil {
		s.flagFirst = num64(key)
	} else {
		s.flagFirst = 1
	}
	if key, _ := log.Last(); key != nil {
		s.flagSeq = num64(key)
	}
	if s.putBacks, err = readPutBacks(tx.Bucket([]byte(inMeta.String())).Get([]byte(metaPutBack))); err != nil {
		return err
	}
	if s.laws, err = l.readLaws(tx); err != nil {
		return err
	}
	s.sweeps, s.serials = map[string]string{}, map[string]int{}
	err = tx.Bucket([]byte(inSweeps.String())).ForEach(func(key, value []byte) error {
		last, err := cutSum(inSweeps, key, value, 0)
		s.sweeps[string(key)] = string(last)
		return err
	})
	if err != nil {
		return err
	}
	return tx.Bucket([]byte(inSerials.String())).ForEach(func(key, value []byte) error {
		last, err := readSerial(key, value)
		s.serials[string(key)] = last
		return err
	})
}

// tailLength is how many of the last entries are looked at when a ledger is opened. The whole of it is looked at by
// [Ledger.Check] alone.
const tailLength = 64

// checkTail looks at the last entries: gapless, readable, and the very bytes that were hashed.
func (l *Ledger) checkTail(tx *bolt.Tx) error {
	entries := tx.Bucket([]byte(inEntries.String()))
	tree := tx.Bucket([]byte(inTree.String()))
	for seq := l.state.seq; seq > 0 && l.state.seq-seq < tailLength; seq-- {
		leaf := entries.Get(be64(seq))
		if leaf == nil {
			return fmt.Errorf("%w: entry %d is missing", ErrDamaged, seq)
		}
		e, err := Entry{Seq: seq, Leaf: leaf}.Event()
		if err != nil {
			return fmt.Errorf("%w: entry %d: %w", ErrDamaged, seq, err)
		}
		want := tlog.RecordHash(leaf)
		key := originKey(e.Record.Origin, uint64(tlog.StoredHashIndex(0, int64(e.Record.OSeq)-1)))
		if !bytes.Equal(tree.Get(key), want[:]) {
			return fmt.Errorf("%w: entry %d is not what was hashed", ErrDamaged, seq)
		}
	}
	return nil
}

// Close waits for what is being written and closes the file. Everything afterwards fails with [ErrClosed].
func (l *Ledger) Close() error {
	defer l.alone()()
	l.mu.Lock()
	closed := l.closed || l.stuck
	l.closed = true
	l.mu.Unlock()
	if closed {
		return nil
	}
	if err := l.db.Close(); err != nil {
		return fmt.Errorf("close ledger %s: %w", l.path, err)
	}
	return nil
}

// alone waits until no batch is under way and lets none begin until the returned function is called.
func (l *Ledger) alone() (back func()) {
	l.whole.Lock()
	l.slots <- struct{}{}
	l.slots <- struct{}{}
	return func() {
		<-l.slots
		<-l.slots
		l.whole.Unlock()
	}
}

// Origin is the name of this node's log.
func (l *Ledger) Origin() string { return l.origin }

// Last is the position of the last entry and when it was recorded; zero for an empty ledger.
func (l *Ledger) Last() (seq uint64, recorded time.Time) {
	s := l.current()
	return s.seq, s.recorded
}

// HalfBuilt reports whether a rebuild did not finish: [Ledger.Rebuild] must be called before anything is recorded.
func (l *Ledger) HalfBuilt() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.half
}

// Changed gives a channel that is closed at the next commit. Ask for it before reading, so that nothing between is
// missed.
func (l *Ledger) Changed() <-chan struct{} {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.changed
}

// Stats are figures for metrics.
func (l *Ledger) Stats() Stats {
	l.mu.Lock()
	s := l.stats
	s.Entries = l.state.seq
	closed := l.closed
	l.mu.Unlock()
	s.LongestRead = time.Duration(l.longest.Load())
	s.DiskFree = -1
	if free, ok := l.free(); ok {
		s.DiskFree = free
	}
	if !closed {
		_ = l.view(func(tx *bolt.Tx) error {
			s.FileBytes = tx.Size()
			return nil
		})
	}
	return s
}

func (l *Ledger) current() state {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.state
}

// view reads what is committed, in a short transaction. Nothing read may be kept without a copy.
func (l *Ledger) view(fn func(tx *bolt.Tx) error) (err error) {
	l.mu.Lock()
	closed := l.closed
	l.mu.Unlock()
	if closed {
		return ErrClosed
	}
	back := boltfile.FaultsPanic()
	defer back()
	defer boltfile.Guard(func(fault any) { err = fmt.Errorf("%w: %v", ErrDamaged, fault) })
	start := time.Now() // of the machine: a measure of the reading, and of nothing else
	err = l.db.View(fn)
	for took := int64(time.Since(start)); ; {
		if longest := l.longest.Load(); took <= longest || l.longest.CompareAndSwap(longest, took) {
			return err
		}
	}
}

func withSweep(sweeps map[string]string, clinic, cursor string) map[string]string {
	changed := maps.Clone(sweeps)
	changed[clinic] = cursor
	return changed
}

func withoutSweep(sweeps map[string]string, clinic string) map[string]string {
	changed := maps.Clone(sweeps)
	delete(changed, clinic)
	return changed
}
