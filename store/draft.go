package store

import (
	"bytes"
	"fmt"
	"time"

	bolt "go.etcd.io/bbolt"
	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// draft is a batch in the making: what it read, what it changes, and what the next may start from.
type draft struct {
	l      *Ledger
	now    time.Time
	tx     *bolt.Tx // what is committed; only while it is prepared
	before *draft   // what is pending; nil when nothing is
	epoch  uint64
	after  chan struct{} // closed when what was prepared before it is done
	done   chan struct{}

	state                       // begins as the one before left it
	ids     map[eventKey]noted  // recorded here
	hashes  map[int64]tlog.Hash // of our origin's tree
	things  map[tracker.Name]*thing
	was     map[tracker.Name]index // of the things that it changes, before it did
	rows    []FlagChange           // for the log of flags
	touched int                    // cases and bags judged for events
	// unspelled are things whose snapshot has not been written down since they were judged, perhaps repeated.
	unspelled []*thing
	puts      []put
	count     struct{ recorded, repeats, refused, judged uint64 }
}

// noted is what is known of an id.
type noted struct {
	seq  uint64
	kept []byte // its verdict, if that raised or cleared something
	leaf []byte
}

// everyClinic is the sweep that judges all open things again.
const everyClinic = "*"

// clockStep is how far the clock may go back before what was judged in the time that did not come is judged again.
const clockStep = time.Minute

func (d *draft) start() {
	if d.before != nil {
		d.before.before = nil // what that one stood on is committed: there are at most two
	}
	d.things = map[tracker.Name]*thing{}
	d.was = map[tracker.Name]index{}
	if d.now.Add(clockStep).Before(d.state.now) {
		d.sweep(everyClinic)
	}
	d.state.now = d.now
}

func (d *draft) put(in bucket, key, value []byte) {
	d.puts = append(d.puts, put{in: in, key: key, value: value})
}

func (d *draft) drop(in bucket, key []byte) {
	d.puts = append(d.puts, put{in: in, key: key, gone: true})
}

func (d *draft) bucket(in bucket) *bolt.Bucket { return d.tx.Bucket([]byte(in.String())) }

// sweep has all open things of a clinic judged again in small steps, from the first on.
func (d *draft) sweep(clinic string) {
	d.sweeps = withSweep(d.sweeps, clinic, "")
	d.put(inSweeps, []byte(clinic), withSum(inSweeps, []byte(clinic), nil))
}

// thing finds a case or bag as the batches before left it, to be read.
func (d *draft) thing(n tracker.Name) *thing {
	if t := d.things[n]; t != nil {
		return t
	}
	if d.before != nil {
		if t := d.before.things[n]; t != nil {
			return t
		}
	}
	if t := d.l.cache.get(n); t != nil {
		return t
	}
	t := &thing{name: n}
	d.l.cache.put(t)
	return t
}

// load gives the events that concern a case or bag, those of this batch included.
func (d *draft) load(n tracker.Name) ([]*tracker.Event, error) {
	t := d.thing(n)
	if t.loaded {
		return t.events, nil
	}
	list, err := readConcerns(d.tx, n)
	if err != nil {
		return nil, err
	}
	t.events, t.loaded = list, true // in the cache, too: it is what is committed
	return t.events, nil
}

// judged gives the last judgement of a case or bag, or nil.
func (d *draft) judged(n tracker.Name) (*judged, error) {
	t := d.thing(n)
	if t.known {
		return t.state, nil
	}
	if raw := d.bucket(inThings).Get(snapshotKey(n)); raw != nil {
		var err error
		if t.state, err = decodeJudged(n, raw); err != nil {
			return nil, fmt.Errorf("%s: %w", n, err)
		}
	}
	t.known = true
	return t.state, nil
}

// own gives a case or bag to be changed: a copy, so that nothing is spoilt if the batch comes to nothing.
func (d *draft) own(n tracker.Name) (*thing, error) {
	if t := d.things[n]; t != nil {
		return t, nil
	}
	if _, err := d.load(n); err != nil {
		return nil, err
	}
	before, err := d.judged(n)
	if err != nil {
		return nil, err
	}
	x := before.index()
	if before != nil && before.version != foldVersion { // its shape is unknown, so are its places in the indexes
		if x, err = d.findIndex(n); err != nil {
			return nil, err
		}
	}
	t := *d.thing(n)
	t.events = t.events[:len(t.events):len(t.events)]
	d.things[n], d.was[n] = &t, x
	return &t, nil
}

// findIndex looks a thing up in the indexes the long way, after an upgrade of the fold.
func (d *draft) findIndex(n tracker.Name) (x index, err error) {
	x.open = d.bucket(inOpen).Get([]byte(n)) != nil
	c := d.bucket(inDue).Cursor()
	for key, _ := c.First(); key != nil && x.due == nil; key, _ = c.Next() {
		if len(key) > instantSize && tracker.Name(key[instantSize:]) == n {
			x.due = bytes.Clone(key)
		}
	}
	c = d.bucket(inFlagged).Cursor()
	for key, _ := c.First(); key != nil && x.flagged == nil; key, _ = c.Next() {
		if flaggedName(key) == n {
			x.flagged = bytes.Clone(key)
		}
	}
	return x, nil
}

// judge folds and checks a case or bag, without one event if that is given.
func (d *draft) judge(n tracker.Name, without *tracker.Event) (tracker.Judgement, law, error) {
	made := d.l.lawOf(d.laws, n.Clinic())
	gathered, err := tracker.Gather(n, func(n tracker.Name) ([]*tracker.Event, error) {
		list, err := d.load(n)
		if without == nil || err != nil {
			return list, err
		}
		kept := make([]*tracker.Event, 0, len(list))
		for _, e := range list {
			if e != without {
				kept = append(kept, e)
			}
		}
		return kept, nil
	})
	if err != nil {
		return tracker.Judgement{}, law{}, err
	}
	d.count.judged++
	j := tracker.Judge(n, gathered, made.rules, d.now)
	if wake := j.Findings.Wake; !wake.IsZero() && !wake.After(d.now) {
		j.Findings.Wake = d.now.Add(time.Second) // a fault in the rules must not keep the daemon from sleeping
	}
	return j, made, nil
}

// refresh judges a case or bag, without one event if that is given, notes how its flags changed, and gives the changes.
func (d *draft) refresh(n tracker.Name, without *tracker.Event) ([]events.FlagChange, error) {
	t, err := d.own(n)
	if err != nil {
		return nil, err
	}
	j, made, err := d.judge(n, without)
	if err != nil {
		return nil, err
	}
	var before []tracker.Flag
	if t.state != nil {
		before = t.state.Findings.Flags
	}
	changes := compareFlags(before, j.Findings.Flags)
	if err := d.withTwins(n, changes); err != nil {
		return nil, err
	}
	t.state = &judged{version: foldVersion, law: made.mark, Judgement: j}
	t.known = true
	d.unspelled = append(d.unspelled, t)
	for _, c := range changes {
		d.flagSeq++
		d.rows = append(d.rows, FlagChange{Seq: d.flagSeq, At: d.now, FlagChange: c})
	}
	return changes, nil
}

// complete turns what was changed into puts.
func (d *draft) complete() error {
	for n, t := range d.things {
		if t.state == nil {
			return fmt.Errorf("%w: %s was changed and not judged", ErrDamaged, n)
		}
		full, err := t.spelled()
		if err != nil {
			return err
		}
		was, err := d.rawBefore(n)
		if err != nil {
			return err
		}
		if !bytes.Equal(was, full.raw) {
			d.put(inThings, snapshotKey(n), full.raw)
		}
		d.reindex(n, d.was[n], full.index())
	}
	for _, row := range d.rows {
		d.put(inFlagLog, be64(row.Seq), flagLogValue(row.Seq, row.At, row.FlagChange))
	}
	for dropped := 0; d.flagSeq-d.flagFirst >= uint64(d.l.options.FlagLog) && d.flagSeq > d.flagFirst && dropped < 1000+len(d.rows); dropped++ {
		d.drop(inFlagLog, be64(d.flagFirst))
		d.flagFirst++
	}
	if len(d.puts) > 0 {
		d.put(inMeta, []byte(metaNow), withSum(inMeta, []byte(metaNow), appendInstant(nil, d.state.now)))
	}
	sortPuts(d.puts)
	return nil
}

// busy reports whether the batch before is still on its way to the disk.
func (d *draft) busy() bool {
	select {
	case <-d.after:
		return false
	default:
		return true
	}
}

// spell writes down the snapshots of what was judged. Done while the disk is busy it costs nobody time; should a thing
// be judged again in this batch, it is written down again.
func (d *draft) spell() error {
	for _, t := range d.unspelled {
		if _, err := t.spelled(); err != nil {
			return err
		}
	}
	d.unspelled = d.unspelled[:0]
	return nil
}

// spelled is the state of a thing that was judged in this batch, with the bytes to be stored.
func (t *thing) spelled() (*judged, error) {
	if t.state.raw == nil {
		full, err := encodeJudged(t.state.law, t.state.Judgement)
		if err != nil {
			return nil, err
		}
		t.state = full
	}
	return t.state, nil
}

// rawBefore is the snapshot as the batch found it.
func (d *draft) rawBefore(n tracker.Name) ([]byte, error) {
	if d.before != nil {
		if t := d.before.things[n]; t != nil {
			return t.state.raw, nil
		}
	}
	return d.bucket(inThings).Get(snapshotKey(n)), nil
}

func (d *draft) reindex(n tracker.Name, was, is index) {
	if !bytes.Equal(was.due, is.due) {
		if was.due != nil {
			d.drop(inDue, was.due)
		}
		if is.due != nil {
			d.put(inDue, is.due, nil)
		}
	}
	if !bytes.Equal(was.flagged, is.flagged) {
		if was.flagged != nil {
			d.drop(inFlagged, was.flagged)
		}
		if is.flagged != nil {
			d.put(inFlagged, is.flagged, nil)
		}
	}
	switch {
	case is.open && !was.open:
		d.put(inOpen, []byte(n), nil)
	case was.open && !is.open:
		d.drop(inOpen, []byte(n))
	}
}

// readConcerns reads the events that concern a case or bag, in ledger order.
func readConcerns(tx *bolt.Tx, n tracker.Name) ([]*tracker.Event, error) {
	return readConcernsKept(tx, n, nil)
}

// readConcernsKept is readConcerns with events that are decoded already, by seq-1.
func readConcernsKept(tx *bolt.Tx, n tracker.Name, kept []*tracker.Event) ([]*tracker.Event, error) {
	var list []*tracker.Event
	entries := tx.Bucket([]byte(inEntries.String()))
	prefix := concernPrefix(n)
	c := tx.Bucket([]byte(inThings.String())).Cursor()
	for key, _ := c.Seek(prefix); bytes.HasPrefix(key, prefix); key, _ = c.Next() {
		_, _, seq, ok := splitThingKey(key)
		if !ok {
			return nil, fmt.Errorf("%w: an index of %s", ErrDamaged, n)
		}
		if seq-1 < uint64(len(kept)) {
			list = append(list, kept[seq-1])
			continue
		}
		leaf := entries.Get(be64(seq))
		if leaf == nil {
			return nil, fmt.Errorf("%w: entry %d, about %s, is missing", ErrDamaged, seq, n)
		}
		e, err := Entry{Seq: seq, Leaf: leaf}.Event()
		if err != nil {
			return nil, fmt.Errorf("%w: entry %d, about %s: %w", ErrDamaged, seq, n, err)
		}
		list = append(list, e)
	}
	return list, nil
}

// compareFlags says what became of each flag between two judgements of one thing, in the order of the findings, what
// was cleared last.
func compareFlags(before, after []tracker.Flag) []events.FlagChange {
	var changes []events.FlagChange
	for i := range after {
		switch old := findFlag(before, &after[i]); {
		case old == nil:
			changes = append(changes, events.FlagChange{Change: events.ChangeRaised, Flag: after[i]})
		case !sameFlag(old, &after[i]):
			changes = append(changes, events.FlagChange{Change: events.ChangeChanged, Flag: after[i]})
		}
	}
	for i := range before {
		if findFlag(after, &before[i]) == nil {
			changes = append(changes, events.FlagChange{Change: events.ChangeCleared, Flag: before[i]})
		}
	}
	return changes
}

func findFlag(list []tracker.Flag, want *tracker.Flag) *tracker.Flag {
	for i := range list {
		if list[i].Kind == want.Kind && list[i].Item == want.Item {
			return &list[i]
		}
	}
	return nil
}

// sameFlag compares flags as people see them: instants by what they say, not by their zone.
func sameFlag(a, b *tracker.Flag) bool {
	x, y := *a, *b
	if !x.Since.Equal(y.Since) || !x.Due.Equal(y.Due) {
		return false
	}
	x.Since, y.Since, x.Due, y.Due = time.Time{}, time.Time{}, time.Time{}, time.Time{}
	return x == y
}
