package main

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	bolt "go.etcd.io/bbolt"
	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/cmd/internal/examine"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/events/evidence"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
)

// history is a ledger with a checkpoint every few entries, which are known beside it too.
type history struct {
	*damaged
	signed []examine.Checkpoint
	sizes  []uint64 // of the checkpoints
	key    string
}

// betweenSigned is how many entries lie between two checkpoints.
const betweenSigned = 7

// newHistory makes one. At is called after each checkpoint, while the ledger is open.
func newHistory(ctx context.Context, o options, at func(l *store.Ledger, h *history) error) (*history, error) {
	h := &history{damaged: &damaged{o: o, path: filepath.Join(o.folder, "ledger.db")}}
	secret, err := evidence.NewKey(rand.NewChaCha8([32]byte{byte(o.seed)}), storetest.Origin)
	if err != nil {
		return nil, err
	}
	signer, err := evidence.NewSigner(secret)
	if err != nil {
		return nil, err
	}
	h.key = signer.Key()
	h.entries, err = life(h.path, o.seed, 10, func(l *store.Ledger, n int, when time.Time) error {
		if n%betweenSigned != 0 {
			return nil
		}
		root, err := l.Root("")
		if err != nil {
			return err
		}
		note, err := signer.Checkpoint(root)
		if err != nil {
			return err
		}
		if _, err := l.KeepCheckpoint(when, note.Note); err != nil {
			return err
		}
		h.signed = append(h.signed, examine.Checkpoint{Where: fmt.Sprintf("checkpoints.log, position %d", len(h.signed)+1), Made: when, Note: note.Note})
		h.sizes = append(h.sizes, root.Size)
		if at != nil {
			return at(l, h)
		}
		return nil
	})
	if err == nil {
		h.whole, err = os.ReadFile(h.path)
	}
	if err != nil {
		return nil, err
	}
	r, err := h.look(ctx, examine.Job{Checkpoints: h.signed})
	if err == nil && !r.Well() {
		err = fmt.Errorf("the undamaged ledger is not well: %+v", r.Findings)
	}
	return h, err
}

func (h *history) look(ctx context.Context, job examine.Job) (*examine.Report, error) {
	job.Ledger, job.Keys = h.path, []string{h.key}
	return examine.Run(ctx, h.o.self(examine.Hidden), job, nil)
}

// swaps exchanges two pages of a file with one another. The control exchanges a page with itself, and must be well.
func swaps(ctx context.Context, o options) (result, error) {
	d, err := newDamaged(ctx, o)
	if err != nil {
		return result{}, err
	}
	t := &tally{parts: map[string]int{}}
	r := rand.New(rand.NewPCG(o.seed, 3))
	size := os.Getpagesize()
	for range o.cycles {
		a, b := r.IntN(len(d.whole)/size), r.IntN(len(d.whole)/size)
		changed := bytes.Clone(d.whole)
		copy(changed[a*size:(a+1)*size], d.whole[b*size:])
		copy(changed[b*size:(b+1)*size], d.whole[a*size:(a+1)*size])
		if err := os.WriteFile(d.path, changed, 0o600); err != nil {
			return result{}, err
		}
		if err := d.judge(ctx, t, fmt.Sprintf("pages %d and %d", a, b), false); err != nil {
			return result{}, err
		}
	}
	return d.unspoiled(ctx, t)
}

// unspoiled puts the whole file back, which must be well: else everything would be found always.
func (d *damaged) unspoiled(ctx context.Context, t *tally) (result, error) {
	if err := os.WriteFile(d.path, d.whole, 0o600); err != nil {
		return result{}, err
	}
	r, err := d.examine(ctx, false)
	if err == nil && r.Well() {
		t.control++
	}
	return t.result(d), err
}

// How far somebody goes who changes an entry.
const (
	alone           = iota // it and nothing else
	withItsHash            // and its own hash with it
	withAllHashes          // and every hash above it, so that the tree fits
	withCheckpoints        // and takes the checkpoints away that the ledger keeps since
	waysToEdit
)

// edits changes an entry and makes hashes fit, up to taking the ledger's own checkpoints away. The control looks without the
// checkpoints that are known beside the ledger, and must miss what was made to fit altogether.
func edits(ctx context.Context, o options) (result, error) {
	h, err := newHistory(ctx, o, nil)
	if err != nil {
		return result{}, err
	}
	out := result{Acknowledged: h.entries, Stored: h.entries}
	r := rand.New(rand.NewPCG(o.seed, 4))
	unnamed, exact := 0, 0
	for i := range o.cycles {
		way := i % waysToEdit
		seq := 1 + r.Uint64N(h.sizes[len(h.sizes)-1]) // what a checkpoint covers; what none does, nobody vouches for yet
		if err := os.WriteFile(h.path, h.whole, 0o600); err != nil {
			return result{}, err
		}
		if err := h.edit(seq, way); err != nil {
			return result{}, fmt.Errorf("entry %d: %w", seq, err)
		}
		report, err := h.look(ctx, examine.Job{Checkpoints: h.signed})
		if err != nil {
			return result{}, err
		}
		first, last, ok := named(report)
		switch {
		case report.Well():
			out.Lost++
			out.Wrong = fmt.Sprintf("not found: entry %d, way %d", seq, way)
		case !ok || seq < first || seq > last || last-first >= betweenSigned || way == alone && first != last:
			unnamed++
			out.Wrong = fmt.Sprintf("entry %d was changed in way %d, and named are %d to %d: %s", seq, way, first, last, report.Findings[0].Text)
		case first == last:
			exact++
		}
		if way == withCheckpoints {
			if report, err = h.look(ctx, examine.Job{NoHashes: true}); err != nil {
				return result{}, err
			}
			if !slices.ContainsFunc(report.Findings, func(f examine.Finding) bool { return f.Part == store.PartCheckpoint || f.Part == store.PartEntry }) {
				out.Control++
			}
		}
	}
	out.Note = fmt.Sprintf("first wrong entry named to within %d numbers in all but %d, to the number in %d", betweenSigned, unnamed, exact)
	return out, nil
}

// named is where the first entry lies that is not what was recorded, by what a report says.
func named(r *examine.Report) (first, last uint64, ok bool) {
	for _, f := range r.Findings {
		if f.Part != store.PartEntry && f.Part != store.PartHash && f.Part != store.PartCheckpoint {
			continue
		}
		if _, rest, found := strings.Cut(f.Text, "the numbers "); found {
			if n, err := fmt.Sscanf(rest, "%d to %d", &first, &last); n == 2 && err == nil {
				return first, last, true
			}
		}
		return f.OSeq, f.OSeq, true
	}
	return 0, 0, false
}

// edit changes a letter of who did an entry, behind everybody's back.
func (h *history) edit(seq uint64, way int) error {
	db, err := bolt.Open(h.path, 0o600, &bolt.Options{Timeout: time.Second})
	if err != nil {
		return err
	}
	err = db.Update(func(tx *bolt.Tx) error {
		entries, tree := tx.Bucket([]byte("entries")), tx.Bucket([]byte("tree"))
		key := func(origin string, n uint64) []byte { // as the ledger has it
			return append(append([]byte(origin), 0), number(n)...)
		}
		leaf := bytes.Clone(entries.Get(number(seq)))
		e, err := store.Entry{Seq: seq, Leaf: leaf}.Event()
		if err != nil {
			return err
		}
		e.Station += "x"
		leaf = events.AppendStored(nil, e)
		if err := entries.Put(number(seq), leaf); err != nil {
			return err
		}
		switch way {
		case alone:
			return nil
		case withItsHash:
			hash := tlog.RecordHash(leaf)
			return tree.Put(key(storetest.Origin, uint64(tlog.StoredHashIndex(0, int64(seq-1)))), hash[:])
		}
		total, _ := entries.Cursor().Last()
		last := numberIn(total)
		stored := tlog.HashReaderFunc(func(indexes []int64) ([]tlog.Hash, error) {
			out := make([]tlog.Hash, len(indexes))
			for i, x := range indexes {
				copy(out[i][:], tree.Get(key(storetest.Origin, uint64(x))))
			}
			return out, nil
		})
		for n := seq; n <= last; n++ {
			made, err := tlog.StoredHashes(int64(n-1), bytes.Clone(entries.Get(number(n))), stored)
			if err != nil {
				return err
			}
			from := tlog.StoredHashIndex(0, int64(n-1))
			for i, hash := range made {
				if err := tree.Put(key(storetest.Origin, uint64(from+int64(i))), hash[:]); err != nil {
					return err
				}
			}
		}
		if way == withAllHashes {
			return nil
		}
		kept := tx.Bucket([]byte("checkpoints"))
		for i, size := range slices.Backward(h.sizes) {
			if size >= seq {
				if err := kept.Delete(number(uint64(i + 1))); err != nil {
					return err
				}
			}
		}
		return nil
	})
	return errors.Join(err, db.Close())
}

// rollbacks puts an older copy of the ledger in its place. What is known beside it shows that, a line of the file or a
// printed one; the control knows nothing, and must find it well.
func rollbacks(ctx context.Context, o options) (result, error) {
	copies := map[uint64]string{}
	h, err := newHistory(ctx, o, func(l *store.Ledger, h *history) error {
		size := h.sizes[len(h.sizes)-1]
		copies[size] = filepath.Join(o.folder, fmt.Sprintf("older-%d.db", size))
		_, err := l.Copy(ctx, copies[size], nil)
		return err
	})
	if err != nil {
		return result{}, err
	}
	out := result{Acknowledged: h.entries, Stored: h.entries}
	newest, err := evidence.ReadCheckpoint(h.signed[len(h.signed)-1].Note)
	if err != nil {
		return result{}, err
	}
	sizes := slices.Sorted(maps.Keys(copies))
	sizes = sizes[:len(sizes)-1] // the last is no older one than what is known
	r := rand.New(rand.NewPCG(o.seed, 5))
	for range o.cycles {
		size := sizes[r.IntN(len(sizes))]
		data, err := os.ReadFile(copies[size])
		if err == nil {
			err = os.WriteFile(h.path, data, 0o600)
		}
		if err != nil {
			return result{}, err
		}
		for _, job := range []examine.Job{{Checkpoints: h.signed}, {Checkpoints: h.signed, Quick: true}, {Paper: newest.Short()}} {
			report, err := h.look(ctx, job)
			if err != nil {
				return result{}, err
			}
			if !slices.ContainsFunc(report.Findings, func(f examine.Finding) bool {
				return f.Part == store.PartCheckpoint && f.OSeq == size+1 && strings.Contains(f.Text, "an older copy")
			}) {
				out.Lost++
				out.Wrong = fmt.Sprintf("not found: the copy of when there were %d entries", size)
			}
		}
		report, err := h.look(ctx, examine.Job{})
		if err != nil {
			return result{}, err
		}
		if report.Well() {
			out.Control++
		}
	}
	out.Note = fmt.Sprintf("%d older copies; each shown by the lines beside, by the quick look of a start, and by a printed checkpoint, with the first entry that is missing", len(sizes))
	return out, nil
}

// number is a number as a ledger's keys have it.
func number(n uint64) []byte { return binary.BigEndian.AppendUint64(nil, n) }

func numberIn(key []byte) uint64 { return binary.BigEndian.Uint64(key) }
