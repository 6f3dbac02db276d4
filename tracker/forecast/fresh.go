package forecast

import (
	"slices"
	"time"
)

// Start is when fresh tissue can be started at its bench.
type Start struct {
	Known    bool      // there is a bench for the study and a way to it
	Earliest time.Time // at which it can be started, in the bench's own hours
	Bench    string
	// Last is the last departure from where it is by which it is started by the limit, and Round whose it is; where it is in
	// the laboratory already, the last instant of the bench's hours by the limit. Zero: there is none.
	Last    time.Time
	Round   string
	Changes time.Time // the first instant at which time alone can change this; zero: never
	Doubt   string    // a calendar that ends: a sentence, or ""
}

// Fresh says when tissue for a study that stands at a place can be started at its bench, and which is the last departure by
// which that is at the limit or before. To is the laboratory place that it must go to, or ""; nothing after until counts.
func (n *Network) Fresh(place string, at time.Time, to, study string, limit, until time.Time) Start {
	from, known := n.index[place]
	if !known {
		return Start{}
	}
	s := &search{n: n, end: until}
	arrive := s.arrivals(from, at)
	out := Start{Changes: s.changes(from, at)}
	for i := range n.benches {
		b := &n.benches[i]
		if !slices.Contains(b.Studies, study) || to != "" && !n.within(to, b.place) || arrive[b.place].IsZero() {
			continue
		}
		begins, ok := b.Hours.Next(arrive[b.place])
		if !ok {
			if b.Calendar != nil {
				s.doubt = b.Calendar.Horizon()
			}
			continue
		}
		if !out.Known || begins.Before(out.Earliest) {
			out.Known, out.Earliest, out.Bench = true, begins, b.Key
		}
		last, ok := b.lastOpen(limit)
		switch {
		case !ok:
		case n.house(from, b.place):
			if closes, ok := b.Hours.Closes(at); ok {
				out.Changes = sooner(out.Changes, closes)
			}
			if !last.Before(at) && last.After(out.Last) {
				out.Last, out.Round = last, ""
			}
		default:
			if departs, round := s.lastFrom(from, at, b.place, last); departs.After(out.Last) {
				out.Last, out.Round = departs, round
			}
		}
	}
	out.Doubt = s.doubt
	return out
}

// lastOpen is the last instant, in whole seconds and not after the limit, at which a bench is open.
func (b *bench) lastOpen(limit time.Time) (time.Time, bool) {
	if b.Hours.Open(limit) {
		return limit, true
	}
	const days = 15
	for at := limit.AddDate(0, 0, -days); ; {
		opens, ok := b.Hours.Next(at)
		if !ok || opens.After(limit) {
			return at.Add(-time.Second), at.After(limit.AddDate(0, 0, -days))
		}
		closes, ok := b.Hours.Closes(opens)
		if !ok {
			return limit, true
		}
		at = closes
	}
}
