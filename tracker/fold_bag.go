package tracker

import (
	"slices"
	"strings"
	"time"
)

// FoldBag works out what happened to a bag from its events and those of the pots that were ever in it, as [Gather]
// collects them. Like [Fold] it is total and deterministic.
func FoldBag(name Name, events []*Event) *Bag {
	f := &bagFolding{b: &Bag{Name: name}, set: settle(events)}
	f.alias = f.set.aliases()
	f.plan()
	var uses []labelUse
	var scanned []Stranger
	for _, e := range f.set.all {
		if !f.set.stands(e) {
			continue
		}
		item, about := itemNamed(e, name)
		if !about {
			f.elsewhere(e)
			continue
		}
		f.label(e, item)
		f.apply(e)
		if e.Kind == KindBagPacked {
			uses = append(uses, labelUse{thing: name, copy: item.Copy, when: e.When()})
		}
		if e.Kind != KindEventStruck && e.Kind != KindFlagAnswered && len(scanned) == 0 {
			scanned = []Stranger{{Item: name, Mark: mark(e)}}
		}
	}
	f.b.Labels = finishLabels(f.b.Labels, uses)
	if !f.b.Known {
		f.b.Strangers = scanned
	}
	f.finish()
	return f.b
}

// bagFolding is a bag in the making.
type bagFolding struct {
	b      *Bag
	set    standing
	alias  aliases
	pots   []*bagPot // every pot that was ever said to be in it
	packer string
	looks  []*look
	opened *Event
	n      int // of the event, to tell what came after what
}

// bagPot is one pot as its bag sees it.
type bagPot struct {
	Content
	name   Name
	state  bagState
	listed bool   // packed, and not taken out since as far as scans tell
	packed *Event // the last time
	moves  []bagMove
	seen   []sighting
	// What was said of its medium: asked for, poured, and what its pieces went into; the later kind speaks.
	media [3]mediumSaid
}

type mediumSaid struct {
	medium string
	since  time.Time
}

// bagState says whether a pot is in the bag. Two stations' clocks may leave that open: then it may be.
type bagState int

const (
	outside bagState = iota
	maybe
	inside
)

// bagMove is a pot going in or out.
type bagMove struct {
	event    *Event
	n        int
	from, to bagState
}

// sighting is a sign that a pot is somewhere: whoever missed it may stop looking.
type sighting struct {
	event     *Event
	n         int
	elsewhere bool // not where the bag was
}

// look is one comparison of what was in the bag with what should be.
type look struct {
	event *Event
	place string
	n     int
	giver string
	state []bagState // of each pot, in the order of all
	found []*bagPot  // an opening's; nil for a count
	count int        // a count's
	open  bool
}

// plan makes every pot that the bag was ever said to hold, and the media that requests ask for.
func (f *bagFolding) plan() {
	for _, e := range f.set.all {
		if _, about := itemNamed(e, f.b.Name); !about || !f.set.stands(e) {
			continue
		}
		for _, n := range potsOf(e) {
			if n = f.alias.thing(n); f.pot(n) == nil && n.Thing() == ThingPot {
				f.pots = append(f.pots, &bagPot{name: n})
			}
		}
	}
	slices.SortFunc(f.pots, func(a, b *bagPot) int { return strings.Compare(string(a.name), string(b.name)) })
}

// potsOf lists the pots that a packing or an opening names.
func potsOf(e *Event) []Name {
	switch d := e.Data.(type) {
	case *BagPacked:
		return d.Pots
	case *BagOpened:
		return d.Pots
	}
	return nil
}

func (f *bagFolding) pot(n Name) *bagPot {
	for _, p := range f.pots {
		if p.name == n {
			return p
		}
	}
	return nil
}

func (f *bagFolding) potsNamed(names []Name) []*bagPot {
	var pots []*bagPot
	for _, n := range names {
		if p := f.pot(f.alias.thing(n)); p != nil && !slices.Contains(pots, p) {
			pots = append(pots, p)
		}
	}
	return pots
}

// label follows the labels of the bag itself.
func (f *bagFolding) label(e *Event, item Item) {
	b := f.b
	find := func(copy Copy) (l *Label) {
		l, b.Labels = findLabel(b.Labels, b.Name, copy, new([]Label))
		return l
	}
	switch d := e.Data.(type) {
	case *LabelPrinted:
		if l := find(d.Copy); l.Printed.When.IsZero() {
			l.Printed, l.Replaces, l.Downtime = mark(e), d.Replaces, d.Layout == LayoutDowntime
		}
	case *LabelSpoiled:
		find(d.Copy).spoil(mark(e))
	case *NoteAdded, *EventStruck, *FlagAnswered, *ChaseLogged:
	default:
		if item.Copy != 0 {
			l := find(item.Copy)
			l.Scans = append(l.Scans, Scan{When: e.When(), By: e.By, Station: e.Station})
		}
	}
}

// apply works in an event about the bag.
func (f *bagFolding) apply(e *Event) {
	b := f.b
	f.n++
	b.Events++
	b.LastMark = mark(e)
	if doubt, ok := doubtOf(e, b.Name); ok {
		b.Doubts = append(b.Doubts, doubt)
	}
	if byHand(e.Kind) {
		b.steps = append(b.steps, handling{Item: b.Name, Event: e})
	}
	switch d := e.Data.(type) {
	case *LabelPrinted:
		b.Known = true
	case *BagPacked:
		b.Known = true
		f.packer = e.By
		for _, p := range f.potsNamed(d.Pots) {
			f.pack(p, e)
		}
	case *BagOpened:
		m := mark(e)
		b.Opened = &m
		l := f.look(e)
		l.open, l.found = true, f.potsNamed(d.Pots)
		for _, p := range f.pots {
			f.move(p, e, outside)
		}
		for _, p := range l.found {
			f.sight(p, e)
		}
		f.opened = e
	case *CustodyTaken:
		if d.Count != nil {
			l := f.look(e)
			l.count, l.place = *d.Count, d.Place
		}
		b.Custody = append(b.Custody, custodyOf(e, d, scanOfPot))
	case *FlagAnswered:
		b.Answers = append(b.Answers, Answer{When: e.When(), Flag: d.Flag, Item: b.Name})
	case *ChaseLogged:
		b.Chases = append(b.Chases, Inquiry{Mark: mark(e), Item: b.Name, Asked: d.Asked, Answer: d.Answer, Next: d.Next, Level: d.Level})
	}
}

// custodyOf is one taking over.
func custodyOf(e *Event, d *CustodyTaken, by scan) Custody {
	holder := d.Holder
	if holder == "" {
		holder = e.By
	}
	return Custody{Mark: mark(e), Place: d.Place, Holder: holder, Condition: d.Condition, Count: d.Count, TemperatureC: d.TemperatureC,
		Direct: by.direct, Bag: by.bag}
}

// pack puts a pot in. What was found in the bag by another station's clock a moment before was in it then.
func (f *bagFolding) pack(p *bagPot, e *Event) {
	p.packed = e
	f.sight(p, e)
	if nearby(f.opened, e) && slices.Contains(f.potsNamed(potsOf(f.opened)), p) {
		p.moves = append(p.moves, bagMove{event: e, n: f.n, from: outside, to: inside})
		return
	}
	if p.state != inside {
		p.Since = e.When()
	}
	f.move(p, e, inside)
}

func (f *bagFolding) move(p *bagPot, e *Event, to bagState) {
	p.listed = to != outside
	if p.state != to {
		p.moves = append(p.moves, bagMove{event: e, n: f.n, from: p.state, to: to})
		p.state = to
	}
}

// sight notes a sign of a pot. A scan at the place where the bag is may well be of a pot just taken out of it.
func (f *bagFolding) sight(p *bagPot, e *Event) {
	s := sighting{event: e, n: f.n}
	switch d := e.Data.(type) {
	case *CustodyTaken:
		n := len(f.b.Custody)
		s.elsewhere = n == 0 || f.b.Custody[n-1].Place != d.Place
	case *PotFound, *BagPacked:
		s.elsewhere = true
	case *BagOpened:
		_, own := itemNamed(e, f.b.Name)
		s.elsewhere = !own
	}
	p.seen = append(p.seen, s)
}

// look notes what should be in the bag when somebody looks.
func (f *bagFolding) look(e *Event) *look {
	l := &look{event: e, n: f.n, giver: f.packer, state: make([]bagState, len(f.pots))}
	for _, h := range f.b.Custody {
		if h.Holder != e.By {
			l.giver = h.Holder
		}
	}
	for i, p := range f.pots {
		l.state[i] = p.state
	}
	f.looks = append(f.looks, l)
	return l
}

// elsewhere works in an event that is not about the bag, for the pots that were ever in it.
func (f *bagFolding) elsewhere(e *Event) {
	if len(f.pots) == 0 {
		return
	}
	f.n++
	switch d := e.Data.(type) {
	case *BagPacked:
		for _, p := range f.potsNamed(d.Pots) {
			f.sight(p, e)
			f.move(p, e, outside)
		}
		return
	case *BagOpened:
		for _, p := range f.potsNamed(d.Pots) {
			f.sight(p, e)
		}
		return
	case *CaseOpened:
		f.asked(e, d.Pots)
		return
	case *CaseAmended:
		f.asked(e, d.Pots)
		return
	}
	for _, item := range e.Items {
		n := f.alias.thing(item.Name)
		if n.Thing() == ThingPiece {
			n = f.alias.pot(n.Pot())
			if d, ok := e.Data.(*PiecePotted); ok && d.Pot != "" {
				n = f.alias.thing(d.Pot)
			}
		}
		if p := f.pot(n); p != nil {
			f.potEvent(p, e)
		}
	}
}

// potEvent works in an event of a pot's own.
func (f *bagFolding) potEvent(p *bagPot, e *Event) {
	switch d := e.Data.(type) {
	case *CustodyTaken, *PotDiscarded:
		f.sight(p, e)
		f.takeOut(p, e)
	case *PotLost:
		f.takeOut(p, e)
	case *PotFound:
		f.sight(p, e)
	case *LabAccessioned, *LabQueried, *LabRefused, *LabOpened, *LabLoaded, *LabReferred, *ResultIssued:
		f.sight(p, e)
		if p.state == inside {
			f.move(p, e, maybe) // the laboratory has it in hand; when it came out nobody scanned
		}
	case *PotFilled:
		p.media[1] = mediumSaid{d.Medium, e.When()}
	case *PiecePotted:
		if d.Medium != "" {
			p.media[2] = mediumSaid{d.Medium, e.When()}
		}
	}
}

// takeOut has the pot's own scan take it out. Right after its packing, by another station's clock, the scan may as well
// have come before.
func (f *bagFolding) takeOut(p *bagPot, e *Event) {
	if p.state == inside && nearby(p.packed, e) {
		f.move(p, e, maybe)
		p.listed = false
		return
	}
	f.move(p, e, outside)
}

// asked notes the media that a request asks for: that of its first opening, and of amendments.
func (f *bagFolding) asked(e *Event, pots []PlannedPot) {
	for _, item := range e.Items {
		n := f.alias.thing(item.Name)
		for i := range pots {
			pot, err := n.WithPot(pots[i].Pot)
			if err != nil {
				continue // no case, or a letter that the codec has refused
			}
			p := f.pot(pot)
			if p == nil || e.Kind == KindCaseOpened && p.media[0].medium != "" || p.media[0].medium == pots[i].Medium {
				continue
			}
			p.media[0] = mediumSaid{pots[i].Medium, e.When()}
		}
	}
}

// finish says what is in the bag at the end, and what was found to differ.
func (f *bagFolding) finish() {
	for _, p := range f.pots {
		if p.listed {
			f.b.Inside = append(f.b.Inside, p.name)
		}
		if p.state != inside {
			continue
		}
		c := Content{Pot: p.name, Since: p.Since}
		for _, said := range p.media {
			if said.medium != "" {
				c.Medium, c.MediumSince = said.medium, said.since
			}
		}
		f.b.Contents = append(f.b.Contents, c)
	}
	f.compare()
}
