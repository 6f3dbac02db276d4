package tracker

import "slices"

// A bag is judged by what its own events and its pots' say. Its pots may go by other names elsewhere: by the label of a
// downtime roll, or by another pot's after a swap. So the cases are followed along those names, in either direction.

// gatherBag collects, beside a bag's own events, those of every case that a pot of it belongs to, and those of the other
// bags that such a pot was put in.
func gatherBag(own []*Event, load func(Name) ([]*Event, error)) ([]*Event, error) {
	var pots []Name
	for _, e := range own {
		pots = append(pots, potsOf(e)...)
	}
	if len(pots) == 0 {
		return own, nil
	}
	events := slices.Clone(own)
	cases := newNames()
	for _, n := range pots {
		cases.add(Watched(n))
	}
	bags := newNames()
	err := cases.follow(load, func(e *Event) {
		events = append(events, e)
		if potsOf(e) != nil {
			for _, item := range e.Items {
				bags.add(item.Name)
			}
		}
	})
	if err != nil {
		return nil, err
	}
	for _, n := range bags.list {
		more, err := load(n)
		if err != nil {
			return nil, err
		}
		events = append(events, more...)
	}
	return events, nil
}

// names is a list of names without repeats.
type names struct {
	list []Name
	has  map[Name]bool
}

func newNames() *names { return &names{has: map[Name]bool{}} }

func (l *names) add(n Name) {
	if n != "" && !l.has[n] {
		l.has[n] = true
		l.list = append(l.list, n)
	}
}

// follow visits the events of all cases listed, and of those that share a pot's or label's name with them.
func (l *names) follow(load func(Name) ([]*Event, error), visit func(*Event)) error {
	for i := 0; i < len(l.list); i++ {
		events, err := load(l.list[i])
		if err != nil {
			return err
		}
		for _, e := range events {
			visit(e)
			switch e.Kind {
			case KindLabelBound, KindPotRelabelled:
				for _, n := range e.Concerns() {
					l.add(Watched(n))
				}
			}
		}
	}
	return nil
}

// bagsTouched adds the bags whose contents an event can change, apart from those it names: those in which a pot that it is
// about, or that it puts in or takes out of a bag, was ever put.
func bagsTouched(e *Event, load func(Name) ([]*Event, error), add func(Name)) error {
	seen := seesPots(e.Kind)
	if !seen && !changesBags(e.Kind) {
		return nil
	}
	cases, bags := newNames(), newNames()
	var pots []Name
	for _, n := range e.Concerns() {
		if pot := n.Pot(); pot != "" {
			pots = append(pots, pot)
		}
		cases.add(n.Case())
		if n.Thing() != ThingBag || e.Kind != KindEventStruck {
			continue
		}
		own, err := load(n)
		if err != nil {
			return err
		}
		for _, other := range own {
			for _, pot := range potsOf(other) {
				cases.add(pot.Case())
			}
		}
	}
	if seen && len(pots) == 0 {
		return nil // about the whole case or a bag: it says nothing of where one pot is
	}
	var events []*Event
	err := cases.follow(load, func(other *Event) {
		events = append(events, other)
		if potsOf(other) != nil {
			for _, item := range other.Items {
				bags.add(item.Name)
			}
		}
	})
	if err != nil {
		return err
	}
	for _, n := range bags.list {
		own, err := load(n)
		if err != nil {
			return err
		}
		if !seen || !plainlyUnpacked(e, pots, n, own, events) {
			add(n)
		}
	}
	return nil
}

// seesPots reports whether an event of the kind is a sign of where a pot is, or takes it out of its bag.
func seesPots(kind Kind) bool {
	switch kind {
	case KindCustodyTaken, KindPotLost, KindPotFound, KindPotDiscarded, KindLabAccessioned, KindLabQueried, KindLabRefused, KindLabOpened,
		KindLabLoaded, KindLabReferred, KindResultIssued:
		return true
	}
	return false
}

// changesBags reports whether an event of the kind can change in another way what a bag holds that it does not name.
func changesBags(kind Kind) bool {
	switch kind {
	case KindCaseOpened, KindCaseAmended, KindPotFilled, KindPiecePotted, KindLabelBound, KindPotRelabelled, KindBagPacked, KindBagOpened,
		KindEventStruck:
		return true
	}
	return false
}

// plainlyUnpacked reports whether the pots went into a bag, were found in it when it was opened, and nothing stands against
// that: then what befalls them later says nothing new of that bag. It is only a short cut, since most of what a laboratory
// scans comes after its bag was unpacked; where anything is out of the ordinary the answer is no.
func plainlyUnpacked(e *Event, pots []Name, bag Name, own, events []*Event) bool {
	var opened *Event
	for _, other := range own {
		switch {
		case other.Kind == KindEventStruck, other.Kind == KindBagOpened && opened != nil:
			return false
		case other.Kind == KindBagOpened:
			opened = other
		}
	}
	if opened == nil || !e.When().After(opened.When().Add(StationClocks)) {
		return false
	}
	packed := map[Name]bool{}
	for _, other := range own {
		if other.Kind != KindBagPacked {
			continue
		}
		if other.When().After(opened.When().Add(-StationClocks)) {
			return false
		}
		for _, n := range potsOf(other) {
			packed[n] = true
		}
	}
	for _, n := range pots {
		if !packed[n] || !slices.Contains(potsOf(opened), n) {
			return false
		}
	}
	early := opened.When().Add(StationClocks)
	return !slices.ContainsFunc(events, func(other *Event) bool {
		switch other.Kind {
		case KindLabelBound, KindPotRelabelled, KindEventStruck:
			return true
		case KindBagPacked, KindBagOpened:
			return itemOf(other) != bag && !other.When().After(early)
		}
		return seesPots(other.Kind) && other != e && !other.When().After(early) && slices.ContainsFunc(other.Items, func(item Item) bool {
			return slices.Contains(pots, item.Name.Pot()) && !beforeAll(other, own)
		})
	})
}

// beforeAll reports whether an event came well before a bag was first packed.
func beforeAll(e *Event, own []*Event) bool {
	return !slices.ContainsFunc(own, func(other *Event) bool {
		return other.Kind == KindBagPacked && !e.When().Before(other.When().Add(-StationClocks))
	})
}

// itemOf is the bag that a packing or an opening is about.
func itemOf(e *Event) Name {
	if len(e.Items) == 1 {
		return e.Items[0].Name
	}
	return ""
}
