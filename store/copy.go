package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/boltfile"
)

// ErrCopy says that a copy of a ledger is not what it was made of.
var ErrCopy = errors.New("the copy is not what the ledger was")

// Contents is what a ledger held at one transaction; a copy must hold the same.
type Contents struct {
	Format   int          `json:"format"` // of the file
	Fold     int          `json:"fold"`   // of what is derived in it
	Origin   string       `json:"origin"` // of the node whose ledger it is
	Entries  uint64       `json:"entries"`
	Recorded time.Time    `json:"recorded,omitzero"` // when the last one was recorded
	Roots    []Checkpoint `json:"roots"`             // of every origin, by name
}

// Copy writes the ledger, as it is at one transaction, to a new file at path that only its owner can read, and says what
// is in it. Recording goes on meanwhile; until it returns, pages that are given up stay in the ledger's file, so path
// should be on a local disk. Progress, if not nil, is told how many bytes are written. The copy is on disk when Copy
// returns and not yet looked at: see [CheckCopy]. A file that is there is an error; one
// that was not finished, because the context ended too, is removed.
func (l *Ledger) Copy(ctx context.Context, path string, progress func(done, total int64)) (Contents, error) {
	var out Contents
	if l.HalfBuilt() {
		return out, fmt.Errorf("copy ledger %s: %w", l.path, ErrHalfBuilt)
	}
	err := l.view(func(tx *bolt.Tx) (err error) {
		out, err = copyOut(ctx, tx, path, l.options.Reserve, progress)
		return err
	})
	if err != nil {
		return Contents{}, fmt.Errorf("copy ledger %s: %w", l.path, err)
	}
	return out, nil
}

// CopyFile is [Ledger.Copy] of a ledger that nobody has open. The file is read and never changed.
func CopyFile(ctx context.Context, from, path string, o Options, progress func(done, total int64)) (Contents, error) {
	var out Contents
	err := readOnly(from, o, func(tx *bolt.Tx) (err error) {
		if tx.Bucket([]byte(inMeta.String())).Get([]byte(metaBuilding)) != nil {
			return ErrHalfBuilt
		}
		out, err = copyOut(ctx, tx, path, o.Reserve, progress)
		return err
	})
	if err != nil {
		return Contents{}, fmt.Errorf("copy ledger %s: %w", from, err)
	}
	return out, nil
}

// readOnly reads a closed ledger, without changing a byte of it.
func readOnly(path string, o Options, fn func(tx *bolt.Tx) error) error {
	o = o.withDefaults()
	b := o.bolt()
	b.ReadOnly, b.MaxSize, b.InitialMmapSize = true, 0, 0
	db, err := boltfile.Open(path, b)
	switch {
	case errors.Is(err, boltfile.ErrInUse):
		return ErrInUse
	case errors.Is(err, boltfile.ErrForeign):
		return fmt.Errorf("%w (%w)", ErrForeign, err)
	case err != nil:
		return err
	}
	err = boltfile.View(db, func(tx *bolt.Tx) error {
		if err := checkFormat(tx); err != nil {
			return err
		}
		return fn(tx)
	})
	return errors.Join(err, db.Close())
}

// contentsOf reads what a ledger holds; the roots come from the tree as it is stored.
func contentsOf(tx *bolt.Tx) (Contents, error) {
	h := readHead(tx)
	out := Contents{Format: h.format, Fold: int(h.fold), Origin: h.origin, Entries: lastSeq(tx), Roots: []Checkpoint{}}
	if leaf := tx.Bucket([]byte(inEntries.String())).Get(be64(out.Entries)); leaf != nil {
		e, err := Entry{Seq: out.Entries, Leaf: leaf}.Event()
		if err != nil {
			return out, fmt.Errorf("%w: entry %d: %w", ErrDamaged, out.Entries, err)
		}
		out.Recorded = e.Record.Recorded
	}
	runs, err := readRuns(tx, out.Entries)
	if err != nil {
		return out, err
	}
	origins := make([]string, len(runs))
	for i, r := range runs {
		origins[i] = r.origin
	}
	slices.Sort(origins)
	for _, origin := range slices.Compact(origins) {
		c, err := checkpoint(tx, origin)
		if err != nil {
			return out, err
		}
		out.Roots = append(out.Roots, c)
	}
	return out, nil
}

// copyOut writes what a transaction sees to a new file.
func copyOut(ctx context.Context, tx *bolt.Tx, path string, reserve int64, progress func(done, total int64)) (out Contents, err error) {
	if out, err = contentsOf(tx); err != nil {
		return out, err
	}
	if free, ok := freeBytes(path); ok && free < tx.Size()+reserve {
		return out, fmt.Errorf("%w: the copy in %s takes %d MiB, %d MiB are kept in reserve, and %d MiB are free", ErrNoSpace,
			filepath.Dir(path), mebibytes(tx.Size()), reserve>>20, free>>20)
	}
	file, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return out, err
	}
	_, err = tx.WriteTo(&counted{ctx: ctx, file: file, total: tx.Size(), progress: progress})
	if err = errors.Join(err, file.Sync(), file.Close()); err == nil {
		return out, nil
	}
	if boltfile.Full(err) {
		err = fmt.Errorf("%w: %w", ErrNoSpace, err)
	}
	return out, errors.Join(err, os.Remove(path))
}

func mebibytes(n int64) int64 { return (n + 1<<20 - 1) >> 20 }

// counted is a file that tells how much was written to it.
type counted struct {
	ctx         context.Context // of the one copy that this is for
	file        *os.File
	done, total int64
	progress    func(done, total int64)
}

// Write writes to the file.
func (c *counted) Write(b []byte) (int, error) {
	if err := c.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := c.file.Write(b)
	if c.done += int64(n); c.progress != nil {
		c.progress(c.done, c.total)
	}
	return n, err
}
