package store

import (
	"context"
	"fmt"
	"slices"

	bolt "go.etcd.io/bbolt"
	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/events/evidence"
)

// CheckCopy opens a copy of a ledger that nobody has open, reads every page that is in use, and works out the root of each
// origin's tree anew from the entries. An error that wraps [ErrCopy] or [ErrForeign] says what is not as it was. The file
// is never changed. Progress, if not nil, is told how many entries are done.
func CheckCopy(ctx context.Context, path string, want Contents, progress func(done, total uint64)) error {
	err := readOnly(path, Options{}, func(tx *bolt.Tx) error {
		have, err := contentsOf(tx)
		if err != nil {
			return fmt.Errorf("%w: %w", ErrCopy, err)
		}
		if err := have.differs(want); err != nil {
			return err
		}
		roots, err := rootsOfEntries(ctx, tx, have.Entries, progress)
		if err != nil {
			return err
		}
		if err := (Contents{Format: want.Format, Fold: want.Fold, Origin: want.Origin, Entries: want.Entries, Recorded: want.Recorded, Roots: roots}).differs(want); err != nil {
			return err
		}
		for b := range bucketCount { // a page that cannot be read must be found now, not when somebody needs it
			kept := tx.Bucket([]byte(b.String()))
			if b == inEntries || kept == nil {
				continue
			}
			if err := kept.ForEach(func(_, _ []byte) error { return nil }); err != nil {
				return fmt.Errorf("%w: bucket %s: %w", ErrCopy, b, err)
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("check copy %s: %w", path, err)
	}
	return nil
}

// differs says where contents are not those wanted.
func (c Contents) differs(want Contents) error {
	switch {
	case c.Format != want.Format || c.Fold != want.Fold:
		return fmt.Errorf("%w: it is of format %d, fold %d in place of %d, %d", ErrCopy, c.Format, c.Fold, want.Format, want.Fold)
	case c.Origin != want.Origin:
		return fmt.Errorf("%w: its origin is %q in place of %q", ErrCopy, c.Origin, want.Origin)
	case c.Entries != want.Entries:
		return fmt.Errorf("%w: it has %d entries in place of %d", ErrCopy, c.Entries, want.Entries)
	case !c.Recorded.Equal(want.Recorded):
		return fmt.Errorf("%w: its last entry is of another time", ErrCopy)
	}
	for _, w := range want.Roots {
		i := slices.IndexFunc(c.Roots, func(have Checkpoint) bool { return have.Origin == w.Origin })
		switch {
		case i < 0:
			return fmt.Errorf("%w: the log of %s is not in it", ErrCopy, w.Origin)
		case c.Roots[i].Size != w.Size:
			return fmt.Errorf("%w: the log of %s has %d entries in place of %d", ErrCopy, w.Origin, c.Roots[i].Size, w.Size)
		case c.Roots[i].Root != w.Root:
			return fmt.Errorf("%w: the root of %s is not the same: an entry was changed", ErrCopy, w.Origin)
		}
	}
	if len(c.Roots) != len(want.Roots) {
		return fmt.Errorf("%w: it has %d logs in place of %d", ErrCopy, len(c.Roots), len(want.Roots))
	}
	return nil
}

// rootsOfEntries works out the roots from the stored bytes alone.
func rootsOfEntries(ctx context.Context, tx *bolt.Tx, total uint64, progress func(done, total uint64)) ([]Checkpoint, error) {
	const step = 4096
	runs, err := readRuns(tx, total)
	if err != nil {
		return nil, err
	}
	trees := map[string]*growing{}
	var seq uint64
	at := 0
	err = tx.Bucket([]byte(inEntries.String())).ForEach(func(key, leaf []byte) error {
		if seq++; len(key) != 8 || num64(key) != seq {
			return fmt.Errorf("%w: entry %d is missing", ErrCopy, seq)
		}
		for at < len(runs) && runs[at].end < seq {
			at++
		}
		if at == len(runs) || runs[at].seq > seq {
			return fmt.Errorf("%w: nothing says of which origin entry %d is", ErrCopy, seq)
		}
		tree := trees[runs[at].origin]
		if tree == nil {
			tree = &growing{}
			trees[runs[at].origin] = tree
		}
		tree.add(leaf)
		if seq%step != 0 && seq != total {
			return nil
		}
		if progress != nil {
			progress(seq, total)
		}
		return ctx.Err()
	})
	if err != nil {
		return nil, err
	}
	out := []Checkpoint{}
	for origin, tree := range trees {
		out = append(out, Checkpoint{Origin: origin, Size: tree.size, Root: evidence.Hash(tree.root())})
	}
	return out, nil
}

// growing is an RFC 6962 tree of which only the right edge is kept: the roots of its full parts, the largest first.
type growing struct {
	size uint64
	edge []tlog.Hash
}

func (g *growing) add(leaf []byte) {
	h := tlog.RecordHash(leaf)
	for n := g.size; n&1 == 1; n >>= 1 {
		h = tlog.NodeHash(g.edge[len(g.edge)-1], h)
		g.edge = g.edge[:len(g.edge)-1]
	}
	g.edge = append(g.edge, h)
	g.size++
}

func (g *growing) root() tlog.Hash {
	h := g.edge[len(g.edge)-1]
	for i := len(g.edge) - 2; i >= 0; i-- {
		h = tlog.NodeHash(g.edge[i], h)
	}
	return h
}
