package forecast

import (
	"cmp"
	"slices"
	"time"

	"github.com/pottrail/pottrail/tracker/timetable"
)

// Question is where a pot is, and what its time in fixative may be.
type Question struct {
	Place string    // where it is
	At    time.Time // now, in whole seconds; or when it will be there
	There time.Time // from when it has been there: what was there by a cut-off is loaded with that run; zero: At
	To    string    // the laboratory place that it must go to; "" for any that has a run
	First time.Time // when its first piece went into fixative: the longest fixation counts from it
	Last  time.Time // when its last piece did: the shortest counts from it
	Min   time.Duration
	Max   time.Duration // of the window, both allowed themselves; 0 sets none
	Until time.Time     // nothing later is considered
}

// Option is one run that a pot can go with.
type Option struct {
	Run     string    `json:"run"`
	Place   string    `json:"place"`
	Arrives time.Time `json:"arrives"` // earliest, at the place of the run
	Cutoff  time.Time `json:"cutoff"`
	Load    time.Time `json:"load"`
	Leaves  time.Time `json:"leaves_formalin"`
	// Departs is the last departure from where it is by which it still makes the cut-off, and Round whose it is. Where it
	// needs no round it is when the run is loaded, and Round is "".
	Departs  time.Time     `json:"last_departure"`
	Round    string        `json:"round,omitzero"`
	Shortest time.Duration `json:"-"` // in fixative, of the last piece in
	Longest  time.Duration `json:"-"` // of the first
}

// Inside reports whether the option keeps every piece inside the window.
func (q *Question) Inside(o Option) bool {
	return (q.Min == 0 || o.Shortest >= q.Min) && (q.Max == 0 || o.Longest <= q.Max)
}

// Remedy is what would keep a pot inside when no run of the timetable does.
type Remedy string

// The remedies, in the order in which they are offered.
const (
	BringByHand Remedy = "bring by hand" // to Place by By, for Run
	AskForRun   Remedy = "ask for a run" // Run, whose cut-off is By, on a day on which it does not go
	EndByHand   Remedy = "end by hand"   // take it out of fixative by By, not before From; brought to Place by hand, if one is named
)

// Idea is one such remedy.
type Idea struct {
	Remedy Remedy    `json:"remedy"`
	Run    string    `json:"run,omitzero"`
	Place  string    `json:"place,omitzero"`
	From   time.Time `json:"from,omitzero"`
	By     time.Time `json:"by"`
}

// Answer is what is to come for a pot in fixative.
type Answer struct {
	Known   bool      // there is a way and a run; without, nothing is said
	Planned Option    // the first run whose cut-off it makes by the first departures
	Inside  []Option  // every run that keeps it inside, in order; Planned may be among them
	Last    time.Time // the last departure that keeps it inside; zero: none does
	Round   string    // of Last; "" when it only has to be loaded then
	Ideas   []Idea    // what else would, when no run does
	Changes time.Time // the first instant at which time alone can change this; zero: never
	Doubt   string    // a calendar that ends, so that later days are not known: a sentence, or ""
}

// Fixation says which run a pot makes, and which would keep it inside its window.
func (n *Network) Fixation(q Question) Answer {
	place, known := n.index[q.Place]
	if !known || len(n.runs) == 0 {
		return Answer{}
	}
	s := &search{n: n, end: q.Until}
	arrive := s.arrivals(place, q.At)
	a := Answer{Changes: s.changes(place, q.At)}
	for i := range n.runs {
		r := &n.runs[i]
		if q.To != "" && !n.within(q.To, r.place) || arrive[r.place].IsZero() {
			continue
		}
		arrives := arrive[r.place]
		if n.house(place, r.place) && !q.There.IsZero() && q.There.Before(q.At) {
			arrives = q.There
		}
		s.occurs(r, arrives, true, func(o Option) {
			if o.Load.Before(q.At) {
				return // it was not loaded with that
			}
			o.Arrives = arrives
			q.measure(&o)
			if !a.Known || o.Cutoff.Before(a.Planned.Cutoff) || o.Cutoff.Equal(a.Planned.Cutoff) && o.Leaves.Before(a.Planned.Leaves) {
				a.Known, a.Planned = true, o
			}
			if q.Inside(o) {
				a.Inside = append(a.Inside, o)
			}
		})
	}
	slices.SortFunc(a.Inside, func(x, y Option) int {
		return cmp.Or(x.Cutoff.Compare(y.Cutoff), x.Leaves.Compare(y.Leaves), cmp.Compare(x.Run, y.Run))
	})
	s.departures(&a.Planned, place, q.At, a.Known)
	for i := range a.Inside {
		s.departures(&a.Inside[i], place, q.At, true)
		if o := a.Inside[i]; o.Departs.After(a.Last) {
			a.Last, a.Round = o.Departs, o.Round
		}
	}
	if a.Known && len(a.Inside) == 0 {
		a.Ideas = s.ideas(q, place, arrive)
		for _, idea := range a.Ideas {
			a.Changes = sooner(a.Changes, idea.By.Add(time.Second))
		}
	}
	for _, o := range append([]Option{a.Planned}, a.Inside...) {
		if a.Known && n.house(place, n.index[o.Place]) { // it only has to be loaded
			a.Changes = sooner(a.Changes, o.Load.Add(time.Second))
		}
	}
	a.Doubt = s.doubt
	return a
}

func (q *Question) measure(o *Option) {
	o.Shortest, o.Longest = o.Leaves.Sub(q.Last), o.Leaves.Sub(q.First)
}

// within reports whether a place is in the house of the laboratory that is asked for.
func (n *Network) within(to string, place int) bool {
	i, ok := n.index[to]
	return ok && n.house(i, place)
}

// house reports whether a thing at a place can be handed to another within the house.
func (n *Network) house(place, other int) bool { return slices.Contains(n.near[place], other) }

// departures notes the last departure for an option.
func (s *search) departures(o *Option, place int, t time.Time, known bool) {
	if !known {
		return
	}
	to := s.n.index[o.Place]
	if s.n.house(place, to) {
		o.Departs = o.Load
		return
	}
	o.Departs, o.Round = s.lastFrom(place, t, to, o.Cutoff)
}

// occurs gives a run's occurrences with a cut-off from t on, of the timetable or, if scheduled is false, on all other days.
func (s *search) occurs(r *run, t time.Time, scheduled bool, yield func(Option)) {
	c := r.Calendar
	for day := 0; ; day++ {
		noon := c.AddDays(c.At(t, timetable.Midnight/2), day)
		cutoff := c.At(noon, r.Cutoff)
		if cutoff.After(s.end) {
			return
		}
		if cutoff.Before(t) || s.goes(c, r.Days, r.Daily, noon) != scheduled {
			continue
		}
		out := c.AddDays(noon, r.nights)
		yield(Option{Run: r.Key, Place: r.Run.Place, Cutoff: cutoff, Load: c.At(noon, r.Load), Leaves: c.At(out, r.Leaves)})
	}
}

// tooLateFor is the laboratory place that something must be brought to by hand, since no round has it there by an instant; ""
// when one has.
func (s *search) tooLateFor(to string, by time.Time, arrive []time.Time) (place string) {
	for i := range s.n.places {
		p := &s.n.places[i]
		if p.Kind != Laboratory || to != "" && !s.n.within(to, i) {
			continue
		}
		if !arrive[i].IsZero() && !arrive[i].After(by) {
			return ""
		}
		if place == "" || p.Key == to {
			place = p.Key
		}
	}
	return place
}

// ideas looks for what would keep a pot inside although no run that it makes does.
func (s *search) ideas(q Question, place int, arrive []time.Time) []Idea {
	var hand, extra *Idea
	for i := range s.n.runs {
		r := &s.n.runs[i]
		if q.To != "" && !s.n.within(q.To, r.place) {
			continue
		}
		s.occurs(r, q.At, true, func(o Option) {
			if q.measure(&o); !s.n.house(place, r.place) && q.Inside(o) && (hand == nil || o.Cutoff.After(hand.By)) {
				hand = &Idea{Remedy: BringByHand, Run: o.Run, Place: o.Place, By: o.Cutoff}
			}
		})
		if arrive[r.place].IsZero() {
			continue
		}
		s.occurs(r, arrive[r.place], false, func(o Option) {
			if q.measure(&o); q.Inside(o) && (extra == nil || o.Cutoff.Before(extra.By)) {
				extra = &Idea{Remedy: AskForRun, Run: o.Run, Place: o.Place, By: o.Cutoff}
			}
		})
	}
	var ideas []Idea
	for _, idea := range []*Idea{hand, extra} {
		if idea != nil {
			ideas = append(ideas, *idea)
		}
	}
	if q.Max > 0 {
		if by := q.First.Add(q.Max); !by.Before(q.At) {
			idea := Idea{Remedy: EndByHand, By: by, Place: s.tooLateFor(q.To, by, arrive)}
			if q.Min > 0 {
				idea.From = q.Last.Add(q.Min)
			}
			ideas = append(ideas, idea)
		}
	}
	return ideas
}
