package demo

import (
	"slices"
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// bag is one transport bag on its way. Formalin pots go in one, fresh tissue and slides in another: vapour spoils
// air-dried slides.
type bag struct {
	clinic  *clinic
	name    tracker.Name
	fresh   bool
	live    bool // its times are set
	porter  string
	inside  []carried
	packed  time.Time
	left    time.Time
	arrived time.Time
	opened  time.Time
}

// carried is a pot in a bag.
type carried struct {
	course *course
	pot    *coursePot
}

// collect works out the way of every pot: the round that takes it to the hatch, the van and bag that take it to the
// laboratory, and the processor run that it makes there.
func (w *world) collect() {
	byReady := slices.Clone(w.courses)
	slices.SortStableFunc(byReady, func(a, b *course) int { return a.ready.Compare(b.ready) })
	for _, c := range byReady {
		if c.live {
			continue
		}
		ch := c.chance(w, 3)
		at := w.round(c).Add(ch.between(20*time.Second, 4*time.Minute))
		for _, p := range c.pots {
			if p.unused {
				continue
			}
			p.collected = at
			p.missing = c.twist.missing && p.plan.Pot == "B"
			switch van := w.van(c.clinic, at); {
			case !c.twist.lost:
				w.pack(c, p, van)
			case c.twist.settled:
				w.pack(c, p, w.van(c.clinic, foundAgain(van)))
			}
		}
	}
	for _, b := range w.bags {
		if !b.live {
			w.ride(b)
		}
	}
}

// missed and foundAgain are when a pot that is not at the hatch is missed, by the van that it should have gone with, and
// when it turns up.
func missed(van time.Time) time.Time     { return van.Add(15 * time.Minute) }
func foundAgain(van time.Time) time.Time { return missed(van).Add(70 * time.Minute) }

// round is when a porter next comes to the rooms.
func (w *world) round(c *course) time.Time {
	if c.twist.overnight {
		return c.ready.Add(15 * time.Minute)
	}
	rounds := c.clinic.rounds
	if w.days.short(c.ready) {
		rounds = c.clinic.shortRound
	}
	for _, r := range rounds {
		if at := w.days.at(c.ready, r); at.After(c.ready.Add(2 * time.Minute)) {
			return at
		}
	}
	return c.ready.Add(15 * time.Minute) // a late list: the porter is rung
}

// van is the next departure for what is at the hatch.
func (w *world) van(cl *clinic, collected time.Time) time.Time {
	for day := w.days.midnight(collected); ; day = w.days.working(day, 1) {
		vans := cl.vans
		if w.days.short(day) {
			vans = cl.shortVans
		}
		for _, v := range vans {
			if at := w.days.at(day, v); at.After(collected.Add(10 * time.Minute)) {
				return at
			}
		}
	}
}

// pack puts a pot into the bag that leaves then, made when it is the first.
func (w *world) pack(c *course, p *coursePot, leaves time.Time) {
	for _, b := range w.bags {
		if !b.live && b.clinic == c.clinic && b.fresh == !p.fixing() && b.left.Equal(leaves) {
			b.inside = append(b.inside, carried{c, p})
			p.bag = b
			return
		}
	}
	b := &bag{clinic: c.clinic, fresh: !p.fixing(), left: leaves, inside: []carried{{c, p}}}
	p.bag = b
	w.bags = append(w.bags, b)
}

// ride works out the way of one bag, and what happens to its pots at the laboratory.
func (w *world) ride(b *bag) {
	ch := newChance(w.seed, uint64(b.left.Unix()), uint64(b.clinic.index), flagOf(b.fresh), 4)
	b.porter = oneOf(ch, b.clinic.porters...)
	b.packed = b.left.Add(-ch.between(4*time.Minute, 7*time.Minute))
	b.left = b.left.Add(ch.between(0, 3*time.Minute))
	b.arrived = b.left.Add(b.clinic.travel + ch.between(-4*time.Minute, 6*time.Minute))
	b.opened = b.arrived.Add(ch.between(4*time.Minute, 14*time.Minute))
	for i, in := range b.inside {
		in.pot.received = b.arrived
		w.bench(in.course, in.pot, b.opened.Add(time.Duration(40+35*i)*time.Second))
	}
}

func flagOf(yes bool) uint64 {
	if yes {
		return 1
	}
	return 0
}

// bench works out when a pot is opened for description, and which processor run it makes.
func (w *world) bench(c *course, p *coursePot, accessioned time.Time) {
	ch := c.chance(w, 5+uint64(p.plan.Pot[0]))
	d := w.days
	wait := ch.between(10*time.Minute, 65*time.Minute)
	if d.of(accessioned) > hm(15, 45) {
		wait = ch.between(6*time.Minute, 16*time.Minute)
	}
	if c.twist.refused != "" {
		wait += 4 * time.Hour
	}
	p.opened = accessioned.Add(wait)
	if c.twist.queried {
		p.opened = d.at(d.working(accessioned, 1), hm(9, 40))
	}
	if !d.calendar.Working(p.opened) || d.of(p.opened) > benchEnds-2 {
		p.opened = d.at(d.working(p.opened, 1), labOpens).Add(ch.between(0, 80*time.Minute))
	}
	if !p.fixing() {
		return
	}
	load, leaves := eveningLoad, eveLeaves
	p.run = runEvening
	if d.of(p.opened) < dayCutoff {
		load, leaves, p.run = dayLoad, dayLeaves, runDay
	}
	p.loaded = d.at(p.opened, load).Add(ch.between(0, 9*time.Minute))
	p.leaves = d.at(p.loaded, leaves)
	if leaves < load {
		p.leaves = d.at(p.loaded.AddDate(0, 0, 1), leaves)
	}
	if c.twist.short {
		p.opened = accessioned.Add(5 * time.Minute)
		p.loaded = p.opened.Add(10 * time.Minute)
		p.leaves = p.pieces[0].potted.Add(4*time.Hour + 40*time.Minute).Truncate(time.Minute)
	}
}
