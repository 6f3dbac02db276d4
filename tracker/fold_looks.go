package tracker

import (
	"slices"
	"time"
)

// Difference is what somebody found in a bag, by opening or by counting, that is not what was packed, and that nothing
// since explains.
type Difference struct {
	Mark
	Causes []time.Time // since when the same is wrong: counts before that said it, then this one; never empty
	Giver  string      // who had the bag before, or ""
	Place  string      // of a count
	Opened bool        // else it was counted
	Extra  bool        // else something is missing
	Pots   []Name      // an opening's: those still missing, or in it though nobody packed them
	Packed int         // a count's
	Count  int
}

// compare goes through what people found, in order. A later count or an opening takes the place of a count before.
func (f *bagFolding) compare() {
	var missed []*bagPot // by an opening before
	var short, extra *Difference
	chain := func(before *Difference, l *look) []time.Time {
		if before == nil {
			return []time.Time{l.event.When()}
		}
		return append(slices.Clone(before.Causes), l.event.When())
	}
	stands := func(d *Difference) {
		if d != nil {
			f.b.Differences = append(f.b.Differences, *d)
		}
	}
	for i, l := range f.looks {
		gone, strange, packed, fits := f.judge(l)
		wasShort, wasExtra := short, extra
		short, extra = nil, nil
		switch {
		case fits && !l.open:
		case !l.open && l.count < len(packed):
			if !l.accounted(packed, f.looks[i+1:]) {
				short = &Difference{Mark: mark(l.event), Causes: chain(wasShort, l), Giver: l.giver, Place: l.place, Packed: len(packed), Count: l.count}
			}
		case !l.open:
			extra = &Difference{Mark: mark(l.event), Causes: chain(wasExtra, l), Giver: l.giver, Place: l.place, Extra: true, Packed: len(packed), Count: l.count}
		default:
			strange = slices.DeleteFunc(strange, func(p *bagPot) bool { return slices.Contains(missed, p) })
			missed = append(missed, gone...)
			stands(l.opening(gone, chain(wasShort, l), false))
			stands(l.opening(strange, chain(wasExtra, l), true))
		}
	}
	stands(short)
	stands(extra)
}

// opening is what an opening found to differ and of which nobody has seen anything since, or nil.
func (l *look) opening(pots []*bagPot, causes []time.Time, extra bool) *Difference {
	d := &Difference{Mark: mark(l.event), Causes: causes, Giver: l.giver, Opened: true, Extra: extra}
	seen := seenSince(pots, l)
	for _, p := range pots {
		if !slices.Contains(seen, p) {
			d.Pots = append(d.Pots, p.name)
		}
	}
	if len(d.Pots) == 0 {
		return nil
	}
	return d
}

// seenSince lists the pots of which there is a sign after somebody looked, or, by another station's clock, a moment before.
func seenSince(pots []*bagPot, l *look) []*bagPot {
	var seen []*bagPot
	for _, p := range pots {
		if slices.ContainsFunc(p.seen, func(s sighting) bool { return s.n > l.n || nearby(s.event, l.event) && s.event != p.packed }) {
			seen = append(seen, p)
		}
	}
	return seen
}

// accounted reports whether pots that a count missed were seen since: as many as were missing elsewhere than the bag, or
// every one. The next look at the bag speaks for itself.
func (l *look) accounted(packed []*bagPot, later []*look) bool {
	elsewhere, seen := 0, 0
	for _, p := range packed {
		since := func(s sighting) bool { return s.n > l.n && (len(later) == 0 || s.n < later[0].n) }
		if slices.ContainsFunc(p.seen, since) {
			seen++
		}
		if slices.ContainsFunc(p.seen, func(s sighting) bool { return since(s) && s.elsewhere }) {
			elsewhere++
		}
	}
	return elsewhere >= len(packed)-l.count || seen == len(packed)
}

// mostClose bounds how many events about a moment are tried in either order.
const mostClose = 5

// judge compares what somebody found with what was packed. Where other stations' events lie so close that the clocks cannot
// order them, each is tried before and after, and what fits best counts.
func (f *bagFolding) judge(l *look) (gone, strange, packed []*bagPot, fits bool) {
	var close []*Event
	for _, p := range f.pots {
		for _, m := range p.moves {
			if m.event.Station != l.event.Station && m.event.When().Sub(l.event.When()).Abs() <= StationClocks &&
				!slices.Contains(close, m.event) && len(close) < mostClose {
				close = append(close, m.event)
			}
		}
	}
	least := -1
	for tried := range 1 << len(close) {
		var in, perhaps []*bagPot
		for i, p := range f.pots {
			state := l.state[i]
			for _, m := range p.moves {
				at := slices.Index(close, m.event)
				switch {
				case at < 0 || tried>>at&1 == 0:
				case m.n < l.n:
					state = m.from
				default:
					state = m.to
				}
			}
			switch state {
			case inside:
				in = append(in, p)
			case maybe:
				perhaps = append(perhaps, p)
			}
		}
		missing, more, wrong := l.differs(in, perhaps)
		if least < 0 || wrong < least {
			gone, strange, packed, least = missing, more, in, wrong
		}
	}
	return gone, strange, packed, least == 0
}

// differs says how far what was found is from what should be there: by how many pots, and which.
func (l *look) differs(in, perhaps []*bagPot) (missing, more []*bagPot, wrong int) {
	if !l.open {
		switch {
		case l.count < len(in):
			return nil, nil, len(in) - l.count
		case l.count > len(in)+len(perhaps):
			return nil, nil, l.count - len(in) - len(perhaps)
		}
		return nil, nil, 0
	}
	for _, p := range in {
		if !slices.Contains(l.found, p) {
			missing = append(missing, p)
		}
	}
	for _, p := range l.found {
		if !slices.Contains(in, p) && !slices.Contains(perhaps, p) {
			more = append(more, p)
		}
	}
	return missing, more, len(missing) + len(more)
}
