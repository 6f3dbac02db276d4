package tracker

import (
	"fmt"
	"iter"
	"time"

	"github.com/pottrail/pottrail/tracker/forecast"
	"github.com/pottrail/pottrail/tracker/protocol"
	"github.com/pottrail/pottrail/tracker/timetable"
)

// Rules is a protocol made ready for [Check]: its zone and calendar are at hand. It is immutable and may be shared.
type Rules struct {
	p         *protocol.Protocol
	zone      *time.Location
	calendar  *timetable.Calendar // the clinic's own
	calendars map[string]*timetable.Calendar
	rounds    []round           // that set out from the clinic
	staff     map[string]Roles  // whom the protocol lists, and as what
	network   *forecast.Network // nil when there is nothing to look ahead over
}

// NewRules makes a protocol ready. Zones finds a time zone by its IANA name; time.LoadLocation will do.
func NewRules(p *protocol.Protocol, zones func(name string) (*time.Location, error)) (*Rules, error) {
	zone, err := zones(p.Zone)
	if err != nil {
		return nil, fmt.Errorf("zone %q of the protocol, line %d: %w", p.Zone, p.Line("zone"), err)
	}
	calendars, err := calendarsOf(p, zone)
	if err != nil {
		return nil, err
	}
	rounds, err := collectingRounds(p, calendars)
	if err != nil {
		return nil, err
	}
	network, err := networkOf(p, calendars)
	if err != nil {
		return nil, err
	}
	return &Rules{p: p, zone: zone, calendar: calendars[p.Calendar], calendars: calendars, rounds: rounds, staff: staffOf(p), network: network}, nil
}

// Zone is the clinic's time zone.
func (r *Rules) Zone() *time.Location { return r.zone }

// Protocol is what the rules were made from; it must not be changed.
func (r *Rules) Protocol() *protocol.Protocol { return r.p }

// after is the instant that lies the span after t: elapsed, or by wall clock over calendar or working days.
func (r *Rules) after(t time.Time, s protocol.Span) time.Time { return after(r.calendar, t, s) }

// limit is one of the protocol's own limits; a protocol that parses has all of them.
func (r *Rules) limit(key string) protocol.Span { return r.p.Limits[key].Span }

// until is the instant at which a limit that starts at t runs out.
func (r *Rules) until(t time.Time, key string) time.Time { return r.after(t, r.limit(key)) }

// cite is the basis of a flag: where the rule stands in the protocol, and its published source.
func (r *Rules) cite(key string) string { return r.p.Cite(key) }

func (r *Rules) citeLimit(key string) string { return r.cite("limits." + key) }

// role is what a place is for, or "" when the protocol does not know the place.
func (r *Rules) role(place string) string { return r.p.Places[place].Role }

const (
	roleRoom       = "room"
	roleHatch      = "hatch"
	roleFridge     = "fridge"
	roleVehicle    = "vehicle"
	roleLaboratory = "laboratory"
)

// medium is what a pot held, last known: planned, then filled, then what its pieces went into.
func (c *Case) medium(p *Pot) (medium string, since time.Time) {
	if p.Plan != nil {
		medium, since = p.Plan.Medium, p.PlannedAt
	}
	if n := len(p.Fillings); n > 0 {
		medium, since = p.Fillings[n-1].Medium, p.Fillings[n-1].When
	}
	var last time.Time
	for _, s := range c.Pieces {
		if s.Pot == p.Name && s.Medium != "" && s.Potted.When.After(last) {
			medium, since, last = s.Medium, s.Potted.When, s.Potted.When
		}
	}
	return medium, since
}

// fixationLimit is the strictest time to fixation among the pot's studies. Of equal limits the one that can be urgent is
// named.
func (r *Rules) fixationLimit(p *Pot) (study string, limit time.Duration, onlyToday, ok bool) {
	for _, key := range p.Studies {
		s := r.p.Studies[key]
		if s.ToFixation == nil {
			continue
		}
		d := s.ToFixation.Span.Elapsed
		if !ok || d < limit || d == limit && onlyToday && !s.OnlyToday {
			study, limit, onlyToday, ok = key, d, s.OnlyToday, true
		}
	}
	return study, limit, onlyToday, ok
}

// lidOn is when nothing more could go into the pot: it was sealed, or it left the room without.
func (r *Rules) lidOn(p *Pot) (time.Time, bool) {
	if len(p.Seals) > 0 {
		return p.Seals[0].When, true
	}
	for _, held := range p.Custody {
		if (held.Direct || held.Bag != "") && r.role(held.Place) != roleRoom {
			return held.When, true
		}
	}
	return p.Arrived, !p.Arrived.IsZero()
}

// receipt is when the laboratory had the pot: its first scan at a place of that role, or the first sign of it there.
func (r *Rules) receipt(p *Pot) (time.Time, bool) {
	for _, held := range p.Custody {
		if r.role(held.Place) == roleLaboratory {
			if !p.Arrived.IsZero() && p.Arrived.Before(held.When) {
				break
			}
			return held.When, true
		}
	}
	return p.Arrived, !p.Arrived.IsZero()
}

// fixationStart is when a piece began to fix: when it was potted or, if the pot's first filling with a fixing medium
// came after that and before the lid, then. A pot with no filling known counts as filled before.
func (r *Rules) fixationStart(c *Case, p *Pot, s *Piece) (time.Time, bool) {
	if s.Potted.When.IsZero() {
		return time.Time{}, false
	}
	start := s.Potted.When
	for _, fill := range p.Fillings {
		if !r.p.Media[fill.Medium].Fixing {
			continue
		}
		beforeLid := len(p.Seals) == 0 || !fill.When.After(p.Seals[0].When)
		if fill.When.After(start) && beforeLid {
			start = fill.When
		}
		break
	}
	return start, true
}

// fixationEnd is when the piece came out of fixative: when its run left formalin, as said, else by the protocol's run,
// else when it was loaded.
func (r *Rules) fixationEnd(p *Pot, s *Piece) (end, loaded time.Time, ok bool) {
	l := p.Loaded
	if s.Loaded != nil && (l == nil || s.Loaded.When.Before(l.When)) {
		l = s.Loaded
	}
	if l == nil {
		return time.Time{}, time.Time{}, false
	}
	if !l.Leaves.IsZero() {
		return l.Leaves, l.When, true
	}
	if run := r.p.Runs[l.Run]; run.Leaves != "" {
		return r.leaves(run, l.When), l.When, true
	}
	return l.When, l.When, true
}

// nextWallClock is the first instant after t at which the clinic's clock shows "15:04".
func (r *Rules) nextWallClock(t time.Time, clock string) time.Time {
	at, err := time.Parse("15:04", clock)
	if err != nil {
		return t // the protocol's parser has refused such a clock
	}
	local := t.In(r.zone)
	for day := 0; ; day++ {
		next := time.Date(local.Year(), local.Month(), local.Day()+day, at.Hour(), at.Minute(), 0, 0, r.zone)
		if next.After(t) {
			return next
		}
	}
}

// piecesTaken goes through the pieces of a pot that left the patient, those cut from others too.
func (c *Case) piecesTaken(pot Name) iter.Seq[*Piece] {
	return func(yield func(*Piece) bool) {
		for s := range c.PiecesIn(pot) {
			if !s.Taken.When.IsZero() && !yield(s) {
				return
			}
		}
	}
}

// anyTaken reports whether a piece of the pot left the patient.
func (c *Case) anyTaken(pot Name) bool {
	for range c.piecesTaken(pot) {
		return true
	}
	return false
}

// clearedAfter is the first time the room was cleared at or after t.
func (c *Case) clearedAfter(t time.Time) (time.Time, bool) {
	for _, m := range c.Cleared {
		if !m.When.Before(t) {
			return m.When, true
		}
	}
	return time.Time{}, false
}
