package store

import (
	"encoding/hex"
	"fmt"

	bolt "go.etcd.io/bbolt"
	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/tracker"
)

// Checkpoint is the state of one origin's tree.
type Checkpoint struct {
	Origin string `json:"origin"`
	Size   uint64 `json:"size"` // leaves
	Root   string `json:"root"` // RFC 6962, SHA-256, hexadecimal
}

// Inclusion shows that one leaf is in its origin's tree.
type Inclusion struct {
	Origin string   `json:"origin"`
	Index  uint64   `json:"index"` // of the leaf, from 0: oseq - 1
	Leaf   string   `json:"leaf"`  // the stored bytes
	Path   []string `json:"path"`  // hashes, hexadecimal, from leaf to root
}

// Proof shows that events are in the ledger.
type Proof struct {
	Name        tracker.Name `json:"name"`
	Checkpoints []Checkpoint `json:"checkpoints"`
	Events      []Inclusion  `json:"events"` // in the order they are folded
}

// Root is the checkpoint of an origin; "" is this node's own. An origin that the ledger has nothing of has size 0.
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

func checkpoint(tx *bolt.Tx, origin string) (Checkpoint, error) {
	size, err := lastOfOrigin(tx, origin)
	if err != nil {
		return Checkpoint{}, err
	}
	root, err := tlog.TreeHash(int64(size), treeOf(tx, origin))
	if err != nil {
		return Checkpoint{}, err
	}
	return Checkpoint{Origin: origin, Size: size, Root: hex.EncodeToString(root[:])}, nil
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

// Proof shows that the events of the case or bag that a name belongs to are in the ledger. It does not show that no
// others happened: counts and gaps do.
func (l *Ledger) Proof(name tracker.Name) (Proof, error) {
	out := Proof{Name: tracker.Watched(name), Checkpoints: []Checkpoint{}, Events: []Inclusion{}}
	err := l.view(func(tx *bolt.Tx) error {
		list, err := gather(tx, out.Name)
		if err != nil {
			return err
		}
		sizes := map[string]uint64{}
		entries := tx.Bucket([]byte(inEntries.String()))
		for _, e := range inOrder(list) {
			origin := e.Record.Origin
			if _, ok := sizes[origin]; !ok {
				c, err := checkpoint(tx, origin)
				if err != nil {
					return err
				}
				sizes[origin] = c.Size
				out.Checkpoints = append(out.Checkpoints, c)
			}
			path, err := tlog.ProveRecord(int64(sizes[origin]), int64(e.Record.OSeq-1), treeOf(tx, origin))
			if err != nil {
				return fmt.Errorf("entry %d: %w", e.Record.Seq, err)
			}
			in := Inclusion{Origin: origin, Index: e.Record.OSeq - 1, Leaf: string(entries.Get(be64(e.Record.Seq))), Path: []string{}}
			for _, h := range path {
				in.Path = append(in.Path, hex.EncodeToString(h[:]))
			}
			out.Events = append(out.Events, in)
		}
		return nil
	})
	if err != nil {
		return Proof{}, fmt.Errorf("proof of %s: %w", out.Name, err)
	}
	return out, nil
}
