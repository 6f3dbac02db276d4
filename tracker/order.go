package tracker

import "slices"

// standing is a set of events as it is folded: each id once, in order, strikes worked out.
type standing struct {
	all    []*Event            // every event once, in order
	struck map[EventID]EventID // struck event → the strike that stands; nil when nothing is struck
}

// settle orders the events by (when, id), keeps one recording of each id, and works out the strikes.
func settle(events []*Event) standing {
	if inOrder(events) { // as a ledger gives them: nothing to sort, nothing to drop
		return standing{all: events, struck: workOutStrikes(events)}
	}
	all := slices.Clone(events)
	slices.SortStableFunc(all, func(a, b *Event) int {
		if c := a.Compare(b); c != 0 {
			return c
		}
		return a.EarlierRecord(b)
	})
	all = dropRepeats(all)
	return standing{all: all, struck: workOutStrikes(all)}
}

// inOrder reports whether events of one origin stand in order already, each once.
func inOrder(events []*Event) bool {
	for i, e := range events {
		if e.Record.Origin == "" || e.Record.Origin != events[0].Record.Origin || i > 0 && events[i-1].Compare(e) >= 0 {
			return false
		}
	}
	return true
}

// dropRepeats keeps, of each id, the recording that counts. Repeats from one origin stand side by side after sorting;
// the same id recorded at two nodes may not, since their clocks bound its when.
func dropRepeats(all []*Event) []*Event {
	all = slices.CompactFunc(all, func(a, b *Event) bool { return a.ID == b.ID && a.EarlierRecord(b) == 0 })
	oneOrigin := true
	for _, e := range all {
		if e.Record.Origin != all[0].Record.Origin {
			oneOrigin = false
			break
		}
	}
	if oneOrigin && len(all) > 0 && all[0].Record.Origin != "" {
		return all
	}
	best := make(map[EventID]*Event, len(all))
	for _, e := range all {
		if have, ok := best[e.ID]; !ok || e.EarlierRecord(have) < 0 {
			best[e.ID] = e
		}
	}
	if len(best) == len(all) {
		return all
	}
	kept := all[:0]
	for _, e := range all {
		if best[e.ID] == e {
			kept = append(kept, e)
		}
	}
	return kept
}

// workOutStrikes goes from last to first: a strike that stands takes its target out, whatever the order of the two, but
// never a later strike. It works where its items are the same set of names as its target's.
func workOutStrikes(all []*Event) map[EventID]EventID {
	var struck map[EventID]EventID
	var place map[EventID]int
	for i := len(all) - 1; i >= 0; i-- {
		strike, ok := all[i].Data.(*EventStruck)
		if !ok {
			continue
		}
		if place == nil {
			place = make(map[EventID]int, len(all))
			for j, e := range all {
				place[e.ID] = j
			}
			struck = map[EventID]EventID{}
		}
		if _, out := struck[all[i].ID]; out {
			continue
		}
		j, known := place[strike.Event]
		if !known || (all[j].Kind == KindEventStruck && j >= i) || !sameNames(all[i].Items, all[j].Items) {
			continue
		}
		if _, out := struck[all[j].ID]; !out {
			struck[all[j].ID] = all[i].ID
		}
	}
	return struck
}

// sameNames compares two sets of names; copies do not matter.
func sameNames(a, b []Item) bool {
	if len(a) == 1 && len(b) == 1 {
		return a[0].Name == b[0].Name
	}
	return slices.Equal(nameSet(a), nameSet(b))
}

func nameSet(items []Item) []Name {
	names := make([]Name, 0, len(items))
	for _, item := range items {
		names = append(names, item.Name)
	}
	slices.Sort(names)
	return slices.Compact(names)
}

// stands reports whether the event counts.
func (s standing) stands(e *Event) bool {
	_, out := s.struck[e.ID]
	return !out
}

// aliases says which names stand for others: labels bound to a thing, and pots relabelled.
type aliases struct {
	bound      map[Name]Name
	relabelled map[Name]Name
}

func (s standing) aliases() aliases {
	var a aliases
	for _, e := range s.all {
		switch f := e.Data.(type) {
		case *LabelBound:
			if s.stands(e) {
				a.bound = noteAlias(a.bound, e.Items, f.To)
			}
		case *PotRelabelled:
			if s.stands(e) {
				a.relabelled = noteAlias(a.relabelled, e.Items, f.New)
			}
		}
	}
	return a
}

func noteAlias(m map[Name]Name, items []Item, to Name) map[Name]Name {
	if m == nil {
		m = map[Name]Name{}
	}
	for _, item := range items {
		if item.Name != to {
			m[item.Name] = to
		}
	}
	return m
}

// longestAlias bounds chains of aliases, so that two labels bound to each other end somewhere.
const longestAlias = 8

// thing is what a scanned or typed name counts for. A binding of a pot or case carries its pieces and pots along; a
// relabelling moves the pot alone.
func (a aliases) thing(n Name) Name {
	for range longestAlias {
		to, ok := a.boundTo(n)
		if !ok {
			break
		}
		n = to
	}
	if n.Thing() == ThingPot {
		return a.pot(n)
	}
	return n
}

func (a aliases) boundTo(n Name) (Name, bool) {
	if a.bound == nil {
		return n, false
	}
	if to, ok := a.bound[n]; ok {
		return to, true
	}
	if n.Thing() == ThingPiece {
		if to := a.bound[n.Pot()]; to.Thing() == ThingPot {
			return to + n[lengthPot:], true
		}
	}
	if n.Thing() == ThingPiece || n.Thing() == ThingPot {
		if to := a.bound[n.Case()]; to.Thing() == ThingCase {
			return to + n[lengthCase:], true
		}
	}
	return n, false
}

// pot is the name that a pot goes by after relabellings.
func (a aliases) pot(n Name) Name {
	for range longestAlias {
		to, ok := a.relabelled[n]
		if !ok {
			break
		}
		n = to
	}
	return n
}
