package demo

import (
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// way records what happens to the pots between room and laboratory, apart from their bags.
func (s *scribe) way() {
	c := s.c
	porter := oneOf(s.ch, c.clinic.porters...)
	var hatch, fridge []tracker.Item
	var at time.Time
	for _, p := range c.pots {
		if p.unused || p.collected.IsZero() {
			continue
		}
		at = p.collected
		s.tooLate(p)
		if p.plan.Medium == "saline" {
			fridge = append(fridge, c.scanned(c.pot(p)))
		} else {
			hatch = append(hatch, c.scanned(c.pot(p)))
		}
	}
	if !c.twist.clockAt.IsZero() {
		s.phoneAhead(porter, hatch)
		return
	}
	if len(hatch) > 0 {
		s.do(at, porter, phone(porter), &tracker.CustodyTaken{Place: "hatch", Condition: "intact"}, hatch...)
	}
	if len(fridge) > 0 {
		cold := 4.0
		s.do(at.Add(2*time.Minute), porter, phone(porter), &tracker.CustodyTaken{Place: "fridge", Condition: "intact", TemperatureC: &cold}, fridge...)
	}
	if c.twist.oldCopy {
		s.wrong(c.pot(c.pots[0]), tracker.FlagLabelSuperseded, at, time.Time{}, "the porter scanned a label that another had replaced: both are on the pot")
	}
	if c.twist.lost {
		s.lose(porter, at)
	}
	if c.twist.overnight {
		p := c.pots[0]
		s.wrong(c.pot(p), flagHandoffGap, at.Add(4*time.Hour+time.Second), p.bag.left, "a pot stayed at the hatch over days off")
		s.wrong(c.pot(p), flagWillBeLong, later(p.sealed, s.lastVan(p.sealed).Add(time.Second)), p.loaded, "a pot missed the last van before days off, and will be in formalin too long for receptors")
	}
}

// lastVan is the last departure of a day by the protocol's timetable, which knows Fridays and no eves of holidays.
func (s *scribe) lastVan(day time.Time) time.Time {
	vans := s.c.clinic.vans
	if day.In(s.days.zone).Weekday() == time.Friday {
		vans = s.c.clinic.shortVans
	}
	return s.days.at(day, vans[len(vans)-1])
}

// tooLate notes a pot that was sealed shortly before a van and collected by a later round only.
func (s *scribe) tooLate(p *coursePot) {
	vans := s.c.clinic.vans
	if p.sealed.In(s.days.zone).Weekday() == time.Friday {
		vans = s.c.clinic.shortVans
	}
	for _, v := range vans {
		if departs := s.days.at(p.sealed, v); !departs.Before(p.sealed) {
			if late := departs.Add(30 * time.Minute); p.collected.After(late) {
				s.wrong(s.c.pot(p), tracker.FlagCollectionLate, late, p.collected, "a pot was ready after the porter had been, and missed the van")
			}
			return
		}
	}
}

// phoneAhead has the porter's phone an hour fast: the event claims a time that has not come.
func (s *scribe) phoneAhead(porter string, pots []tracker.Item) {
	c := s.c
	e := s.add(c.pots[0].collected, c.clinic.Key, porter, phone(porter), &tracker.CustodyTaken{Place: "hatch", Condition: "intact"}, pots...)
	e.At = c.twist.clockAt.In(s.days.zone)
	e.ID = s.id(e.At)
	s.wrong(c.pot(c.pots[0]), tracker.FlagClockDoubtful, s.now, time.Time{}, "the porter's phone is an hour ahead")
}

// lose has a pot missed at the hatch; settled, it turns up again.
func (s *scribe) lose(porter string, collected time.Time) {
	c := s.c
	p := c.pots[0]
	van := s.van(c.clinic, collected)
	at := missed(van)
	s.do(at, porter, phone(porter), &tracker.PotLost{Place: "hatch", Why: "not among the pots for the van"}, c.scanned(c.pot(p)))
	var until time.Time
	if c.twist.settled {
		until = foundAgain(van)
		s.do(until, porter, phone(porter), &tracker.PotFound{Place: "hatch", Why: "behind the box of forms"}, c.scanned(c.pot(p)))
	}
	s.wrong(c.pot(p), tracker.FlagPotLost, at, until, "a pot was not at the hatch when the van came")
}

// missed notes what follows for a pot that was not in its bag: to the laboratory it came with the bag, and it gets no number.
func (c *course) missed(w *world, p *coursePot) {
	w.fault(c.name, c.pot(p), tracker.FlagHandoffGap, w.days.calendar.AddWorkingDays(p.bag.arrived, 1).Add(time.Second), time.Time{},
		"a pot that was not in its bag has no number of the laboratory")
}

// writeBag records the way of one bag.
func (w *world) writeBag(b *bag) {
	key := b.clinic.Key
	label := tracker.Item{Name: b.name, Copy: '1'}
	var packed, found []tracker.Name
	for _, in := range b.inside {
		n := in.course.label(in.course.pot(in.pot))
		packed = append(packed, n)
		if in.pot.missing {
			w.fault(b.name, b.name, flagBagShort, b.opened, time.Time{}, "a pot that was packed is not in the bag")
			in.course.missed(w, in.pot)
			continue
		}
		found = append(found, n)
	}
	w.add(b.packed.Add(-35*time.Second), key, b.porter, "hatch", &tracker.LabelPrinted{Copy: '1'}, named(b.name)...)
	w.add(b.packed, key, b.porter, phone(b.porter), &tracker.BagPacked{Pots: packed}, label)
	count := len(packed)
	cold := 5.0
	van := &tracker.CustodyTaken{Place: "van", Count: &count}
	at := &tracker.CustodyTaken{Place: labReception, Count: &count, Condition: "intact"}
	if b.fresh {
		van.TemperatureC, at.TemperatureC = &cold, &cold
	}
	w.add(b.left, key, b.clinic.courier, phone(b.clinic.courier), van, label)
	w.add(b.arrived, key, labClerk, labReception, at, label)
	w.add(b.opened, key, labClerk, labReception, &tracker.BagOpened{Pots: found}, label)
}
