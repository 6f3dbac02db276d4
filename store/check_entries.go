package store

import (
	"bytes"
	"fmt"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// originCheck follows one origin's tree while its entries go by.
type originCheck struct {
	last     uint64      // oseq of the last entry
	recorded time.Time   // of it
	peaks    []tlog.Hash // by level: what a hash above is made of
	lost     bool        // so much is missing that no hash above a leaf can be made again
}

// tellEvery is how many entries go by between two tellings of progress.
const tellEvery = 1000

// entries goes through the ledger and what is filed by entry.
func (k *checkup) entries() error {
	k.origins = map[string]*originCheck{}
	total := lastSeq(k.tx)
	k.runs, _ = readRuns(k.tx, total) // a damaged one is told below
	before, lastRun := uint64(0), ""
	c := k.bucket(inEntries).Cursor()
	for key, leaf := c.First(); key != nil; key, leaf = c.Next() {
		seq := num64(key)
		if len(key) != 8 || seq <= before {
			k.fault(PartEntry, "", "After entry %d stands something that is no entry.", before)
			continue
		}
		if seq != before+1 {
			k.fault(PartEntry, "", "%s missing.", between(before+1, seq-1))
			lastRun = ""
		}
		before = seq
		k.counts[inEntries]++
		at, e := k.entry(seq, leaf)
		if at.Origin != lastRun && at.Origin != "" {
			if wrong := k.expect(inRuns, originKey(at.Origin, at.OSeq), be64(seq)); wrong != "" {
				k.faultAt(PartStretch, at, "begins a stretch of its origin's log, and that it does so %s.", wrong)
			}
			lastRun = at.Origin
		}
		if e != nil {
			k.filed(at, e)
		}
		if seq%tellEvery == 0 {
			k.tell("entries", seq, total)
			if err := k.ctx.Err(); err != nil {
				return err
			}
		}
	}
	return nil
}

func between(first, last uint64) string {
	if first == last {
		return fmt.Sprintf("Entry %d is", first)
	}
	return fmt.Sprintf("Entries %d to %d are", first, last)
}

// entry looks at one entry itself: its spelling, its place, its hash. It gives where it stands, and the event if it can be
// read.
func (k *checkup) entry(seq uint64, leaf []byte) (Finding, *tracker.Event) {
	at := Finding{Seq: seq}
	at.Origin, at.OSeq = k.placeOf(seq)
	e, err := Entry{Seq: seq, Leaf: leaf}.Event()
	if err != nil {
		k.faultAt(PartEntry, at, "cannot be read: what was recorded was changed or cut (%v).", err)
		k.leaf(at, leaf, true)
		return at, nil
	}
	r := e.Record
	at.Kind = e.Kind
	if len(e.Items) > 0 {
		at.Item = e.Items[0].Name
	}
	if o := k.origin(r.Origin); r.OSeq != o.last+1 && k.stored(r.Origin, r.OSeq) != tlog.RecordHash(leaf) {
		k.faultAt(PartEntry, at, "says that it is number %d of %s: what was recorded was changed.", r.OSeq, r.Origin)
		k.leaf(at, leaf, true)
		return at, e
	}
	at.Origin, at.OSeq = r.Origin, r.OSeq
	o := k.origin(at.Origin)
	if at.OSeq > o.last+1 {
		k.faultAt(PartEntry, at, "follows number %d of that log: what lies between is missing.", o.last)
	}
	if !k.leaf(at, leaf, false) {
		return at, e
	}
	if r.Recorded.Before(o.recorded) {
		k.faultAt(PartEntry, at, "was recorded before the one before it.")
	}
	o.recorded = r.Recorded
	if !bytes.Equal(events.AppendStored(nil, e), leaf) {
		k.faultAt(PartEntry, at, "is not in the one spelling that entries have.")
	}
	return at, e
}

// placeOf is where an entry stands by the index of stretches.
func (k *checkup) placeOf(seq uint64) (origin string, oseq uint64) {
	for i := len(k.runs) - 1; i >= 0; i-- {
		if r := k.runs[i]; r.seq <= seq {
			return r.origin, r.oseq + seq - r.seq
		}
	}
	return "", 0
}

func (k *checkup) origin(name string) *originCheck {
	o := k.origins[name]
	if o == nil {
		o = &originCheck{}
		k.origins[name] = o
	}
	return o
}

// stored is the hash of a leaf as the tree has it; zero when it has none.
func (k *checkup) stored(origin string, oseq uint64) tlog.Hash {
	if oseq == 0 || oseq >= 1<<62 {
		return tlog.Hash{}
	}
	return k.hashAt(origin, tlog.StoredHashIndex(0, int64(oseq-1)))
}

func (k *checkup) hashAt(origin string, index int64) (h tlog.Hash) {
	if raw := k.look(inTree, originKey(origin, uint64(index))); len(raw) == tlog.HashSize {
		copy(h[:], raw)
	}
	return h
}

// leaf holds an entry against its hash in its origin's tree, and every hash that it completes against those below. It
// reports whether the entry is what was recorded.
func (k *checkup) leaf(at Finding, leaf []byte, told bool) bool {
	o := k.origin(at.Origin)
	if at.Origin == "" || at.OSeq <= o.last {
		return false // it has no place of its own; that was told
	}
	for o.last+1 < at.OSeq { // entries are missing: what is left of them is their hashes
		if k.stored(at.Origin, o.last+1) == (tlog.Hash{}) {
			o.last, o.lost = at.OSeq-1, true
			break
		}
		k.grow(o, at, k.stored(at.Origin, o.last+1))
	}
	made, kept := tlog.RecordHash(leaf), k.stored(at.Origin, at.OSeq)
	sound := k.noHashes || made == kept
	switch {
	case sound:
	case kept == (tlog.Hash{}):
		k.faultAt(PartHash, at, "has no hash in the tree of its origin.")
		kept, sound = made, true
	case k.above(at, kept):
		if !told {
			k.faultAt(PartEntry, at, "is not what was recorded: its bytes do not give the hash that was made of them then.")
		}
	case k.above(at, made):
		k.faultAt(PartHash, at, "is as it was recorded, and its hash in the tree was changed.")
		kept, sound = made, true
	case !told:
		k.faultAt(PartEntry, at, "does not give its hash in the tree: what was recorded was changed, or its hash was.")
	}
	k.grow(o, at, kept)
	return sound
}

// above reports whether the hash over a leaf's pair is made of this hash of the leaf.
func (k *checkup) above(at Finding, h tlog.Hash) bool {
	return k.under(at.Origin, 0, int64(at.OSeq-1), h)
}

// under reports whether the hash above the nth of a level is made of this one.
func (k *checkup) under(origin string, level int, n int64, h tlog.Hash) bool {
	over := k.hashAt(origin, tlog.StoredHashIndex(level+1, n/2))
	beside := k.hashAt(origin, tlog.StoredHashIndex(level, n^1))
	if over == (tlog.Hash{}) || beside == (tlog.Hash{}) {
		return false
	}
	if n%2 == 0 {
		return tlog.NodeHash(h, beside) == over
	}
	return tlog.NodeHash(beside, h) == over
}

// grow adds a leaf's hash and looks at those that it completes.
func (k *checkup) grow(o *originCheck, at Finding, h tlog.Hash) {
	n := int64(o.last)
	o.last++
	for level := 1; !o.lost; level++ {
		if level > len(o.peaks) {
			o.peaks = append(o.peaks, h)
		}
		if (n+1)%(1<<level) != 0 {
			o.peaks[level-1] = h
			return
		}
		made := tlog.NodeHash(o.peaks[level-1], h)
		if kept := k.hashAt(at.Origin, tlog.StoredHashIndex(level, n>>level)); kept != made && !k.noHashes {
			first := n + 2 - 1<<level
			switch {
			case kept == (tlog.Hash{}):
				k.faultAt(PartHash, at, "completes the hash over the numbers %d to %d of its origin's tree, and that hash is missing.", first, n+1)
			case k.under(at.Origin, level, n>>level, kept):
				k.faultAt(PartEntry, at, "completes the hash over the numbers %d to %d of its origin's tree, which is as it was then: one of these is not what was recorded, and its own hash was made anew.", first, n+1)
				made = kept
			default:
				k.faultAt(PartHash, at, "completes the hash over the numbers %d to %d of its origin's tree, and that hash was changed, or one of these was and its own hash made anew.", first, n+1)
			}
		}
		h = made
	}
}

// filed looks at what is filed under an entry: its id and the verdict, the things it concerns, an adoption.
func (k *checkup) filed(at Finding, e *tracker.Event) {
	id, err := keyOf(e.ID)
	if err != nil {
		k.faultAt(PartEntry, at, "has an id that is none.")
		return
	}
	k.counts[inIDs]++
	if raw := k.look(inIDs, id[:]); !bytes.HasPrefix(raw, be64(at.Seq)) {
		k.faultAt(PartID, at, "cannot be found by its id: sent again it would be recorded twice, or refused.")
	} else if seq, kept, err := cutID(id, raw); err != nil {
		k.faultAt(PartVerdict, at, "was answered with a verdict that was kept, and that was changed since.")
	} else if _, err := (noted{seq: seq, kept: kept}).verdict(e.ID); err != nil {
		k.faultAt(PartVerdict, at, "was answered with a verdict that was kept, and that cannot be read.")
	}
	for _, n := range tracker.WatchedBy(e) {
		if k.unfiled {
			break
		}
		if wrong := k.expect(inThings, concernKey(n, at.Seq), nil); wrong != "" {
			k.faultAt(PartFiling, at, "concerns %s, and is not filed there: it would be left out when that is judged.", n.Printed())
		}
	}
	if e.Kind == tracker.KindProtocolAdopted {
		if wrong := k.expect(inProtocols, protocolKey(e.Clinic, e.When(), id), be64(at.Seq)); wrong != "" {
			k.faultAt(PartAdoption, at, "puts a protocol in force for %s, and its place among the adoptions %s.", e.Clinic, wrong)
		}
	}
}
