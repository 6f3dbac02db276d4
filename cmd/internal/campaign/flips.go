package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/examine"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
)

// life writes a ledger of some cases, recorded as they happen and judged again as time goes by, and says how many events
// it holds. Then, if not nil, is called after each.
func life(path string, seed uint64, cases int, then func(l *store.Ledger, entries int, at time.Time) error) (entries int, err error) {
	l, err := store.Open(path, store.Options{Origin: storetest.Origin, MapSize: 1 << 20})
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, l.Close()) }()
	for _, e := range storetest.Life(seed, cases) {
		if _, err := l.TakeSerials(e.Clinic, 26, 1); err != nil {
			return 0, err
		}
		if _, err := l.Recheck(e.At, 10); err != nil {
			return 0, err
		}
		verdicts, err := l.Record(e.At.Add(time.Minute), storetest.Intakes(e))
		if err != nil {
			return 0, err
		}
		if !verdicts[0].OK {
			return 0, fmt.Errorf("event %s was refused: %w", e.ID, verdicts[0].Error)
		}
		if entries++; then == nil {
			continue
		}
		if err := then(l, entries, e.At.Add(time.Minute)); err != nil {
			return 0, err
		}
	}
	return entries, l.MarkStopped()
}

// damaged is a ledger's file that is spoiled and mended again and again.
type damaged struct {
	o       options
	path    string
	whole   []byte
	digest  string
	entries int
}

func newDamaged(ctx context.Context, o options) (*damaged, error) {
	d := &damaged{o: o, path: filepath.Join(o.folder, "ledger.db")}
	var err error
	if d.entries, err = life(d.path, o.seed, 10, nil); err != nil {
		return nil, err
	}
	if d.whole, err = os.ReadFile(d.path); err != nil {
		return nil, err
	}
	ok := false
	if d.digest, ok, err = digest(ctx, o, d.path); err != nil || !ok {
		return nil, fmt.Errorf("the undamaged ledger cannot be read: %w", err)
	}
	r, err := d.examine(ctx, false)
	if err == nil && !r.Well() {
		err = fmt.Errorf("the undamaged ledger is not well: %+v", r.Findings)
	}
	return d, err
}

func (d *damaged) examine(ctx context.Context, noHashes bool) (*examine.Report, error) {
	return examine.Run(ctx, d.o.self(examine.Hidden), examine.Job{Ledger: d.path, NoHashes: noHashes}, nil)
}

// harm reports whether a reader of the file would meet anything else than before, or nothing.
func (d *damaged) harm(ctx context.Context) (bool, error) {
	sum, ok, err := digest(ctx, d.o, d.path)
	return !ok || sum != d.digest, err
}

// tally counts what came of spoiling a file.
type tally struct {
	harmful, unnoticed, harmless, overtold, crashes, control int
	parts                                                    map[string]int
	first                                                    string // the first that was not noticed
}

// judge looks at the spoiled file and counts.
func (d *damaged) judge(ctx context.Context, t *tally, what string, control bool) error {
	harm, err := d.harm(ctx)
	if err != nil {
		return err
	}
	r, err := d.examine(ctx, false)
	if err != nil {
		return err
	}
	if r.Crashed {
		t.crashes++
	}
	switch {
	case !harm && r.Well():
		t.harmless++
	case !harm:
		t.overtold++
	default:
		t.harmful++
		if r.Well() {
			t.unnoticed++
			if t.first == "" {
				t.first = what
			}
			return nil
		}
		t.parts[partOf(r)]++
	}
	if !harm || !control {
		return nil
	}
	if r, err = d.examine(ctx, true); err != nil {
		return err
	}
	if r.Well() {
		t.control++
	}
	return nil
}

// partOf is where the first thing that is wrong was found.
func partOf(r *examine.Report) string {
	switch {
	case r.Crashed:
		return "crash"
	case len(r.Troubles) > 0:
		return "opening"
	}
	return string(r.Findings[0].Part)
}

func (t *tally) result(d *damaged) result {
	out := result{Acknowledged: d.entries, Stored: d.entries, Lost: t.unnoticed, Control: t.control}
	var parts []string
	for _, p := range slices.Sorted(maps.Keys(t.parts)) {
		parts = append(parts, fmt.Sprintf("%s %d", p, t.parts[p]))
	}
	out.Note = fmt.Sprintf("%d KiB: harmful %d, all but %d found (%s); harmless %d, told of all the same %d; reader crashed %d times, its parent never",
		len(d.whole)>>10, t.harmful, t.unnoticed, strings.Join(parts, ", "), t.harmless, t.overtold, t.crashes)
	if t.first != "" {
		out.Wrong = "not found: " + t.first
	}
	return out
}

// flips changes one bit at a time. The control leaves the hashes of entries out, and must miss something.
func flips(ctx context.Context, o options) (result, error) {
	d, err := newDamaged(ctx, o)
	if err != nil {
		return result{}, err
	}
	t := &tally{parts: map[string]int{}}
	r := rand.New(rand.NewPCG(o.seed, 1))
	file, err := os.OpenFile(d.path, os.O_RDWR, 0)
	if err != nil {
		return result{}, err
	}
	defer func() { _ = file.Close() }()
	words := stations(d.whole)
	for i := range o.cycles {
		at, bit := r.IntN(len(d.whole)), r.IntN(8)
		if i%10 == 0 { // what nothing is derived from: hashes alone can find it
			at, bit = words[r.IntN(len(words))], 0
		}
		if _, err := file.WriteAt([]byte{d.whole[at] ^ 1<<bit}, int64(at)); err != nil {
			return result{}, err
		}
		if err := d.judge(ctx, t, fmt.Sprintf("bit %d of byte %d", bit, at), true); err != nil {
			return result{}, err
		}
		if _, err := file.WriteAt(d.whole[at:at+1], int64(at)); err != nil {
			return result{}, err
		}
	}
	return t.result(d), nil
}

// stations finds where an event says at which station it was recorded.
func stations(file []byte) (at []int) {
	word := []byte(`"station":"`)
	for from := 0; ; {
		i := bytes.Index(file[from:], word)
		if i < 0 {
			return at
		}
		from += i + len(word)
		at = append(at, from)
	}
}

// cuts takes the end off. The control leaves the file whole, and must be well: else everything would be found always.
func cuts(ctx context.Context, o options) (result, error) {
	d, err := newDamaged(ctx, o)
	if err != nil {
		return result{}, err
	}
	t := &tally{parts: map[string]int{}}
	r := rand.New(rand.NewPCG(o.seed, 2))
	for range o.cycles {
		length := r.IntN(len(d.whole))
		if err := os.WriteFile(d.path, d.whole[:length], 0o600); err != nil {
			return result{}, err
		}
		if err := d.judge(ctx, t, fmt.Sprintf("cut after %d bytes", length), false); err != nil {
			return result{}, err
		}
	}
	return d.unspoiled(ctx, t)
}
