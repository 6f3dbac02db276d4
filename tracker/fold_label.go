package tracker

import (
	"cmp"
	"slices"
	"strings"
)

// noteLabel follows the labels of this case: printed, spoiled, scanned, used. Labels keep the name printed on them,
// whatever they are bound to later.
func (f *folding) noteLabel(e *Event, item Item) {
	f.noteStandIn(e, item)
	if item.Name.Case() != f.c.Name {
		return
	}
	switch d := e.Data.(type) {
	case *LabelPrinted:
		l := f.label(item.Name, d.Copy)
		if l.Printed.When.IsZero() {
			l.Printed, l.Replaces, l.Downtime = mark(e), d.Replaces, d.Layout == LayoutDowntime
		}
		f.c.Known = true
		return
	case *LabelSpoiled:
		f.label(item.Name, d.Copy).spoil(mark(e))
		return
	case *LabelBound:
		f.c.Known = true
		return
	case *NoteAdded, *EventStruck, *FlagAnswered, *ChaseLogged:
		return
	}
	if item.Copy != 0 {
		l := f.label(item.Name, item.Copy)
		l.Scans = append(l.Scans, Scan{When: e.When(), By: e.By, Station: e.Station})
	}
	if usesLabel(e.Kind, item.Name.Thing()) {
		f.uses = append(f.uses, labelUse{thing: item.Name, copy: item.Copy, when: e.When()})
	}
}

// spoil notes that a label was recorded as destroyed; events come in order.
func (l *Label) spoil(m Mark) {
	if l.Spoiled == nil {
		l.Gone = m.When
	}
	l.Spoiled = &m
}

// noteStandIn follows labels that were bound to things of this case, and what hangs on them.
func (f *folding) noteStandIn(e *Event, item Item) {
	if e.Kind != KindLabelBound && e.Kind != KindLabelPrinted && e.Kind != KindLabelSpoiled {
		return
	}
	if _, bound := f.alias.boundTo(item.Name); !bound {
		return
	}
	to := f.alias.thing(item.Name)
	if to.Case() != f.c.Name || to == item.Name {
		return
	}
	i := slices.IndexFunc(f.c.StandIns, func(s StandIn) bool { return s.Label == item.Name })
	if i < 0 {
		i = len(f.c.StandIns)
		f.c.StandIns = append(f.c.StandIns, StandIn{Label: item.Name, For: to})
	}
	if e.Kind == KindLabelSpoiled {
		f.c.StandIns[i].Spoiled = true
	}
}

// usesLabel reports whether a step of this kind uses up the label of the thing it is about; a bag's own is looked after by
// [FoldBag].
func usesLabel(kind Kind, thing Thing) bool {
	switch thing {
	case ThingPot:
		return kind == KindPotFilled || kind == KindPotSealed || kind == KindCustodyTaken
	case ThingPiece:
		return kind == KindPieceTaken || kind == KindPiecePotted
	case ThingCase:
		return kind == KindCustodyTaken || kind == KindLabAccessioned || kind == KindRoomCleared
	}
	return false
}

func (f *folding) label(thing Name, copy Copy) *Label {
	l, list := findLabel(f.c.Labels, thing, copy, &f.newLabels)
	f.c.Labels = list
	return l
}

// findLabel gives the label and the list that holds it.
func findLabel(labels []*Label, thing Name, copy Copy, stock *[]Label) (*Label, []*Label) {
	for _, l := range labels {
		if l.Thing == thing && l.Copy == copy {
			return l, labels
		}
	}
	l := takeNew(stock)
	l.Thing, l.Copy = thing, copy
	return l, append(labels, l)
}

func (f *folding) finishLabels() { f.c.Labels = finishLabels(f.c.Labels, f.uses) }

// finishLabels marks the labels that were used and puts them in order. A step that named its thing without scanning
// counts for the newest copy printed by then, else for the first.
func finishLabels(labels []*Label, uses []labelUse) []*Label {
	slices.SortFunc(labels, func(a, b *Label) int {
		return cmp.Or(strings.Compare(string(a.Thing), string(b.Thing)), cmp.Compare(a.Copy, b.Copy))
	})
	for _, u := range uses {
		var chosen *Label
		for _, l := range labels {
			if l.Thing != u.thing || l.Printed.When.IsZero() {
				continue
			}
			switch {
			case u.copy != 0:
				if l.Copy == u.copy {
					chosen = l
				}
			case chosen == nil || (l.Spoiled == nil && !l.Printed.When.After(u.when.Add(StationClocks))):
				chosen = l
			}
		}
		if chosen != nil {
			chosen.Used = true
		}
	}
	return labels
}

func itemNamed(e *Event, name Name) (Item, bool) {
	for _, item := range e.Items {
		if item.Name == name {
			return item, true
		}
	}
	return Item{}, false
}
