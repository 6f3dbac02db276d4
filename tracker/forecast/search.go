package forecast

import (
	"time"

	"github.com/pottrail/pottrail/tracker/timetable"
)

// search is one look over the network. Nothing is considered after end.
type search struct {
	n     *Network
	end   time.Time
	doubt string // why something is not known, once it is met
}

// arrivals are the earliest instants at which a thing that stands at a place is taken in at each place; zero: never.
// Departing later never arrives earlier, so the earliest at each place is all that matters.
func (s *search) arrivals(place int, t time.Time) []time.Time {
	at := make([]time.Time, len(s.n.places))
	done := make([]bool, len(at))
	at[place] = t
	for {
		next := -1
		for i := range at {
			if !done[i] && !at[i].IsZero() && (next < 0 || at[i].Before(at[next])) {
				next = i
			}
		}
		if next < 0 {
			return at
		}
		done[next] = true
		reach := func(to int, t time.Time) {
			in, ok := s.takesIn(to, t)
			if ok && !in.After(s.end) && (at[to].IsZero() || in.Before(at[to])) {
				at[to] = in
			}
		}
		for _, to := range s.n.links[next] {
			reach(to, at[next])
		}
		for _, r := range s.n.from[next] {
			if departs, ok := s.next(&s.n.rounds[r], at[next]); ok {
				reach(s.n.rounds[r].to, departs.Add(s.n.rounds[r].Takes))
			}
		}
	}
}

// takesIn is when a place takes in what is at its door.
func (s *search) takesIn(place int, t time.Time) (time.Time, bool) {
	p := &s.n.places[place]
	in, ok := p.Hours.Next(t)
	if !ok && p.Calendar != nil {
		s.doubt = p.Calendar.Horizon()
	}
	return in, ok
}

// next is the first departure of a round from t on.
func (s *search) next(r *round, t time.Time) (time.Time, bool) {
	for day := 0; ; day++ {
		noon := r.Calendar.AddDays(r.Calendar.At(t, timetable.Midnight/2), day) // there is a noon every day
		first := r.Calendar.At(noon, 0)
		if first.After(s.end) {
			return time.Time{}, false
		}
		if !s.goes(r.Calendar, r.Days, r.Daily, noon) {
			continue
		}
		for _, clock := range r.Departs {
			if at := r.Calendar.At(noon, clock); !at.Before(t) {
				return at, !at.After(s.end)
			}
		}
	}
}

// goes reports whether something goes on a day.
func (s *search) goes(c *timetable.Calendar, days Days, daily bool, noon time.Time) bool {
	if !days[noon.In(c.Zone()).Weekday()] {
		return false
	}
	if daily {
		return true
	}
	if !c.Known(noon) {
		s.doubt = c.Horizon()
		return false
	}
	return !c.Shut(noon)
}

// lastFrom is the last departure from the house of a place, from t on, by which a thing still is at another place by an
// instant, and its round; zero: there is none.
func (s *search) lastFrom(place int, t time.Time, to int, by time.Time) (last time.Time, key string) {
	for _, near := range s.n.near[place] {
		ready := t
		if near != place {
			in, ok := s.takesIn(near, t)
			if !ok {
				continue
			}
			ready = in
		}
		for _, r := range s.n.from[near] {
			one := &s.n.rounds[r]
			departs, ok := s.lastOf(one, ready, to, by)
			if ok && (departs.After(last) || departs.Equal(last) && one.Key < key) {
				last, key = departs, one.Key
			}
		}
	}
	return last, key
}

// lastOf is the last departure of a round, from t on, that arrives elsewhere by an instant: looked for from behind.
func (s *search) lastOf(r *round, t time.Time, to int, by time.Time) (time.Time, bool) {
	for day := 0; ; day-- {
		noon := r.Calendar.AddDays(r.Calendar.At(by, timetable.Midnight/2), day)
		if r.Calendar.AddDays(r.Calendar.At(noon, 0), 1).Before(t) {
			return time.Time{}, false
		}
		if !s.goes(r.Calendar, r.Days, r.Daily, noon) {
			continue
		}
		for i := len(r.Departs) - 1; i >= 0; i-- {
			departs := r.Calendar.At(noon, r.Departs[i])
			if departs.Before(t) || departs.Add(r.Takes).After(by) {
				continue
			}
			in, ok := s.takesIn(r.to, departs.Add(r.Takes))
			if !ok || in.After(by) {
				continue
			}
			if at := s.arrivals(r.to, in)[to]; !at.IsZero() && !at.After(by) {
				return departs, true
			}
		}
	}
}

// changes is the first instant after t at which a thing that has not moved may have missed something: a departure from its
// house, or a door there that closes.
func (s *search) changes(place int, t time.Time) time.Time {
	var first time.Time
	for _, near := range s.n.near[place] {
		ready := t
		if near != place {
			if closes, ok := s.n.places[near].Hours.Closes(t); ok {
				first = sooner(first, closes)
			}
			in, ok := s.takesIn(near, t)
			if !ok {
				continue
			}
			ready = in
		}
		for _, r := range s.n.from[near] {
			if departs, ok := s.next(&s.n.rounds[r], ready); ok {
				first = sooner(first, departs.Add(time.Second))
			}
		}
	}
	return first
}

// sooner is the earlier of two instants, zero being never.
func sooner(a, b time.Time) time.Time {
	if a.IsZero() || !b.IsZero() && b.Before(a) {
		return b
	}
	return a
}
