package store

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/events/evidence"
)

// mostRecentSigned is how many of the latest checkpoints in the ledger a quick look holds against it.
const mostRecentSigned = 1000

// checkpoints holds each checkpoint that the ledger keeps, and others that are known, against the trees as they are now.
func (k *checkup) checkpoints() error {
	kept, err := k.keptCheckpoints(0)
	if err != nil {
		return err
	}
	if err := k.signed(append(slices.Clone(k.others), kept...)); err != nil {
		return err
	}
	return k.printed()
}

// keptCheckpoints reads those in the ledger: the last so many, or all with 0.
func (k *checkup) keptCheckpoints(most int) (list []evidence.Kept, err error) {
	b := k.bucket(inCheckpoints)
	if b == nil {
		return nil, nil // none was made yet
	}
	c := b.Cursor()
	next := uint64(0)
	for key, raw := c.Last(); key != nil && (most == 0 || len(list) < most); key, raw = c.Prev() {
		if len(key) != 8 || next != 0 && num64(key) != next-1 {
			k.fault(PartCheckpoint, "", "The checkpoints have a gap: number %d follows number %d.", next, num64(key))
		}
		next = num64(key)
		kept, err := readKept(key, raw)
		if err != nil {
			k.fault(PartCheckpoint, "", "Checkpoint %d was changed and cannot be read.", num64(key))
			continue
		}
		kept.Where = fmt.Sprintf("the ledger, number %d", kept.Position)
		list = append(list, kept.Kept)
	}
	if most == 0 && next > 1 {
		k.fault(PartCheckpoint, "", "The checkpoints have a gap: number %d is the first.", next)
	}
	slices.Reverse(list)
	return list, nil
}

// signed holds checkpoints against the trees. Of each origin it tells the first that does not fit, the last before it that
// does, since what was changed lies between them, and how many more do not fit.
func (k *checkup) signed(list []evidence.Kept) error {
	seen := map[string]bool{}
	list = slices.DeleteFunc(list, func(c evidence.Kept) bool { // most are in the ledger and beside it
		twice := seen[c.Note]
		seen[c.Note] = true
		return twice
	})
	slices.SortStableFunc(list, func(a, b evidence.Kept) int {
		return cmp.Or(cmp.Compare(a.Origin, b.Origin), cmp.Compare(a.Size, b.Size))
	})
	for len(list) > 0 {
		origin, n := list[0].Origin, 0
		for n < len(list) && list[n].Origin == origin {
			n++
		}
		if err := k.signedOf(origin, list[:n]); err != nil {
			return err
		}
		list = list[n:]
	}
	return nil
}

func (k *checkup) signedOf(origin string, list []evidence.Kept) error {
	var first *evidence.Mismatch
	fits, more := uint64(0), 0
	for _, c := range list {
		if err := k.ctx.Err(); err != nil {
			return nil // the caller says what became of it
		}
		err := evidence.Inspect([]evidence.Kept{c}, treeNow{k}, k.keys...)
		var m *evidence.Mismatch
		switch {
		case err == nil && first == nil:
			fits = c.Size
		case err == nil:
		case !errors.As(err, &m):
			return err
		case m.Altered:
			k.fault(PartCheckpoint, "", "%s", m.Text)
		case first == nil:
			first = m
		default:
			more++
		}
	}
	if first == nil {
		return nil
	}
	from, until := fits+1, min(first.Kept.Size, first.Size)
	says := fmt.Sprintf(" What was changed is among the numbers %d to %d of that log", from, until)
	if from > until {
		from, says = until, " Another one, of as many entries, fits"
	}
	if first.Behind {
		from, says = first.Size+1, fmt.Sprintf(" What is missing begins with number %d of that log", first.Size+1)
	}
	if more > 0 {
		says += fmt.Sprintf("; %d later checkpoints do not fit either", more)
	}
	k.found(Finding{Part: PartCheckpoint, Origin: origin, OSeq: from, Text: first.Text + says + "."})
	return nil
}

// printed holds a checkpoint as it stands on paper against this node's own log.
func (k *checkup) printed() error {
	if k.paper == "" {
		return nil
	}
	size, digits, err := evidence.ParseShort(k.paper)
	if err != nil {
		return fmt.Errorf("the printed checkpoint %q: %w", k.paper, err)
	}
	now, err := treeNow{k}.Size(k.l.origin)
	if err != nil {
		return err
	}
	at := Finding{Part: PartCheckpoint, Origin: k.l.origin}
	switch {
	case size > now:
		at.OSeq = now + 1
		at.Text = fmt.Sprintf("The printed checkpoint is of %d entries of this node's log, and the ledger has %d: an older copy of the ledger was put here, or another one. What is missing begins with number %d of that log.", size, now, now+1)
	default:
		root, err := treeNow{k}.RootAt(k.l.origin, size)
		if err != nil {
			return err
		}
		if strings.HasPrefix(root.String(), digits) {
			return nil
		}
		at.Text = fmt.Sprintf("The printed checkpoint is of %d entries of this node's log with another root than they have now: one of them was changed, or it is a checkpoint of another node.", size)
	}
	k.found(at)
	return nil
}

// treeNow is the trees as they are stored. [evidence.Tree]
type treeNow struct{ k *checkup }

// Size is how many entries of an origin there are.
func (t treeNow) Size(origin string) (size uint64, err error) {
	for _, r := range t.k.runs {
		if r.origin == origin {
			size = max(size, r.oseq+r.end-r.seq)
		}
	}
	return size, nil
}

// RootAt is the root over the first entries of an origin; zero when it cannot be made.
func (t treeNow) RootAt(origin string, size uint64) (evidence.Hash, error) {
	root, err := tlog.TreeHash(int64(size), treeOf(t.k.tx, origin))
	if err != nil {
		return evidence.Hash{}, nil // a hash is missing, which was told; no checkpoint fits
	}
	return evidence.Hash(root), nil
}

// firstUnsigned is the position of the first entry that no checkpoint in the ledger covers yet, of any origin.
func (k *checkup) firstUnsigned(last uint64) uint64 {
	kept, err := k.keptCheckpoints(mostRecentSigned)
	covered := map[string]uint64{}
	for _, c := range kept {
		covered[c.Origin] = max(covered[c.Origin], c.Size)
	}
	first := last + 1
	for _, r := range k.runs {
		if end := r.oseq + r.end - r.seq; err == nil && end > covered[r.origin] {
			first = min(first, r.seq+max(covered[r.origin]+1, r.oseq)-r.oseq)
		}
	}
	return first
}
