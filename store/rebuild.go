package store

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	bolt "go.etcd.io/bbolt"
	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/store/boltfile"
	"github.com/pottrail/pottrail/tracker"
)

const (
	// rebuildEntries and rebuildThings are how many are worked on in one transaction of a rebuild.
	rebuildEntries = 4000
	rebuildThings  = 1000
	// rebuildKept is how many decoded events a rebuild keeps between its two passes; with more it decodes them twice,
	// to bound its memory.
	rebuildKept = 200_000

	// inWas is a bucket that is there during a rebuild: what was flagged before it.
	inWas = "was"
)

// derived are the buckets that a rebuild empties. Ids are gone through one by one, since the verdicts kept in them are
// answers that were given.
func derived() []bucket {
	return []bucket{inRuns, inTree, inThings, inDue, inOpen, inFlagged, inProtocols, inSweeps}
}

// Rebuild throws away everything derived and makes it again from the entries, judged at now. Progress, if not nil, is
// called now and then. It needs the ledger to itself: recording waits until it is done. One that did not finish leaves
// the ledger [Ledger.HalfBuilt].
func (l *Ledger) Rebuild(now time.Time, progress func(done, total uint64)) error {
	defer l.alone()()
	l.prep.Lock()
	defer l.prep.Unlock()
	l.mu.Lock()
	err := l.refusesLocked()
	if err == nil || errors.Is(err, ErrHalfBuilt) {
		l.half, err = true, nil
	}
	l.mu.Unlock()
	if err != nil {
		return fmt.Errorf("rebuild: %w", err)
	}
	r := &rebuilding{l: l, now: now.Round(0).UTC(), progress: progress}
	if err := r.run(); err != nil {
		return fmt.Errorf("rebuild: %w", err)
	}
	return nil
}

type rebuilding struct {
	l        *Ledger
	now      time.Time
	progress func(done, total uint64)
	total    uint64 // twice the entries: each is filed, then judged
	done     uint64
	laws     map[string]law
	last     map[string]uint64 // oseq by origin
	lastRun  string            // origin of the entry before
	kept     []*tracker.Event  // by seq-1, while there are few
}

func (r *rebuilding) run() (err error) {
	back := boltfile.FaultsPanic()
	defer back()
	defer boltfile.Guard(func(fault any) { err = fmt.Errorf("%w: %v", ErrDamaged, fault) })
	if err := r.l.view(r.unaltered); err != nil {
		return err
	}
	if err := r.l.db.Update(r.clear); err != nil {
		return err
	}
	if err := r.file(); err != nil {
		return err
	}
	err = r.l.db.View(func(tx *bolt.Tx) (err error) {
		r.laws, err = r.l.readLaws(tx)
		return err
	})
	if err != nil {
		return err
	}
	if err := r.judge(); err != nil {
		return err
	}
	if err := r.l.db.Update(r.end); err != nil {
		return err
	}
	r.tell(r.total)
	return r.l.reread()
}

func (r *rebuilding) tell(done uint64) {
	r.done = min(done, r.total)
	if r.progress != nil {
		r.progress(r.done, r.total)
	}
}

// unaltered makes sure that no entry was changed since it was hashed: hashes made anew would hide it.
func (r *rebuilding) unaltered(tx *bolt.Tx) error {
	if tx.Bucket([]byte(inWas)) != nil {
		return nil // a rebuild was cut short, which looked before it began
	}
	runs, err := readRuns(tx, lastSeq(tx))
	if err != nil {
		return nil // then no entry's place is known; the stretches are made anew
	}
	k := &checkup{l: r.l, tx: tx, runs: runs}
	return tx.Bucket([]byte(inEntries.String())).ForEach(func(key, leaf []byte) error {
		at := Finding{Seq: num64(key)}
		at.Origin, at.OSeq = k.placeOf(at.Seq)
		made := tlog.RecordHash(leaf)
		if k.stored(at.Origin, at.OSeq) == made {
			return nil
		}
		if e, err := (Entry{Seq: at.Seq, Leaf: leaf}).Event(); err == nil { // the stretches may be what is wrong
			at.Origin, at.OSeq = e.Record.Origin, e.Record.OSeq
		}
		if kept := k.stored(at.Origin, at.OSeq); kept != (tlog.Hash{}) && kept != made && k.above(at, kept) {
			return fmt.Errorf("%w: entry %d is not what was recorded, and hashes made anew would hide that: put the last backup back", ErrDamaged, at.Seq)
		}
		return nil
	})
}

// clear empties what is derived, and keeps aside what was flagged.
func (r *rebuilding) clear(tx *bolt.Tx) error {
	r.total = 2 * lastSeq(tx)
	meta := tx.Bucket([]byte(inMeta.String()))
	if tx.Bucket([]byte(inWas)) == nil { // else it is there from a rebuild that did not finish
		was, err := tx.CreateBucket([]byte(inWas))
		if err != nil {
			return err
		}
		things := tx.Bucket([]byte(inThings.String()))
		err = tx.Bucket([]byte(inFlagged.String())).ForEach(func(key, _ []byte) error {
			n := flaggedName(key)
			if raw := things.Get(snapshotKey(n)); n != "" && raw != nil {
				return was.Put([]byte(n), raw)
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	for _, b := range derived() {
		if err := tx.DeleteBucket([]byte(b.String())); err != nil {
			return err
		}
		if _, err := tx.CreateBucket([]byte(b.String())); err != nil {
			return err
		}
	}
	return meta.Put([]byte(metaBuilding), []byte{1})
}

// file goes through the entries: hashes, ids, stretches, concerns, protocols.
func (r *rebuilding) file() error {
	r.last = map[string]uint64{}
	for next := uint64(1); ; {
		var decoded []*tracker.Event
		err := r.l.db.Update(func(tx *bolt.Tx) error {
			page := readEntries(tx, nil, next, ^uint64(0), rebuildEntries)
			list, err := decodeAll(page, next)
			if err != nil {
				return err
			}
			decoded = list
			var puts []put
			for i, e := range list {
				made, err := r.fileOne(tx, e, page[i].Leaf)
				if err != nil {
					return err
				}
				puts = append(puts, made...)
			}
			sortPuts(puts)
			return apply(tx, puts)
		})
		if err != nil {
			return err
		}
		if len(decoded) == 0 {
			return nil
		}
		if r.total/2 <= rebuildKept {
			r.kept = append(r.kept, decoded...)
		}
		next += uint64(len(decoded))
		r.tell(next - 1)
	}
}

func (r *rebuilding) fileOne(tx *bolt.Tx, e *tracker.Event, leaf []byte) ([]put, error) {
	origin, oseq := e.Record.Origin, e.Record.OSeq
	if oseq != r.last[origin]+1 {
		return nil, fmt.Errorf("%w: entry %d is number %d of %s, after %d", ErrDamaged, e.Record.Seq, oseq, origin, r.last[origin])
	}
	r.last[origin] = oseq
	key, err := keyOf(e.ID)
	if err != nil {
		return nil, fmt.Errorf("%w: entry %d: id: %w", ErrDamaged, e.Record.Seq, err)
	}
	seq := be64(e.Record.Seq)
	var puts []put
	if kept := tx.Bucket([]byte(inIDs.String())).Get(key[:]); !bytes.HasPrefix(kept, seq) {
		puts = append(puts, put{in: inIDs, key: key[:], value: seq})
	}
	if origin != r.lastRun {
		puts = append(puts, put{in: inRuns, key: originKey(origin, oseq), value: seq})
		r.lastRun = origin
	}
	for _, n := range tracker.WatchedBy(e) {
		puts = append(puts, put{in: inThings, key: concernKey(n, e.Record.Seq)})
	}
	if e.Kind == tracker.KindProtocolAdopted {
		puts = append(puts, put{in: inProtocols, key: protocolKey(e.Clinic, e.When(), key), value: seq})
	}
	hashes, err := tlog.StoredHashes(int64(oseq-1), leaf, treeOf(tx, origin))
	if err != nil {
		return nil, err
	}
	first := tlog.StoredHashIndex(0, int64(oseq-1))
	tree := tx.Bucket([]byte(inTree.String()))
	tree.FillPercent = 0.95
	for i := range hashes { // at once, since the next leaf reads them
		if err := tree.Put(originKey(origin, uint64(first+int64(i))), hashes[i][:]); err != nil {
			return nil, err
		}
	}
	return puts, nil
}

// judge makes every snapshot.
func (r *rebuilding) judge() error {
	var from tracker.Name
	for {
		var names []tracker.Name
		work := uint64(0)
		err := r.l.view(func(tx *bolt.Tx) error {
			c := tx.Bucket([]byte(inThings.String())).Cursor()
			for key, _ := c.Seek(append([]byte(from), 2)); key != nil; key, _ = c.Next() {
				n, _, _, ok := splitThingKey(key)
				if !ok {
					return fmt.Errorf("%w: a key of %d bytes among the things", ErrDamaged, len(key))
				}
				if len(names) == 0 || names[len(names)-1] != n {
					if len(names) == rebuildThings {
						break
					}
					names = append(names, n)
				}
				work++
			}
			return nil
		})
		if err != nil || len(names) == 0 {
			return err
		}
		made, err := r.l.judgeAll(names, r.laws, r.now, r.kept)
		if err != nil {
			return err
		}
		var puts []put
		for i, j := range made {
			x := j.index()
			puts = append(puts, put{in: inThings, key: snapshotKey(names[i]), value: j.raw})
			if x.due != nil {
				puts = append(puts, put{in: inDue, key: x.due})
			}
			if x.flagged != nil {
				puts = append(puts, put{in: inFlagged, key: x.flagged})
			}
			if x.open {
				puts = append(puts, put{in: inOpen, key: []byte(names[i])})
			}
		}
		sortPuts(puts)
		if err := r.l.db.Update(func(tx *bolt.Tx) error { return apply(tx, puts) }); err != nil {
			return err
		}
		from = names[len(names)-1]
		r.tell(r.done + work)
	}
}

// end compares flags with what they were, clears ids that no entry has, and says that the rebuild is finished.
func (r *rebuilding) end(tx *bolt.Tx) error {
	before, after := map[tracker.Name][]tracker.Flag{}, map[tracker.Name][]tracker.Flag{}
	was := tx.Bucket([]byte(inWas))
	err := was.ForEach(func(key, raw []byte) error {
		if j, err := decodeJudged(tracker.Name(key), raw); err == nil { // one that cannot be read told nobody anything
			before[tracker.Name(key)] = j.Findings.Flags
		}
		return nil
	})
	if err != nil {
		return err
	}
	things := tx.Bucket([]byte(inThings.String()))
	err = tx.Bucket([]byte(inFlagged.String())).ForEach(func(key, _ []byte) error {
		n := flaggedName(key)
		j, err := decodeJudged(n, things.Get(snapshotKey(n)))
		if err == nil {
			after[n] = j.Findings.Flags
		}
		return err
	})
	if err != nil {
		return err
	}
	log := tx.Bucket([]byte(inFlagLog.String()))
	names := slices.Collect(maps.Keys(before))
	names = slices.Sorted(slices.Values(slices.AppendSeq(names, maps.Keys(after))))
	last, _ := log.Cursor().Last()
	seq := num64(last)
	for _, n := range slices.Compact(names) {
		for _, c := range compareFlags(before[n], after[n]) {
			c = besideTwin(n, c, after)
			seq++
			if err := log.Put(be64(seq), flagLogValue(seq, r.now, c)); err != nil {
				return err
			}
		}
	}
	if err := r.dropStrayIDs(tx); err != nil {
		return err
	}
	meta := tx.Bucket([]byte(inMeta.String()))
	return errors.Join(
		meta.Put([]byte(metaFold), foldValue(foldVersion)),
		meta.Put([]byte(metaNow), withSum(inMeta, []byte(metaNow), appendInstant(nil, r.now))),
		meta.Delete([]byte(metaBuilding)),
		tx.DeleteBucket([]byte(inWas)),
	)
}

func (r *rebuilding) dropStrayIDs(tx *bolt.Tx) error {
	ids, entries := tx.Bucket([]byte(inIDs.String())), tx.Bucket([]byte(inEntries.String()))
	if uint64(ids.Stats().KeyN) == lastSeq(tx) {
		return nil // one each: file has seen to it that every entry has its own
	}
	var stray [][]byte
	err := ids.ForEach(func(key, value []byte) error {
		if leaf := entries.Get(value[:min(8, len(value))]); leaf == nil || !bytes.Contains(leaf[:min(64, len(leaf))], []byte(idOf(eventKey(key)))) {
			stray = append(stray, bytes.Clone(key))
		}
		return nil
	})
	for _, key := range stray {
		err = errors.Join(err, ids.Delete(key))
	}
	return err
}

// reread takes up the state of the file after it was changed behind the back of batches.
func (l *Ledger) reread() error {
	l.cache.purge()
	fresh := &Ledger{origin: l.origin, options: l.options, standard: l.standard}
	err := l.db.View(func(tx *bolt.Tx) error {
		fresh.state.now = readHead(tx).now
		return fresh.readState(tx)
	})
	if err != nil {
		return err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.state, l.half = fresh.state, false
	close(l.changed)
	l.changed = make(chan struct{})
	return nil
}
