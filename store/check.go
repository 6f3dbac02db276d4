package store

import (
	"bytes"
	"errors"
	"fmt"
	"time"

	bolt "go.etcd.io/bbolt"
	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// mostFaults is how many faults a check tells before it stops.
const mostFaults = 20

// Check recomputes every hash, index and snapshot from the entries and says what does not fit, with [ErrDamaged]. It
// changes nothing, and lets nothing be recorded while it runs. Snapshots that are due to be judged again are not
// compared.
func (l *Ledger) Check() error {
	defer l.alone()()
	k := &checkup{l: l, state: l.current()}
	err := l.view(k.run)
	if err != nil {
		k.fault("%w", err)
	}
	if len(k.faults) == 0 {
		return nil
	}
	return fmt.Errorf("check of %s: %w:\n%w", l.path, ErrDamaged, errors.Join(k.faults...))
}

type checkup struct {
	l      *Ledger
	state  state
	tx     *bolt.Tx
	faults []error
	counts [bucketCount]uint64 // keys that should be there
}

func (k *checkup) fault(format string, args ...any) {
	if len(k.faults) < mostFaults {
		k.faults = append(k.faults, fmt.Errorf(format, args...))
	}
}

func (k *checkup) bucket(in bucket) *bolt.Bucket { return k.tx.Bucket([]byte(in.String())) }

// expect looks for a key, and for its value if that is not nil.
func (k *checkup) expect(in bucket, key, value []byte, what string, args ...any) {
	k.counts[in]++
	found, at := k.bucket(in).Cursor().Seek(key)
	switch {
	case !bytes.Equal(found, key):
		k.fault("%s: %s is missing", in, fmt.Sprintf(what, args...))
	case value != nil && !bytes.Equal(at, value):
		k.fault("%s: %s is another", in, fmt.Sprintf(what, args...))
	}
}

func (k *checkup) run(tx *bolt.Tx) error {
	k.tx = tx
	if err := checkPages(k.l.path); err != nil {
		k.fault("file: %w", err)
		return nil // what follows would read damaged pages
	}
	for err := range tx.Check() {
		k.fault("file: %w", err)
	}
	if len(k.faults) > 0 {
		return nil
	}
	if err := k.entries(); err != nil {
		return err
	}
	if k.l.HalfBuilt() {
		return nil
	}
	if err := k.things(); err != nil {
		return err
	}
	if err := k.flagLog(); err != nil {
		return err
	}
	for _, in := range []bucket{inEntries, inRuns, inIDs, inTree, inThings, inDue, inOpen, inFlagged, inProtocols} {
		if n := uint64(k.bucket(in).Stats().KeyN); n != k.counts[in] {
			k.fault("%s: %d keys, %d should be there", in, n, k.counts[in])
		}
	}
	return nil
}

// entries goes through the ledger and what is filed by entry.
func (k *checkup) entries() error {
	last := map[string]uint64{}
	recorded := map[string]time.Time{}
	hashes := map[string][]tlog.Hash{}
	lastRun := ""
	c := k.bucket(inEntries).Cursor()
	for key, leaf := c.First(); key != nil; key, leaf = c.Next() {
		k.counts[inEntries]++
		seq := num64(key)
		if seq != k.counts[inEntries] {
			k.fault("entries: %d is missing", k.counts[inEntries])
			return nil
		}
		e, err := Entry{Seq: seq, Leaf: leaf}.Event()
		if err != nil {
			k.fault("entry %d: %w", seq, err)
			continue
		}
		if !bytes.Equal(events.AppendStored(nil, e), leaf) {
			k.fault("entry %d is not in its one spelling", seq)
		}
		r := e.Record
		if r.OSeq != last[r.Origin]+1 {
			k.fault("entry %d is number %d of %s, after %d", seq, r.OSeq, r.Origin, last[r.Origin])
		}
		if r.Recorded.Before(recorded[r.Origin]) {
			k.fault("entry %d was recorded before the one before it", seq)
		}
		last[r.Origin], recorded[r.Origin] = r.OSeq, r.Recorded
		made, err := tlog.StoredHashes(int64(r.OSeq-1), leaf, tlog.HashReaderFunc(func(indexes []int64) ([]tlog.Hash, error) {
			out := make([]tlog.Hash, len(indexes))
			for i, x := range indexes {
				out[i] = hashes[r.Origin][x]
			}
			return out, nil
		}))
		if err != nil {
			return err
		}
		for _, h := range made {
			k.expect(inTree, originKey(r.Origin, uint64(len(hashes[r.Origin]))), h[:], "a hash of entry %d", seq)
			hashes[r.Origin] = append(hashes[r.Origin], h)
		}
		if r.Origin != lastRun {
			k.expect(inRuns, originKey(r.Origin, r.OSeq), be64(seq), "the stretch from entry %d", seq)
			lastRun = r.Origin
		}
		k.filed(e)
	}
	return nil
}

func (k *checkup) filed(e *tracker.Event) {
	seq := e.Record.Seq
	id, err := keyOf(e.ID)
	if err != nil {
		k.fault("entry %d: id: %w", seq, err)
		return
	}
	k.counts[inIDs]++
	kept := k.bucket(inIDs).Get(id[:])
	if !bytes.HasPrefix(kept, be64(seq)) {
		k.fault("ids: the id of entry %d is missing or another's", seq)
	} else if _, err := (noted{seq: seq, kept: kept[8:]}).verdict(e.ID); err != nil {
		k.fault("ids: %w", err)
	}
	for _, n := range tracker.WatchedBy(e) {
		k.expect(inThings, concernKey(n, seq), nil, "that entry %d concerns %s", seq, n)
	}
	if e.Kind == tracker.KindProtocolAdopted {
		k.expect(inProtocols, protocolKey(e.Clinic, e.When(), id), be64(seq), "the adoption of entry %d", seq)
	}
}

// things compares snapshots and their places in the indexes with fresh judgements.
func (k *checkup) things() error {
	var names []tracker.Name
	c := k.bucket(inThings).Cursor()
	for key, _ := c.First(); key != nil; key, _ = c.Next() {
		n, _, _, ok := splitThingKey(key)
		if !ok {
			k.fault("things: a key of %d bytes that names nothing", len(key))
			continue
		}
		if len(names) == 0 || names[len(names)-1] != n {
			names = append(names, n)
		}
	}
	for len(names) > 0 {
		page := names[:min(len(names), rebuildThings)]
		names = names[len(page):]
		fresh, err := k.l.judgeAll(page, k.state.laws, k.state.now, nil)
		if err != nil {
			return err
		}
		for i, n := range page {
			k.snapshot(n, fresh[i])
		}
	}
	return nil
}

func (k *checkup) snapshot(n tracker.Name, fresh *judged) {
	raw := k.bucket(inThings).Get(snapshotKey(n))
	if raw == nil {
		k.fault("things: the snapshot of %s is missing", n)
		return
	}
	k.counts[inThings]++
	have, err := decodeJudged(raw)
	if err != nil {
		k.fault("things: %s: %w", n, err)
		return
	}
	if have.version != foldVersion {
		return
	}
	made := k.l.lawOf(k.state.laws, n.Clinic())
	if !have.stale(made.mark, k.state.now) && len(k.state.sweeps) == 0 && !bytes.Equal(raw, fresh.raw) {
		k.fault("things: the snapshot of %s is not what its events give:\n  kept  %s\n  fresh %s", n, raw[snapshotHead:], fresh.raw[snapshotHead:])
	}
	x := have.index()
	if x.due != nil {
		k.expect(inDue, x.due, nil, "the wake of %s", n)
	}
	if x.flagged != nil {
		k.expect(inFlagged, x.flagged, nil, "the flags of %s", n)
	}
	if x.open {
		k.expect(inOpen, []byte(n), nil, "%s", n)
	}
}

// flagLog looks for gaps, and plays the log, where it is whole, against what is flagged.
func (k *checkup) flagLog() error {
	type flag struct {
		kind tracker.FlagKind
		item tracker.Name
		of   tracker.Name
	}
	open := map[flag]tracker.Flag{}
	next := k.state.flagFirst
	err := k.bucket(inFlagLog).ForEach(func(key, value []byte) error {
		if num64(key) != next {
			k.fault("flaglog: row %d is missing", next)
		}
		next = num64(key) + 1
		if len(value) < instantSize {
			k.fault("flaglog: row %d has no instant", num64(key))
			return nil
		}
		c, err := events.DecodeFlagChange(value[instantSize:])
		if err != nil {
			k.fault("flaglog: row %d: %w", num64(key), err)
			return nil
		}
		at := flag{c.Flag.Kind, c.Flag.Item, c.Flag.Case}
		if c.Change == events.ChangeCleared {
			delete(open, at)
		} else {
			open[at] = c.Flag
		}
		return nil
	})
	if err != nil || k.state.flagFirst != 1 {
		return err
	}
	as := map[flag]bool{} // whether a flag was told as it is; of two twins, as one of them is
	err = k.bucket(inFlagged).ForEach(func(key, _ []byte) error {
		j, err := decodeJudged(k.bucket(inThings).Get(snapshotKey(flaggedName(key))))
		if err != nil {
			return err
		}
		for _, f := range j.Findings.Flags {
			at := flag{f.Kind, f.Item, f.Case}
			told, ok := open[at]
			as[at] = as[at] || ok && sameFlag(&told, &f)
		}
		return nil
	})
	for at, told := range as {
		if !told {
			k.fault("flaglog: %s on %s was never told as it is", at.kind, at.item)
		}
	}
	return err
}
