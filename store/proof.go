package store

import (
	"errors"
	"fmt"

	bolt "go.etcd.io/bbolt"
	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/events/evidence"
	"github.com/pottrail/pottrail/tracker"
)

// Checkpoint is the state of one origin's tree.
type Checkpoint = evidence.Checkpoint

// Errors of proofs.
var (
	// ErrNotCovered says that something is newer than the state of the tree that a proof was asked for.
	ErrNotCovered = errors.New("recorded after the checkpoint")
	// ErrTooMany says that a proof would hold more than [evidence.MostEvents].
	ErrTooMany = errors.New("too many events for one proof")
)

// Root is the state of an origin's tree; "" is this node's own. An origin that the ledger has nothing of has size 0.
func (l *Ledger) Root(origin string) (Checkpoint, error) {
	if origin == "" {
		origin = l.origin
	}
	var out Checkpoint
	err := l.view(func(tx *bolt.Tx) (err error) {
		out, err = checkpoint(tx, origin)
		return err
	})
	if err != nil {
		return Checkpoint{}, fmt.Errorf("root of %s: %w", origin, err)
	}
	return out, nil
}

// RootAt is the root that an origin's tree had with so many entries. The tree is read, and the entries are not.
func (l *Ledger) RootAt(origin string, size uint64) (root evidence.Hash, err error) {
	err = l.view(func(tx *bolt.Tx) error {
		h, err := tlog.TreeHash(int64(size), treeOf(tx, origin))
		root = evidence.Hash(h)
		return err
	})
	if err != nil {
		return root, fmt.Errorf("root of %s at %d: %w", origin, size, err)
	}
	return root, nil
}

// Size is how many entries of an origin there are.
func (l *Ledger) Size(origin string) (size uint64, err error) {
	err = l.view(func(tx *bolt.Tx) (err error) {
		size, err = lastOfOrigin(tx, origin)
		return err
	})
	return size, err
}

func checkpoint(tx *bolt.Tx, origin string) (Checkpoint, error) {
	size, err := lastOfOrigin(tx, origin)
	if err != nil {
		return Checkpoint{}, err
	}
	root, err := tlog.TreeHash(int64(size), treeOf(tx, origin))
	if err != nil {
		return Checkpoint{}, err
	}
	return evidence.Checkpoint{Origin: origin, Size: size, Root: evidence.Hash(root)}, nil
}

func treeOf(tx *bolt.Tx, origin string) tlog.HashReader {
	tree := tx.Bucket([]byte(inTree.String()))
	return tlog.HashReaderFunc(func(indexes []int64) ([]tlog.Hash, error) {
		out := make([]tlog.Hash, len(indexes))
		for i, x := range indexes {
			raw := tree.Get(originKey(origin, uint64(x)))
			if len(raw) != tlog.HashSize {
				return nil, fmt.Errorf("%w: hash %d of %s is missing", ErrDamaged, x, origin)
			}
			copy(out[i][:], raw)
		}
		return out, nil
	})
}

// Proof shows that the events of the case or bag that a name belongs to are in the trees of their origins as these were
// with so many entries. The events are in the order in which they are folded; wanted, if not nil, leaves some out. One
// that is not in such a tree is [ErrNotCovered]. It does not show that no others happened: counts and gaps do.
func (l *Ledger) Proof(name tracker.Name, sizes map[string]uint64, wanted func(gathered []*tracker.Event) func(*tracker.Event) bool) ([]evidence.Inclusion, error) {
	watched := tracker.Watched(name)
	out := []evidence.Inclusion{}
	err := l.view(func(tx *bolt.Tx) error {
		list, err := gather(tx, watched)
		if err != nil {
			return err
		}
		ordered := inOrder(list)
		keep := func(*tracker.Event) bool { return true }
		if wanted != nil {
			keep = wanted(ordered)
		}
		entries := tx.Bucket([]byte(inEntries.String()))
		for _, e := range ordered {
			if !keep(e) {
				continue
			}
			origin, index := e.Record.Origin, e.Record.OSeq-1
			if index >= sizes[origin] {
				return fmt.Errorf("entry %d: %w", e.Record.Seq, ErrNotCovered)
			}
			if len(out) == evidence.MostEvents {
				return ErrTooMany
			}
			path, err := tlog.ProveRecord(int64(sizes[origin]), int64(index), treeOf(tx, origin))
			if err != nil {
				return fmt.Errorf("entry %d: %w", e.Record.Seq, err)
			}
			out = append(out, evidence.Inclusion{Origin: origin, Index: index, Leaf: string(entries.Get(be64(e.Record.Seq))), Path: evidence.Hashes(path)})
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("proof of %s: %w", watched, err)
	}
	return out, nil
}

// Earlier shows that an origin's tree with so many entries is a beginning of the same tree with more.
func (l *Ledger) Earlier(origin string, before, now uint64) (evidence.Older, error) {
	out := evidence.Older{Checkpoint: evidence.Checkpoint{Origin: origin, Size: before}}
	err := l.view(func(tx *bolt.Tx) error {
		size, err := lastOfOrigin(tx, origin)
		if err != nil {
			return err
		}
		if before == 0 || before > now || now > size {
			return ErrNotCovered
		}
		root, err := tlog.TreeHash(int64(before), treeOf(tx, origin))
		if err != nil {
			return err
		}
		path, err := tlog.ProveTree(int64(now), int64(before), treeOf(tx, origin))
		out.Root, out.Path = evidence.Hash(root), evidence.Hashes(path)
		return err
	})
	if err != nil {
		return out, fmt.Errorf("from %d to %d entries of %s: %w", before, now, origin, err)
	}
	return out, nil
}
