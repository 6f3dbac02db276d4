package tracker

import "slices"

// Watched is the thing whose findings a name belongs to: the case of a case, pot or piece, and a bag or the day of a room
// itself.
func Watched(n Name) Name {
	if n.Thing() == ThingBag || n.Thing() == ThingRoomDay {
		return n
	}
	return n.Case()
}

// WatchedBy lists the watched things that the event concerns directly, without repeats, in the order of
// [Event.Concerns]. A ledger files the event under each of them.
func WatchedBy(e *Event) []Name {
	var out []Name
	var seen map[Name]bool
	concerns := e.Concerns()
	if room, _ := roomNamed(e); room != "" {
		concerns = append(concerns, room)
	}
	for _, n := range concerns {
		w := Watched(n)
		if w == "" || (len(out) > 0 && out[len(out)-1] == w) {
			continue
		}
		if seen == nil && len(out) < 8 {
			if !slices.Contains(out, w) {
				out = append(out, w)
			}
			continue
		}
		if seen == nil { // a long list: a bag may stand for many cases
			seen = make(map[Name]bool, len(e.Items))
			for _, have := range out {
				seen[have] = true
			}
		}
		if !seen[w] {
			seen[w] = true
			out = append(out, w)
		}
	}
	return out
}

// Gather collects all events that [Fold] and [FoldBag] need for a watched thing: those that concern it, those about bags that
// its pots were in, those about things whose labels stand for its own and, for a bag, those of the cases of its pots. Load gives the events that concern one watched
// thing, in any order. The answer may hold an event more than once and events of other things; Fold takes what counts.
func Gather(watched Name, load func(Name) ([]*Event, error)) ([]*Event, error) {
	if watched.Thing() == ThingRoomDay {
		return gatherRoom(watched, load)
	}
	own, err := load(watched)
	if err != nil {
		return nil, err
	}
	if watched.Thing() == ThingBag {
		return gatherBag(own, load)
	}
	if !linked(own) {
		return own, nil
	}
	events := append([]*Event(nil), own...)
	seen := map[Name]bool{watched: true}
	queue := own
	for len(queue) > 0 {
		var next []*Event
		for _, e := range queue {
			for _, n := range linksInto(e) {
				if seen[n] {
					continue
				}
				seen[n] = true
				more, err := load(n)
				if err != nil {
					return nil, err
				}
				events = append(events, more...)
				if n.Thing() == ThingCase {
					next = append(next, more...)
				}
			}
		}
		queue = next
	}
	return events, nil
}

func linked(events []*Event) bool {
	for _, e := range events {
		switch e.Kind {
		case KindBagPacked, KindBagOpened, KindLabelBound, KindPotRelabelled:
			return true
		}
		if repeated(e) != "" {
			return true
		}
	}
	return false
}

// linksInto lists the other watched things whose events count for the things this event is filed under.
func linksInto(e *Event) []Name {
	switch e.Kind {
	case KindBagPacked, KindBagOpened, KindLabelBound, KindPotRelabelled, KindCaseOpened, KindCaseAmended:
		if (e.Kind == KindCaseOpened || e.Kind == KindCaseAmended) && repeated(e) == "" {
			return nil
		}
		names := make([]Name, 0, len(e.Items))
		for _, item := range e.Items {
			names = append(names, Watched(item.Name))
		}
		return names
	}
	return nil
}

// repeated is the case that a request says it repeats, or "".
func repeated(e *Event) Name {
	switch f := e.Data.(type) {
	case *CaseOpened:
		return f.RepeatOf
	case *CaseAmended:
		if f.RepeatOf != nil {
			return *f.RepeatOf
		}
	}
	return ""
}

// Touched lists every watched thing whose findings the event can change: those it concerns, the cases of pots that its
// bag ever held, the bags that its pots were ever in, and the cases that its labels stand for. Load must already give the event itself.
// So are the rooms on whose days its cases were there.
func Touched(e *Event, load func(Name) ([]*Event, error)) ([]Name, error) {
	out := WatchedBy(e)
	seen := make(map[Name]bool, len(out))
	for _, n := range out {
		seen[n] = true
	}
	add := func(n Name) {
		if w := Watched(n); w != "" && !seen[w] {
			seen[w] = true
			out = append(out, w)
		}
	}
	for i := 0; i < len(out); i++ {
		if out[i].Thing() == ThingRoomDay {
			continue
		}
		events, err := load(out[i])
		if err != nil {
			return nil, err
		}
		if out[i].Thing() == ThingCase && changesRoom(e, events) {
			if err := roomDaysOf(events, load, add); err != nil {
				return nil, err
			}
		}
		for _, other := range events {
			switch f := other.Data.(type) {
			case *BagPacked:
				if out[i].Thing() == ThingBag {
					addAll(f.Pots, add)
				}
			case *BagOpened:
				if out[i].Thing() == ThingBag {
					addAll(f.Pots, add)
				}
			case *LabelBound:
				add(f.To)
			case *PotRelabelled:
				add(f.New)
			case *CaseOpened, *CaseAmended:
				add(repeated(other))
			}
		}
	}
	if err := bagsTouched(e, load, add); err != nil {
		return nil, err
	}
	return out, nil
}

func addAll(names []Name, add func(Name)) {
	for _, n := range names {
		add(n)
	}
}

// File sorts events under the watched things they concern, as a ledger does, for tools that hold all events in memory.
func File(events []*Event) map[Name][]*Event {
	filed := map[Name][]*Event{}
	for _, e := range events {
		for _, w := range WatchedBy(e) {
			filed[w] = append(filed[w], e)
		}
	}
	return filed
}
