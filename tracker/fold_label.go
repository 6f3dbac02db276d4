package tracker

import (
	"cmp"
	"slices"
	"strings"
)

// noteLabel follows the labels of this case: printed, spoiled, scanned, used. Labels keep the name printed on them,
// whatever they are bound to later.
func (f *folding) noteLabel(e *Event, item Item) {
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
		l := f.label(item.Name, d.Copy)
		m := mark(e)
		l.Spoiled = &m
		return
	case *LabelBound:
		f.c.Known = true
		return
	case *NoteAdded, *EventStruck, *FlagAnswered, *ChaseLogged:
		return
	}
	if item.Copy != 0 {
		l := f.label(item.Name, item.Copy)
		l.Scans = append(l.Scans, Scan{When: e.When(), By: e.By})
	}
	if usesLabel(e.Kind, item.Name.Thing()) {
		f.uses = append(f.uses, labelUse{thing: item.Name, copy: item.Copy, when: e.When()})
	}
}

// usesLabel reports whether a step of this kind uses up the label of the thing it is about.
func usesLabel(kind Kind, thing Thing) bool {
	switch thing {
	case ThingPot:
		return kind == KindPotFilled || kind == KindPotSealed || kind == KindCustodyTaken
	case ThingPiece:
		return kind == KindPieceTaken || kind == KindPiecePotted
	case ThingCase:
		return kind == KindCustodyTaken || kind == KindLabAccessioned || kind == KindRoomCleared
	case ThingBag:
		return kind == KindBagPacked
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

// FoldBag works out what happened to a bag, as far as rules on the bag itself need.
func FoldBag(name Name, events []*Event) *Bag {
	b := &Bag{Name: name}
	set := settle(events)
	inside := map[Name]bool{}
	var uses []labelUse
	var scanned []Stranger
	for _, e := range set.all {
		item, about := itemNamed(e, name)
		if !about || !set.stands(e) {
			continue
		}
		b.Events++
		b.LastMark = mark(e)
		when := e.When()
		if doubt, ok := doubtOf(e, name); ok {
			b.Doubts = append(b.Doubts, doubt)
		}
		if item.Copy != 0 && e.Kind != KindLabelPrinted && e.Kind != KindLabelSpoiled && e.Kind != KindNoteAdded &&
			e.Kind != KindEventStruck && e.Kind != KindFlagAnswered && e.Kind != KindChaseLogged {
			var l *Label
			l, b.Labels = findLabel(b.Labels, name, item.Copy, new([]Label))
			l.Scans = append(l.Scans, Scan{When: e.When(), By: e.By})
		}
		switch d := e.Data.(type) {
		case *LabelPrinted:
			var l *Label
			l, b.Labels = findLabel(b.Labels, name, d.Copy, new([]Label))
			if l.Printed.When.IsZero() {
				l.Printed, l.Replaces, l.Downtime = mark(e), d.Replaces, d.Layout == LayoutDowntime
			}
			b.Known = true
		case *LabelSpoiled:
			var l *Label
			l, b.Labels = findLabel(b.Labels, name, d.Copy, new([]Label))
			m := mark(e)
			l.Spoiled = &m
		case *BagPacked:
			b.Known = true
			uses = append(uses, labelUse{thing: name, copy: item.Copy, when: when})
			for _, n := range d.Pots {
				inside[n] = true
			}
		case *BagOpened:
			m := mark(e)
			b.Opened = &m
			clear(inside)
		case *CustodyTaken:
			holder := d.Holder
			if holder == "" {
				holder = e.By
			}
			b.Custody = append(b.Custody, Custody{Mark: mark(e), Place: d.Place, Holder: holder, Condition: d.Condition, Direct: true})
		case *FlagAnswered:
			b.Answers = append(b.Answers, Answer{When: when, Flag: d.Flag, Item: name})
		}
		if e.Kind != KindEventStruck && e.Kind != KindFlagAnswered && len(scanned) == 0 {
			scanned = []Stranger{{Item: name, Mark: mark(e)}}
		}
	}
	for n := range inside {
		b.Inside = append(b.Inside, n)
	}
	slices.Sort(b.Inside)
	b.Labels = finishLabels(b.Labels, uses)
	if !b.Known {
		b.Strangers = scanned
	}
	return b
}

func itemNamed(e *Event, name Name) (Item, bool) {
	for _, item := range e.Items {
		if item.Name == name {
			return item, true
		}
	}
	return Item{}, false
}
