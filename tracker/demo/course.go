package demo

import (
	"fmt"
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// course is one case on its way: what is asked, who does it, and when each step happens.
type course struct {
	clinic   *clinic
	stream   uint64 // of its chance
	ask      request
	twist    twist
	person   Person
	name     tracker.Name
	roll     *roll // the downtime roll whose labels were used, or nil
	repeatOf *course
	room     string
	live     bool

	opened, start time.Time
	operator      string
	nurse         string
	second        string // who reads back

	checked, printed, needle time.Time
	pots                     []*coursePot
	lastTaken                time.Time
	ended, cleared, ready    time.Time

	final time.Time // main answer, once known
}

// coursePot is one pot of a case on its way.
type coursePot struct {
	plan    tracker.PlannedPot
	pieces  []*coursePiece
	filled  time.Time
	imaged  time.Time // radiograph of its pieces
	sealed  time.Time
	unused  bool // nothing is in it at the end
	bag     *bag
	missing bool // not in the bag when it is opened, although it was packed

	collected, received, opened, loaded, leaves time.Time
	run                                         string
}

// coursePiece is one piece of a pot.
type coursePiece struct {
	number        int
	what          string
	from          *coursePiece
	fromLetter    string
	pass          int
	into          string // letter of another pot that it went into, or ""
	taken, potted time.Time
	lengthMM      float64
	look          string
}

// chance is one of the case's own streams.
func (c *course) chance(w *world, part uint64) chance { return newChance(w.seed, c.stream, part) }

// label is the name that the pot's or piece's label carries: of the downtime roll, if one was used.
func (c *course) label(n tracker.Name) tracker.Name {
	if c.roll == nil {
		return n
	}
	return c.roll.name + n[len(c.name):]
}

func (c *course) pot(p *coursePot) tracker.Name { return c.name + "-" + tracker.Name(p.plan.Pot) }

func (c *course) piece(p *coursePot, s *coursePiece) tracker.Name {
	return c.pot(p) + tracker.Name(fmt.Sprintf("%02d", s.number))
}

// scanned is a thing as its first label is scanned.
func (c *course) scanned(n tracker.Name) tracker.Item {
	return tracker.Item{Name: c.label(n), Copy: '1'}
}

// fixing reports whether the pot is fixed in formalin and goes on the processor.
func (p *coursePot) fixing() bool { return p.plan.Medium == "formalin" }

// spread reports whether the pot holds slides.
func (p *coursePot) spread() bool { return p.plan.Carrier == "slide" }

// labelled reports whether its pieces carry labels of their own.
func (p *coursePot) labelled() bool { return p.plan.Carrier == "cassette" || p.spread() }

// inside counts the pieces that are in the pot at the end.
func (c *course) inside(p *coursePot) int {
	n := 0
	if c.twist.relabel {
		p = c.pots[1]
	}
	for _, other := range c.pots {
		for _, s := range other.pieces {
			if s.into == p.plan.Pot || s.into == "" && other == p {
				n++
			}
		}
	}
	return n
}

// walk works out when each step in the room happens, the first at start. Spans are common practice, no source.
func (c *course) walk(w *world, start time.Time) {
	ch := c.chance(w, 1)
	c.start = start
	c.checked = start.Add(ch.between(time.Minute, 4*time.Minute))
	c.printed = c.checked.Add(ch.between(40*time.Second, 90*time.Second))
	c.needle = c.printed.Add(ch.between(4*time.Minute, 7*time.Minute))
	c.pots = nil
	for i, plan := range c.ask.pots {
		p := &coursePot{plan: plan, filled: c.printed.Add(time.Duration(60+25*i) * time.Second).Add(ch.between(0, 15*time.Second))}
		for n := range plan.Pieces {
			p.pieces = append(p.pieces, &coursePiece{number: n + 1, what: c.ask.what, look: c.look(ch), lengthMM: float64(ch.number(9, 22))})
		}
		c.pots = append(c.pots, p)
	}
	if c.twist.relabel {
		c.pots[0].pieces, c.pots[1].unused = nil, true
	}
	var at time.Time
	switch c.ask.sort {
	case breastCalcium:
		at = c.walkCalcium(ch)
	case thyroid:
		at = c.walkThyroid(ch)
	default:
		at = c.walkCores(ch)
	}
	for _, p := range c.pots {
		at = at.Add(ch.between(50*time.Second, 110*time.Second))
		p.sealed = at
	}
	c.ended = at.Add(ch.between(30*time.Second, 80*time.Second))
	c.cleared = c.ended.Add(ch.between(2*time.Minute, 5*time.Minute))
	c.ready = c.cleared
	if c.twist.stray > 0 {
		s := c.pots[0].pieces[len(c.pots[0].pieces)-1]
		s.potted = s.taken.Add(c.twist.stray)
		c.ready = s.potted.Add(4 * time.Minute)
	}
}

func (c *course) look(ch chance) string {
	switch {
	case c.twist.look != "":
		return c.twist.look
	case c.ask.what == "aspirate":
		return ""
	case ch.percent(6):
		return "fragmented"
	}
	return oneOf(ch, "firm-white", "firm-white", "mixed")
}

// walkCores takes one core after another and puts each into its pot at once.
func (c *course) walkCores(ch chance) time.Time {
	at := c.needle
	for _, p := range c.pots {
		for _, s := range p.pieces {
			s.taken = at
			s.potted = at.Add(ch.between(25*time.Second, 80*time.Second))
			c.lastTaken = s.taken
			at = s.potted.Add(ch.between(30*time.Second, 70*time.Second))
		}
		at = at.Add(ch.between(20*time.Second, 60*time.Second))
	}
	return at
}

// walkCalcium takes three cores, looks for calcium in them on a radiograph and sorts them: with calcium into pot A,
// without into pot B. Then three more.
func (c *course) walkCalcium(ch chance) time.Time {
	at := c.needle
	for i, p := range c.pots {
		for _, s := range p.pieces {
			s.taken = at
			c.lastTaken = at
			at = at.Add(ch.between(50*time.Second, 75*time.Second))
		}
		p.imaged = at.Add(ch.between(40*time.Second, 80*time.Second))
		at = p.imaged
		for _, s := range p.pieces {
			at = at.Add(ch.between(8*time.Second, 15*time.Second))
			s.potted = at
		}
		if i == 1 && ch.percent(50) {
			p.pieces[0].into = "A" // it had calcium after all
		}
		at = at.Add(time.Minute)
	}
	return at
}

// walkThyroid takes two passes; each gives a wet-fixed slide, an air-dried one and a rinse.
func (c *course) walkThyroid(ch chance) time.Time {
	at := c.needle
	wet, dry, vial := c.pots[0], c.pots[1], c.pots[2]
	for pass := range wet.pieces {
		first := wet.pieces[pass]
		first.taken = at
		c.lastTaken = at
		for i, s := range []*coursePiece{first, dry.pieces[pass], vial.pieces[pass]} {
			s.pass = pass + 1
			s.what = []string{"slide", "slide", "rinse"}[i]
			if i > 0 {
				s.from, s.fromLetter = first, "A"
				s.taken = at
			}
			at = at.Add(ch.between(8*time.Second, 20*time.Second))
			s.potted = at
		}
		at = at.Add(ch.between(2*time.Minute, 3*time.Minute))
	}
	return at
}
