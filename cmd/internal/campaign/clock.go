package main

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"time"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

func defaultRules() (func(clinic string) *tracker.Rules, error) {
	rules, err := tracker.NewRules(protocol.Default(), time.LoadLocation)
	return func(string) *tracker.Rules { return rules }, err
}

// steps are how far a clock is set at once: by hand, by a time server, by an hour of summer time, by an empty battery.
func steps() []time.Duration {
	const year = 365 * 24 * time.Hour
	return []time.Duration{time.Hour, -time.Hour, 3 * time.Hour, -3 * time.Hour, 40 * time.Second, -40 * time.Second, 26 * time.Hour, -26 * time.Hour, 10 * year, -10 * year, 0}
}

// flagsOf are flags by what they are on.
type flagOn struct {
	kind tracker.FlagKind
	item tracker.Name
	of   tracker.Name
}

// told follows the log of flags.
type told struct {
	open map[flagOn]bool
	next uint64
}

// follow reads on, and says what was raised twice or cleared for nothing.
func (t *told) follow(l *store.Ledger) error {
	for {
		rows, err := l.FlagChanges(t.next, 0)
		if err != nil || len(rows) == 0 {
			return err
		}
		for _, row := range rows {
			at := flagOn{row.Flag.Kind, row.Flag.Item, row.Flag.Case}
			if row.Seq != t.next || t.open[at] != (row.Change != events.ChangeRaised) {
				return fmt.Errorf("row %d of the log: %s on %s is %s, and it was open: %t", row.Seq, at.kind, at.item, row.Change, t.open[at])
			}
			t.next++
			if t.open[at] = true; row.Change == events.ChangeCleared {
				delete(t.open, at)
			}
		}
	}
}

// differs reports whether the flags that are told are not those that all events give at now.
func (t *told) differs(list []*tracker.Event, rules func(string) *tracker.Rules, now time.Time) (bool, error) {
	all, err := judgeAll(list, rules, now)
	if err != nil {
		return false, err
	}
	n := 0
	for _, j := range all {
		for _, f := range j.Findings.Flags {
			n++
			if !t.open[flagOn{f.Kind, f.Item, f.Case}] {
				return true, nil
			}
		}
	}
	return n != len(t.open), nil
}

// clocks sets the clock while a clinic works. After each step, and when the ledger has judged what is due by the new clock,
// the flags must be those of the hour. The control looks before the ledger has judged.
func clocks(ctx context.Context, o options) (result, error) {
	var out result
	rules, err := defaultRules()
	if err != nil {
		return out, err
	}
	r := rand.New(rand.NewPCG(o.seed, 13))
	l, err := store.Open(filepath.Join(o.folder, "ledger.db"), store.Options{Origin: storetest.Origin})
	if err != nil {
		return out, err
	}
	defer func() { err = errors.Join(err, l.Close()) }()
	ledger, flags := newKept(), &told{open: map[flagOn]bool{}, next: 1}
	list := storetest.Life(o.seed, 10+o.cycles/2)
	begun, took := list[0].At, list[len(list)-1].At.Sub(list[0].At)+48*time.Hour
	ahead, recorded := time.Duration(0), time.Time{}
	acknowledged := map[tracker.EventID]uint64{}
	for cycle := range o.cycles {
		right := begun.Add(took * time.Duration(cycle+1) / time.Duration(o.cycles)) // what a clock that is right says
		if all := steps(); ahead != 0 && r.IntN(2) == 0 {
			ahead = 0 // put right
		} else {
			ahead += all[r.IntN(len(all))]
		}
		now := right.Add(ahead)
		var batch []*tracker.Event
		for len(list) > 0 && !list[0].At.After(right) {
			batch, list = append(batch, list[0]), list[1:]
		}
		verdicts, err := l.Record(now, storetest.Intakes(batch...))
		if err != nil {
			return out, err
		}
		for _, v := range verdicts {
			if !v.OK {
				out.Wrong = fmt.Sprintf("an event was refused: %s", v.Error.Text)
			}
			acknowledged[tracker.EventID(v.ID)] = v.Seq
		}
		if err := errors.Join(ledger.readOn(l), flags.follow(l)); err != nil {
			return out, err
		}
		if early, err := flags.differs(ledger.events, rules, now); err != nil {
			return out, err
		} else if early {
			out.Control++
		}
		for judged := 0; ; judged++ {
			if _, err := l.Recheck(now, 64); err != nil {
				return out, err
			}
			at, ok, err := l.Due()
			if err != nil {
				return out, err
			}
			if !ok || at.After(now) {
				break
			}
			if judged > 10_000 || ctx.Err() != nil {
				return out, fmt.Errorf("it does not come to rest at %s: %w", now, ctx.Err())
			}
		}
		if err := flags.follow(l); err != nil {
			return out, err
		}
		if wrong, err := flags.differs(ledger.events, rules, now); err != nil {
			return out, err
		} else if wrong {
			out.Wrong = fmt.Sprintf("step %d, %s from the right time: the flags are not those of the hour", cycle+1, ahead)
		}
	}
	for _, e := range ledger.events {
		if e.Record.Recorded.Before(recorded) {
			out.Wrong = fmt.Sprintf("entry %d was recorded before the one before it", e.Record.Seq)
		}
		recorded = e.Record.Recorded
	}
	out.Acknowledged, out.Stored, out.Lost, out.Double = len(acknowledged), int(ledger.last), ledger.lost(acknowledged), ledger.double
	out.Note = fmt.Sprintf("%d changes of flags, none twice", flags.next-1)
	return out, l.Check()
}
