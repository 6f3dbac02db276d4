package tracker

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"time"

	"github.com/pottrail/pottrail/tracker/forecast"
	"github.com/pottrail/pottrail/tracker/protocol"
	"github.com/pottrail/pottrail/tracker/timetable"
)

// networkOf makes the protocol's rounds, hours, runs and benches ready to look ahead; nil when there are none.
func networkOf(p *protocol.Protocol, calendars map[string]*timetable.Calendar) (*forecast.Network, error) {
	if len(p.Rounds) == 0 && len(p.Runs) == 0 && len(p.Benches) == 0 {
		return nil, nil
	}
	var t forecast.Timetable
	calendar := func(key string) *timetable.Calendar {
		if c := calendars[key]; c != nil {
			return c
		}
		return calendars[p.Calendar]
	}
	for _, key := range slices.Sorted(maps.Keys(p.Places)) {
		one := p.Places[key]
		place := forecast.Place{Key: key, Kind: placeKind(one.Role)}
		if one.Hours != "" {
			place.Calendar = calendar(p.Hours[one.Hours].Calendar)
			var err error
			if place.Hours, err = hoursOf(p, one.Hours, place.Calendar); err != nil {
				return nil, err
			}
		}
		t.Places = append(t.Places, place)
	}
	for _, key := range slices.Sorted(maps.Keys(p.Rounds)) {
		one := p.Rounds[key]
		departs, err := clocksOf(p, "rounds."+key, one.Departs...)
		if err != nil {
			return nil, err
		}
		t.Rounds = append(t.Rounds, forecast.Round{Key: key, From: one.From, To: one.To, Days: daysOf(one.Days), Departs: departs,
			Takes: one.Takes.Elapsed, Calendar: calendar(one.Calendar), Daily: one.Daily})
	}
	for _, key := range slices.Sorted(maps.Keys(p.Runs)) {
		one := p.Runs[key]
		clocks, err := clocksOf(p, "runs."+key, one.Cutoff, one.Load, one.Leaves)
		if err != nil {
			return nil, err
		}
		t.Runs = append(t.Runs, forecast.Run{Key: key, Place: one.Place, Days: daysOf(one.Days), Cutoff: clocks[0], Load: clocks[1], Leaves: clocks[2],
			Nights: one.Nights, Calendar: calendar(one.Calendar), Daily: one.Daily})
	}
	for _, key := range slices.Sorted(maps.Keys(p.Benches)) {
		one := p.Benches[key]
		bench := forecast.Bench{Key: key, Place: one.Place, Studies: one.Studies}
		if one.Hours != "" {
			bench.Calendar = calendar(p.Hours[one.Hours].Calendar)
			var err error
			if bench.Hours, err = hoursOf(p, one.Hours, bench.Calendar); err != nil {
				return nil, err
			}
		}
		t.Benches = append(t.Benches, bench)
	}
	t.Links = forecast.Walks(t.Places, t.Rounds)
	n, err := forecast.New(t)
	if err != nil {
		return nil, fmt.Errorf("timetable of the protocol: %w", err)
	}
	return n, nil
}

func placeKind(role string) forecast.Kind {
	switch role {
	case roleLaboratory:
		return forecast.Laboratory
	case roleVehicle:
		return forecast.Vehicle
	}
	return forecast.Clinic
}

func daysOf(keys []string) (days forecast.Days) {
	for _, key := range keys {
		days[weekdayOf(key)] = true
	}
	return days
}

func clocksOf(p *protocol.Protocol, key string, texts ...string) ([]timetable.Clock, error) {
	clocks := make([]timetable.Clock, len(texts))
	for i, text := range texts {
		var err error
		if clocks[i], err = timetable.ParseClock(text); err != nil {
			return nil, fmt.Errorf("%s of the protocol, line %d: %w", key, p.Line(key), err)
		}
	}
	return clocks, nil
}

// hoursOf makes opening hours ready.
func hoursOf(p *protocol.Protocol, key string, calendar *timetable.Calendar) (*timetable.Hours, error) {
	one := p.Hours[key]
	week, dates := map[time.Weekday][]timetable.Interval{}, map[string][]timetable.Interval{}
	for day, texts := range map[time.Weekday][]string{time.Monday: one.Mon, time.Tuesday: one.Tue, time.Wednesday: one.Wed, time.Thursday: one.Thu,
		time.Friday: one.Fri, time.Saturday: one.Sat, time.Sunday: one.Sun} {
		list, err := timetable.ParseIntervals(texts)
		if err != nil {
			return nil, fmt.Errorf("hours %q of the protocol, line %d: %w", key, p.Line("hours."+key), err)
		}
		if len(list) > 0 {
			week[day] = list
		}
	}
	for date, texts := range one.Dates {
		list, err := timetable.ParseIntervals(texts)
		if err != nil {
			return nil, fmt.Errorf("hours %q of the protocol, line %d: %w", key, p.Line("hours."+key), err)
		}
		dates[date] = list
	}
	hours, err := timetable.NewHours(calendar, week, dates)
	if err != nil {
		return nil, fmt.Errorf("hours %q of the protocol, line %d: %w", key, p.Line("hours."+key), err)
	}
	return hours, nil
}

// stands is where a pot is or will be, from when on, and since when that is known, as far as ways go: where it was scanned
// last, else the room; what is in a vehicle counts as at the end of the round that sets out from where it was before, or from
// anywhere, and leads where the pot is meant for; where none does, of the quickest one.
func (r *Rules) stands(c *Case, p *Pot) (place string, at, since time.Time, ok bool) {
	for i := len(p.Custody) - 1; i >= 0; i-- {
		held := p.Custody[i]
		if !held.Direct && held.Bag == "" && !p.HasEvents {
			continue
		}
		if r.role(held.Place) != roleVehicle {
			return held.Place, held.When, held.When, r.role(held.Place) != ""
		}
		before := ""
		if i > 0 {
			before = p.Custody[i-1].Place
		}
		place, at, ok = r.rides(before, planTo(p), held.When)
		return place, at, held.When, ok
	}
	if !p.Arrived.IsZero() {
		return "", time.Time{}, time.Time{}, false // at the laboratory, and nobody said where
	}
	return c.room(), time.Time{}, time.Time{}, r.role(c.room()) != ""
}

// planTo is the laboratory place that a pot must go to; "" for any.
func planTo(p *Pot) string {
	if p.Plan == nil {
		return ""
	}
	return p.Plan.To
}

// earlyLoading is how long before its time a vehicle may be loaded: what is scanned into it then leaves with it.
const earlyLoading = time.Hour

// setsOut is when a round sets out with what was scanned into its vehicle: at its time if that is soon, else at once.
func (r *Rules) setsOut(key string, scanned time.Time) time.Time {
	for i := range r.rounds {
		if r.rounds[i].key != key {
			continue
		}
		if departs := r.rounds[i].next(scanned); !departs.IsZero() && departs.Sub(scanned) <= earlyLoading {
			return departs
		}
	}
	return scanned
}

// rides is where and when something is that a vehicle took along.
func (r *Rules) rides(from, to string, when time.Time) (place string, at time.Time, ok bool) {
	quickest := func(fits func(protocol.Round) bool) {
		for key, one := range r.p.Rounds {
			if !fits(one) {
				continue
			}
			arrives := r.setsOut(key, when).Add(one.Takes.Elapsed)
			if !ok || arrives.Before(at) || arrives.Equal(at) && one.To < place {
				place, at, ok = one.To, arrives, true
			}
		}
	}
	toLaboratory := func(one protocol.Round) bool { return r.role(one.To) == roleLaboratory }
	fromThere := func(one protocol.Round) bool { return one.From == from && toLaboratory(one) }
	meant := func(one protocol.Round) bool { return one.To == to && toLaboratory(one) }
	for _, fits := range []func(protocol.Round) bool{
		func(one protocol.Round) bool { return fromThere(one) && meant(one) }, fromThere, meant, toLaboratory} {
		if !ok {
			quickest(fits)
		}
	}
	return place, at, ok
}

// room is where the case is done: of its last check, else of the request.
func (c *Case) room() string {
	for i := len(c.Checks) - 1; i >= 0; i-- {
		if room := c.Checks[i].Room; room != "" {
			return room
		}
	}
	return c.Request.Room
}

// door is where whoever brings something to a place of a laboratory goes: where the rounds go, if that is one place.
func (r *Rules) door(place string) string {
	door := ""
	for _, one := range r.p.Rounds {
		if r.role(one.To) != roleLaboratory {
			continue
		}
		if door != "" && door != one.To {
			return place
		}
		door = one.To
	}
	return cmp.Or(door, place)
}
