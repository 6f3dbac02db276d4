package demo

import "time"

// bookLive books the seven unplanned cases that hang on now itself. They use the rooms kept free for such.
func (w *world) bookLive() {
	// A core is out and not yet in its pot; two are in.
	w.live(mby, breastMass, malignant, twist{}, 1, func(c *course) time.Time { return c.pots[0].pieces[2].taken }, 3*time.Minute)
	for _, s := range w.courses[len(w.courses)-1].pots[0].pieces[2:3] {
		s.potted = s.taken.Add(4 * time.Minute)
	}
	// The pots are filled and no core is taken: formalin is in the one for flow cytometry.
	w.live(hcx, nodeFlow, reactive, twist{wrongMedium: true}, 2, func(c *course) time.Time { return c.pots[1].filled }, 25*time.Second)
	// Sealed, and nobody has come for it yet.
	w.live(mby, breastMass, benign, twist{}, 3, func(c *course) time.Time { return c.cleared }, 32*time.Minute)
	// At the hatch. The porter's phone is an hour ahead.
	c := w.live(hcx, breastMass, malignant, twist{}, 4, func(c *course) time.Time { return c.cleared }, 41*time.Minute)
	c.pots[0].collected = w.now.Add(-3 * time.Minute)
	c.twist.clockAt = w.now.Add(57 * time.Minute)
	// At the hatch of the third clinic, as it should be.
	c = w.live(sgn, axillaryNode, benign, twist{}, 5, func(c *course) time.Time { return c.cleared }, 26*time.Minute)
	c.pots[0].collected = w.now.Add(-14 * time.Minute)
	// On the van.
	c = w.live(sgn, breastMass, malignant, twist{}, 6, func(c *course) time.Time { return c.cleared }, 95*time.Minute)
	w.liveBag(c, w.now.Add(-21*time.Minute))
	// At the laboratory's reception, its bag not yet opened.
	c = w.live(hcx, breastMass, benign, twist{}, 7, func(c *course) time.Time { return c.cleared }, 160*time.Minute)
	w.liveBag(c, w.now.Add(-c.clinic.travel-9*time.Minute))
}

// reactive is a node without malignancy, asked for urgently.
func reactive(r *request) {
	r.serious, r.priority, r.outcome, r.plan = false, "urgent", "discharged", "discharge"
	r.answers[0].category, r.answers[0].text = "L2", "Reactive node."
}

// live books a case so that the chosen step of it lies so long before now.
func (w *world) live(cl int, kind sort, change func(*request), t twist, stream uint64, step func(*course) time.Time, ago time.Duration) *course {
	clinic := w.clinics[cl]
	ask := ordinaryRequest(newChance(w.seed, 0x11fe, stream), kind)
	change(&ask)
	ask.priority = "urgent"
	c := w.course(clinic, clinic.onCall, 0x11fe+stream, w.now, ask, t)
	c.live = true
	c.walk(w, w.now.Add(-ago-step(c).Sub(c.start)))
	c.opened = c.start.Add(-c.chance(w, 6).between(25*time.Minute, 70*time.Minute))
	return c
}

// liveBag takes a live case to the laboratory in a bag of its own, which is not opened before now.
func (w *world) liveBag(c *course, leaves time.Time) {
	b := &bag{clinic: c.clinic, live: true, left: leaves, porter: c.clinic.porters[0]}
	for _, p := range c.pots {
		p.collected = leaves.Add(-20 * time.Minute)
		p.bag, p.received = b, leaves.Add(c.clinic.travel)
		b.inside = append(b.inside, carried{c, p})
	}
	b.packed = leaves.Add(-5 * time.Minute)
	b.arrived = leaves.Add(c.clinic.travel)
	b.opened = w.now.Add(time.Minute)
	w.bags = append(w.bags, b)
}
