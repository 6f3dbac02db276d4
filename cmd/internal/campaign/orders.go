package main

import (
	"cmp"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"time"

	"github.com/go-json-experiment/json"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
	"github.com/pottrail/pottrail/tracker"
)

// digestOf is a hash of judgements, by name.
func digestOf(all []tracker.Judgement) ([32]byte, error) {
	slices.SortFunc(all, func(a, b tracker.Judgement) int { return cmp.Compare(a.Summary.Name, b.Summary.Name) })
	text, err := json.Marshal(all, json.Deterministic(true))
	return sha256.Sum256(text), err
}

// judgeAll judges everything that events are about.
func judgeAll(list []*tracker.Event, rules func(clinic string) *tracker.Rules, now time.Time) ([]tracker.Judgement, error) {
	filed := tracker.File(list)
	var all []tracker.Judgement
	for n := range filed {
		gathered, err := tracker.Gather(n, func(n tracker.Name) ([]*tracker.Event, error) { return filed[n], nil })
		if err != nil {
			return nil, err
		}
		all = append(all, tracker.Judge(n, gathered, rules(n.Clinic()), now))
	}
	return all, nil
}

// throughLedger records events in an order, in batches of any size, and hashes what the ledger says of everything.
func throughLedger(path string, list []*tracker.Event, now time.Time, r *rand.Rand) (sum [32]byte, stored int, err error) {
	l, err := store.Open(path, store.Options{Origin: storetest.Origin, Cached: 1 + r.IntN(40), MapSize: 1 << 20})
	if err != nil {
		return sum, 0, err
	}
	defer func() { err = errors.Join(err, l.Close()) }()
	for len(list) > 0 {
		n := min(1+r.IntN(40), len(list))
		verdicts, err := l.Record(now, storetest.Intakes(list[:n]...))
		if err != nil {
			return sum, 0, err
		}
		for i, v := range verdicts {
			if !v.OK {
				return sum, 0, fmt.Errorf("event %s was refused: %w", list[i].ID, v.Error)
			}
		}
		list = list[n:]
	}
	var all []tracker.Judgement
	for s, err := range l.Snapshots(store.Filter{}) {
		if err != nil {
			return sum, 0, err
		}
		all = append(all, s.Judgement)
	}
	last, _ := l.Last()
	sum, err = digestOf(all)
	return sum, int(last), err
}

// mixed is a list in another order, with some of it twice.
func mixed(list []*tracker.Event, r *rand.Rand) []*tracker.Event {
	out := slices.Clone(list)
	for range r.IntN(1 + len(list)/4) {
		out = append(out, list[r.IntN(len(list))])
	}
	r.Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	return out
}

// everyLedger is how many orders are judged for each that goes through a ledger on disk.
const everyLedger = 50

// orders judges the same events in other orders, and now and then records them so. The control leaves one event out.
func orders(ctx context.Context, o options) (result, error) {
	r := rand.New(rand.NewPCG(o.seed, 12))
	rules, err := defaultRules()
	if err != nil {
		return result{}, err
	}
	var out result
	var list []*tracker.Event
	var now time.Time
	var want, wantStored [32]byte
	ledgers, histories := 0, 0
	for cycle := range o.cycles {
		if err := ctx.Err(); err != nil {
			return out, err
		}
		fresh := cycle%everyLedger == 0
		if fresh { // other events
			list = storetest.Life(o.seed+uint64(cycle), 6)
			now = list[len(list)-1].At.Add(time.Duration(r.Int64N(int64(40 * 24 * time.Hour))))
			histories++
		}
		order := mixed(list, r)
		all, err := judgeAll(order, rules, now)
		if err != nil {
			return out, err
		}
		sum, err := digestOf(all)
		if err != nil {
			return out, err
		}
		out.Acknowledged += len(list)
		out.Stored += len(list)
		if fresh {
			want = sum
			gone := r.IntN(len(list))
			all, err := judgeAll(slices.Delete(slices.Clone(list), gone, gone+1), rules, now)
			if err != nil {
				return out, err
			}
			if without, err := digestOf(all); err != nil || without != want {
				out.Control++
			}
		}
		if sum != want {
			out.Lost++
			out.Wrong = fmt.Sprintf("order %d gives other cases", cycle+1)
		}
		if !fresh && cycle%everyLedger != 1 {
			continue
		}
		sum, stored, err := throughLedger(filepath.Join(o.folder, fmt.Sprintf("%d.db", cycle)), order, now, r)
		if err != nil {
			return out, err
		}
		ledgers++
		out.Double += max(0, stored-len(list))
		out.Lost += max(0, len(list)-stored)
		if fresh {
			wantStored = sum
		} else if sum != wantStored {
			out.Lost++
			out.Wrong = fmt.Sprintf("order %d gives other cases in a ledger", cycle+1)
		}
	}
	out.Note = fmt.Sprintf("%d histories; %d orders recorded in ledgers too", histories, ledgers)
	return out, nil
}
