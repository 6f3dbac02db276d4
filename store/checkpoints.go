package store

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"time"

	bolt "go.etcd.io/bbolt"
	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/events/evidence"
)

// KeptCheckpoint is a signed checkpoint as the ledger keeps it.
type KeptCheckpoint struct {
	Position uint64 // from 1, in the order in which they were made
	evidence.Kept
}

// KeepCheckpoint puts a signed checkpoint into the ledger, with when it was made. One at a time.
func (l *Ledger) KeepCheckpoint(at time.Time, signed string) (kept KeptCheckpoint, err error) {
	read, err := evidence.ReadCheckpoint(signed)
	if err != nil {
		return kept, fmt.Errorf("keep a checkpoint: %w", err)
	}
	kept.Kept = evidence.Kept{Signed: read, At: at.Round(0).UTC(), Where: inTheLedger}
	err = l.change(time.Time{}, func(d *draft) error {
		kept.Position = 1
		if b := d.bucket(inCheckpoints); b != nil {
			key, _ := b.Cursor().Last()
			kept.Position = num64(key) + 1
		}
		key := be64(kept.Position)
		d.put(inCheckpoints, key, withSum(inCheckpoints, key, append(appendInstant(nil, kept.At), signed...)))
		return nil
	})
	if err != nil {
		return kept, fmt.Errorf("keep a checkpoint of %s: %w", read.Origin, err)
	}
	return kept, nil
}

// inTheLedger is where a checkpoint of the ledger's own was found, in a sentence.
const inTheLedger = "the ledger"

// Checkpoints are those that were made, from a position on, at most limit. A limit of 0 means 1000.
func (l *Ledger) Checkpoints(from uint64, limit int) ([]KeptCheckpoint, error) {
	if limit < 1 {
		limit = mostRows
	}
	var list []KeptCheckpoint
	err := l.view(func(tx *bolt.Tx) error {
		b := tx.Bucket([]byte(inCheckpoints.String()))
		if b == nil {
			return nil
		}
		c := b.Cursor()
		for key, value := c.Seek(be64(from)); key != nil && len(list) < limit; key, value = c.Next() {
			kept, err := readKept(key, value)
			if err != nil {
				return err
			}
			list = append(list, kept)
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("checkpoints from %d: %w", from, err)
	}
	return list, nil
}

// LastCheckpoints are the latest that were made, the latest last.
func (l *Ledger) LastCheckpoints(most int) ([]KeptCheckpoint, error) {
	var list []KeptCheckpoint
	err := l.view(func(tx *bolt.Tx) error {
		b := tx.Bucket([]byte(inCheckpoints.String()))
		if b == nil {
			return nil
		}
		c := b.Cursor()
		for key, value := c.Last(); key != nil && len(list) < most; key, value = c.Prev() {
			kept, err := readKept(key, value)
			if err != nil {
				return err
			}
			list = append(list, kept)
		}
		return nil
	})
	slices.Reverse(list)
	if err != nil {
		return nil, fmt.Errorf("the last checkpoints: %w", err)
	}
	return list, nil
}

func readKept(key, raw []byte) (KeptCheckpoint, error) {
	value, err := cutSum(inCheckpoints, key, raw, instantSize)
	if err != nil {
		return KeptCheckpoint{}, err
	}
	at, ok := readInstant(value)
	if !ok {
		return KeptCheckpoint{}, fmt.Errorf("%w: checkpoint %d", ErrDamaged, num64(key))
	}
	signed, err := evidence.ReadCheckpoint(string(value[instantSize:]))
	if err != nil {
		return KeptCheckpoint{}, fmt.Errorf("%w: checkpoint %d: %w", ErrDamaged, num64(key), err)
	}
	return KeptCheckpoint{Position: num64(key), Kept: evidence.Kept{Signed: signed, At: at, Where: inTheLedger}}, nil
}

// Origins lists the nodes whose entries the ledger has, in the order of their first.
func (l *Ledger) Origins() ([]string, error) {
	var origins []string
	err := l.view(func(tx *bolt.Tx) error {
		runs, err := readRuns(tx, lastSeq(tx))
		for _, r := range runs {
			if !slices.Contains(origins, r.origin) {
				origins = append(origins, r.origin)
			}
		}
		return err
	})
	return origins, err
}

// Clinics lists the clinics of which the ledger has cases, bags or rooms, in order.
func (l *Ledger) Clinics() ([]string, error) {
	const keyLength = 3
	var clinics []string
	err := l.view(func(tx *bolt.Tx) error {
		c := tx.Bucket([]byte(inThings.String())).Cursor()
		for key, _ := c.First(); len(key) >= keyLength; {
			clinic := string(key[:keyLength])
			clinics = append(clinics, clinic)
			key, _ = c.Seek([]byte(clinic + "\xff"))
		}
		return nil
	})
	return clinics, err
}

// auditPage is how many entries one short transaction hashes again.
const auditPage = 1000

// Audit reads an origin's entries again, from a number of entries on up to another, and hashes them again: each must be
// what its tree has, as read back from the file, and so must every hash above it that they complete. It is done before a
// checkpoint is signed, so that what a disk or a hand changed is found and not vouched for. The error is [ErrDamaged].
func (l *Ledger) Audit(ctx context.Context, origin string, from, until uint64) error {
	for next := from; next < until; {
		if err := ctx.Err(); err != nil {
			return err
		}
		page, err := l.ByOrigin(origin, next+1, int(min(until-next, auditPage)))
		if err != nil {
			return err
		}
		if len(page) == 0 || page[0].OSeq != next+1 {
			return fmt.Errorf("%w: entry %d of %s is missing", ErrDamaged, next+1, origin)
		}
		err = l.view(func(tx *bolt.Tx) error {
			for _, e := range page {
				if err := auditOne(tx, e); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			return err
		}
		next += uint64(len(page))
	}
	return nil
}

func auditOne(tx *bolt.Tx, e Entry) error {
	made, err := tlog.StoredHashes(int64(e.OSeq-1), e.Leaf, treeOf(tx, e.Origin))
	if err != nil {
		return err
	}
	first := tlog.StoredHashIndex(0, int64(e.OSeq-1))
	tree := tx.Bucket([]byte(inTree.String()))
	for i, h := range made {
		if !bytes.Equal(tree.Get(originKey(e.Origin, uint64(first+int64(i)))), h[:]) {
			return fmt.Errorf("%w: entry %d, number %d of %s, is not what was hashed", ErrDamaged, e.Seq, e.OSeq, e.Origin)
		}
	}
	return nil
}

// Inspect holds every checkpoint that the ledger keeps, and others that are known, against its trees as they are now. The
// error is an [*evidence.Mismatch] for the first that does not fit. Keys are this node's own. The trees are read, and the
// entries are not: [Ledger.Check] holds those against the trees.
func (l *Ledger) Inspect(ctx context.Context, others []evidence.Kept, keys ...string) error {
	if err := evidence.Inspect(others, l, keys...); err != nil {
		return err
	}
	for from := uint64(1); ; {
		if err := ctx.Err(); err != nil {
			return err
		}
		page, err := l.Checkpoints(from, auditPage)
		if err != nil || len(page) == 0 {
			return err
		}
		kept := make([]evidence.Kept, len(page))
		for i, c := range page {
			kept[i] = c.Kept
		}
		if err := evidence.Inspect(kept, l, keys...); err != nil {
			return err
		}
		from = page[len(page)-1].Position + 1
	}
}
