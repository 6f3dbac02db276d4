package store

import (
	"bytes"
	"context"
	"encoding/hex"
	"slices"

	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/events"
)

// recent looks at the last entries, newest first: at so many, and at those since the last checkpoint, in any case; then at
// those since the program last stopped in good order, until the context ends. The root of each tree that they are in is
// made from the hashes that are stored, and the last checkpoints are held against the trees.
func (k *checkup) recent(least, stopped uint64) error {
	if err := k.headers(); err != nil {
		return err
	}
	if k.l.HalfBuilt() {
		return nil // opening it says so
	}
	k.origins = map[string]*originCheck{}
	last := lastSeq(k.tx)
	k.runs, _ = readRuns(k.tx, last)
	oldest := min(stopped+1, last+1)
	if last > least {
		oldest = min(oldest, last-least+1)
	} else {
		oldest = min(oldest, 1)
	}
	unsigned := k.firstUnsigned(last) // what the last checkpoint covers was hashed again before it was signed
	oldest, least = min(oldest, unsigned), max(least, min(last+1-unsigned, mostUnsigned))
	grown := map[string]uint64{}
	for seq := last; seq >= oldest && seq > 0; seq-- {
		if last-seq >= least && k.ctx.Err() != nil {
			break // there was no time for more
		}
		k.counts[inEntries]++
		leaf := k.look(inEntries, be64(seq))
		if leaf == nil {
			k.fault(PartEntry, "", "%s missing.", between(seq, seq))
			continue
		}
		at := k.recentEntry(seq, leaf)
		grown[at.Origin] = max(grown[at.Origin], at.OSeq)
		if (last-seq)%tellEvery == 0 {
			k.tell("entries", last-seq, last-oldest+1)
		}
	}
	for origin, size := range grown {
		k.root(origin, size)
	}
	kept, err := k.keptCheckpoints(mostRecentSigned)
	if err != nil {
		return err
	}
	ctx := k.ctx
	k.ctx = context.WithoutCancel(ctx) // the budget is for entries
	defer func() { k.ctx = ctx }()
	return k.signed(append(slices.Clone(k.others), kept...))
}

// mostUnsigned is how many entries since the last checkpoint a quick look takes whatever time there is: more than a clinic
// records in the hour between two.
const mostUnsigned = 10_000

func (k *checkup) recentEntry(seq uint64, leaf []byte) Finding {
	at := Finding{Seq: seq}
	at.Origin, at.OSeq = k.placeOf(seq)
	e, err := Entry{Seq: seq, Leaf: leaf}.Event()
	if err != nil {
		k.faultAt(PartEntry, at, "cannot be read: what was recorded was changed or cut (%v).", err)
		return at
	}
	at.Kind = e.Kind
	if len(e.Items) > 0 {
		at.Item = e.Items[0].Name
	}
	if r := e.Record; r.Origin != at.Origin || r.OSeq != at.OSeq {
		k.faultAt(PartEntry, at, "says that it is number %d of %s: what was recorded was changed, or the index of stretches.", r.OSeq, r.Origin)
		return at
	}
	if made, kept := tlog.RecordHash(leaf), k.stored(at.Origin, at.OSeq); made != kept && !k.noHashes {
		switch {
		case k.above(at, made):
			k.faultAt(PartHash, at, "is as it was recorded, and its hash in the tree was changed.")
		default:
			k.faultAt(PartEntry, at, "is not what was recorded: its bytes do not give its hash in the tree.")
		}
		return at
	}
	if !bytes.Equal(events.AppendStored(nil, e), leaf) {
		k.faultAt(PartEntry, at, "is not in the one spelling that entries have.")
	}
	k.overLeaf(at)
	k.filed(at, e)
	return at
}

// overLeaf looks at the hashes that a leaf completes.
func (k *checkup) overLeaf(at Finding) {
	if k.noHashes {
		return
	}
	n := int64(at.OSeq - 1)
	for level := 1; (n+1)%(1<<level) == 0; level++ {
		j := n >> level
		left, right := k.hashAt(at.Origin, tlog.StoredHashIndex(level-1, 2*j)), k.hashAt(at.Origin, tlog.StoredHashIndex(level-1, 2*j+1))
		if tlog.NodeHash(left, right) != k.hashAt(at.Origin, tlog.StoredHashIndex(level, j)) {
			k.faultAt(PartHash, at, "completes a hash over %d entries of its origin's tree, and that hash was changed, or one below it.", 1<<level)
			return
		}
	}
}

// root makes sure that the root of an origin's tree can be made.
func (k *checkup) root(origin string, size uint64) {
	if origin == "" {
		return
	}
	if h, err := tlog.TreeHash(int64(size), treeOf(k.tx, origin)); err != nil {
		k.found(Finding{Part: PartHash, Origin: origin, OSeq: size,
			Text: "The root of the tree of " + origin + " cannot be made: a hash of it is missing.", Detail: hex.EncodeToString(h[:])})
	}
}
