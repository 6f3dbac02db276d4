package tracker

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/pottrail/pottrail/tracker/protocol"
	"github.com/pottrail/pottrail/tracker/timetable"
)

// round is a round of the protocol made ready: when it departs from a place.
type round struct {
	key      string
	from     string
	days     [7]bool // by time.Weekday
	departs  []timetable.Clock
	calendar *timetable.Calendar
	daily    bool
}

// collectingRounds makes those rounds ready that set out from a place of the clinic: what waits in a room goes with them.
func collectingRounds(p *protocol.Protocol, calendars map[string]*timetable.Calendar) ([]round, error) {
	var rounds []round
	for key, one := range p.Rounds {
		switch p.Places[one.From].Role {
		case roleRoom, roleHatch, roleFridge:
		default:
			continue
		}
		r := round{key: key, from: one.From, daily: one.Daily}
		for _, day := range one.Days {
			r.days[weekdayOf(day)] = true
		}
		for _, text := range one.Departs {
			clock, err := timetable.ParseClock(text)
			if err != nil {
				return nil, fmt.Errorf("round %q of the protocol, line %d: %w", key, p.Line("rounds."+key), err)
			}
			r.departs = append(r.departs, clock)
		}
		slices.Sort(r.departs)
		if r.calendar = calendars[one.Calendar]; r.calendar == nil {
			r.calendar = calendars[p.Calendar]
		}
		rounds = append(rounds, r)
	}
	slices.SortFunc(rounds, func(a, b round) int { return strings.Compare(a.from, b.from) })
	return rounds, nil
}

// weekdayOf reads "mon" to "sun"; the protocol's parser has refused other words.
func weekdayOf(day string) time.Weekday {
	return time.Weekday(slices.Index([]string{"sun", "mon", "tue", "wed", "thu", "fri", "sat"}, day))
}

// roundsAhead is how far ahead a departure is looked for, in days: over any yearly closure.
const roundsAhead = 400

// next is the first departure at or after t; zero when none comes.
func (r *round) next(t time.Time) time.Time {
	for ahead := range roundsAhead {
		day := r.calendar.AddDays(r.calendar.At(t, 12*60), ahead) // noon is there every day
		if !r.days[day.In(r.calendar.Zone()).Weekday()] || !r.daily && r.calendar.Shut(day) {
			continue
		}
		for _, clock := range r.departs {
			if at := r.calendar.At(day, clock); !at.Before(t) {
				return at
			}
		}
	}
	return time.Time{}
}

// nextRound is the first departure at or after t that takes what waits in a room: of a round from that room; where none
// starts there, of one from the hatch or a fridge, since walking inside the clinic takes no time here; else of one from
// another room. Zero when the protocol has no rounds from the clinic, or none goes any more that its calendar knows of.
func (r *Rules) nextRound(room string, t time.Time) (departs time.Time, from string) {
	fits := func(place string) bool { return place == room }
	has := func() bool { return slices.ContainsFunc(r.rounds, func(one round) bool { return fits(one.from) }) }
	if !has() {
		fits = func(place string) bool { return r.role(place) != roleRoom }
	}
	if !has() {
		fits = func(string) bool { return true }
	}
	for i := range r.rounds {
		if !fits(r.rounds[i].from) {
			continue
		}
		if at := r.rounds[i].next(t); !at.IsZero() && (departs.IsZero() || at.Before(departs)) {
			departs, from = at, r.rounds[i].from
		}
	}
	return departs, from
}
