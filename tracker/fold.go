package tracker

import (
	"slices"
	"strings"
	"time"
)

// StationClocks is how far the clocks of two stations may differ before the order of their events says anything.
// Source: pottrail default, contract page on flags.
const StationClocks = 2 * time.Minute

// leastDoubt is the smallest difference of clocks that a case remembers; limits below it cannot be set.
const leastDoubt = time.Minute

// Fold works out what happened to a case from its events, as [Gather] collects them. It is total and deterministic:
// any order, any repetition and any other things' events beside them give the same case.
func Fold(name Name, events []*Event) *Case {
	f := &folding{c: &Case{Name: name}, set: settle(events)}
	f.alias = f.set.aliases()
	f.plan()
	for _, e := range f.set.all {
		if f.set.stands(e) {
			f.apply(e)
		}
	}
	f.finish()
	return f.c
}

// folding is a case in the making.
type folding struct {
	c     *Case
	set   standing
	alias aliases
	uses  []labelUse
	bags  map[Name]*bagTrack
	// Labels and pieces are made in one piece each, since folding is done for every event.
	newLabels []Label
	newPieces []Piece
	request   Version // what labels show, as last asked for
}

// takeNew takes the next of a stock, or makes one when it is used up.
func takeNew[T any](stock *[]T) *T {
	if len(*stock) == 0 {
		return new(T)
	}
	next := &(*stock)[0]
	*stock = (*stock)[1:]
	return next
}

// labelUse is a step that uses a label up.
type labelUse struct {
	thing Name
	copy  Copy // 0: named, not scanned
	when  time.Time
}

// plan works out the request and makes every pot that is planned at the end or has events of its own, so that events
// about the whole case reach pots that became known later.
func (f *folding) plan() {
	ever := map[Name]*PlannedPot{}
	since := map[Name]time.Time{}
	asked := map[Name]map[string]time.Time{}
	var planned []Name
	setPots := func(e *Event, pots []PlannedPot) {
		planned = planned[:0]
		for i := range pots {
			n, err := f.c.Name.WithPot(pots[i].Pot)
			if err != nil {
				continue // the codec has refused such a letter
			}
			planned = append(planned, n)
			if ever[n] == nil || ever[n].Medium != pots[i].Medium {
				since[n] = e.When()
			}
			asked[n] = askedAt(asked[n], pots[i].Studies, e.When())
			ever[n] = &pots[i]
		}
	}
	used := make([]Name, 0, len(f.set.all))
	labels, pieces := 0, 0
	for _, e := range f.set.all {
		if !f.set.stands(e) {
			continue
		}
		switch d := e.Data.(type) {
		case *LabelPrinted:
			labels += len(e.Items)
		case *PieceTaken:
			pieces += len(e.Items)
		case *CaseOpened:
			if f.isCase(e) {
				if len(f.c.Openings) == 0 {
					f.c.Request = Request{Patient: d.Patient, Priority: d.Priority, Room: d.Room, Planned: d.Planned,
						Lesions: d.Lesions, Order: d.Order, Clinical: d.Clinical, Hazard: d.Hazard, RepeatOf: d.RepeatOf}
					setPots(e, d.Pots)
					f.request = Version{Mark: mark(e), Patient: d.Patient, Lesions: d.Lesions, Pots: d.Pots}
				}
				f.c.Openings = append(f.c.Openings, mark(e))
			}
		case *CaseAmended:
			if f.isCase(e) {
				f.amend(e, d)
				if d.Pots != nil {
					setPots(e, d.Pots)
				}
				f.version(e, d)
			}
		case *BagPacked:
			used = f.ownPots(used, d.Pots)
		case *BagOpened:
			used = f.ownPots(used, d.Pots)
		}
		for _, item := range e.Items {
			if pot := f.potOf(f.alias.thing(item.Name)); pot != "" && (len(used) == 0 || used[len(used)-1] != pot) {
				used = append(used, pot)
			}
		}
	}
	f.c.Labels, f.c.Pieces = make([]*Label, 0, labels), make([]*Piece, 0, pieces)
	f.c.steps = make([]handling, 0, len(f.set.all))
	f.newLabels, f.newPieces = make([]Label, labels), make([]Piece, pieces)
	f.uses = make([]labelUse, 0, labels+len(f.set.all)/4)
	names := append(used, planned...)
	slices.Sort(names)
	for _, n := range slices.Compact(names) {
		f.c.Pots = append(f.c.Pots, &Pot{Name: n, Plan: ever[n], PlannedAt: since[n], Asked: asked[n]})
	}
	for _, p := range f.c.Pots {
		if p.Plan != nil {
			p.Studies = slices.Clone(p.Plan.Studies)
		}
	}
}

// askedAt notes when each study was asked for; what was asked for before keeps its time.
func askedAt(before map[string]time.Time, studies []string, when time.Time) map[string]time.Time {
	asked := make(map[string]time.Time, len(studies))
	for _, study := range studies {
		asked[study] = when
		if first, ok := before[study]; ok {
			asked[study] = first
		}
	}
	return asked
}

func (f *folding) amend(e *Event, d *CaseAmended) {
	r := &f.c.Request
	if d.Patient != nil && *d.Patient != r.Patient {
		if len(f.c.Openings) > 0 && f.printedBefore(e) {
			f.c.PatientChanged = e.When()
		}
		r.Patient = *d.Patient
	}
	set(&r.Priority, d.Priority)
	set(&r.Room, d.Room)
	set(&r.Planned, d.Planned)
	set(&r.Order, d.Order)
	set(&r.Clinical, d.Clinical)
	set(&r.RepeatOf, d.RepeatOf)
	if d.Lesions != nil {
		r.Lesions = d.Lesions
	}
	if d.Hazard != nil {
		r.Hazard = d.Hazard
	}
}

func set[T any](field, changed *T) {
	if changed != nil {
		*field = *changed
	}
}

// printedBefore reports whether a label of the case stands printed before the event.
func (f *folding) printedBefore(e *Event) bool {
	for _, other := range f.set.all {
		if other == e {
			return false
		}
		if other.Kind == KindLabelPrinted && f.set.stands(other) && f.ownLabel(other) {
			return true
		}
	}
	return false
}

func (f *folding) ownLabel(e *Event) bool {
	for _, item := range e.Items {
		if item.Name.Case() == f.c.Name {
			return true
		}
	}
	return false
}

// isCase reports whether an item of the event is, or stands for, the whole case.
func (f *folding) isCase(e *Event) bool {
	for _, item := range e.Items {
		if f.alias.thing(item.Name) == f.c.Name {
			return true
		}
	}
	return false
}

// potOf is the pot of this case that a thing is or is in, or "".
func (f *folding) potOf(n Name) Name {
	switch n.Thing() {
	case ThingPot:
	case ThingPiece:
		n = f.alias.pot(n.Pot())
	default:
		return ""
	}
	if n.Case() != f.c.Name {
		return ""
	}
	return n
}

func (f *folding) ownPots(list, pots []Name) []Name {
	for _, n := range pots {
		if pot := f.potOf(f.alias.thing(n)); pot != "" {
			list = append(list, pot)
		}
	}
	return list
}

func mark(e *Event) Mark { return Mark{ID: e.ID, When: e.When(), By: e.By, Station: e.Station} }

// apply works one standing event in; events come in order.
func (f *folding) apply(e *Event) {
	concerns, handled := false, byHand(e.Kind)
	for _, item := range e.Items {
		n := f.alias.thing(item.Name)
		f.noteLabel(e, item)
		if handled && n.Case() == f.c.Name {
			f.c.steps = append(f.c.steps, handling{Item: n, Event: e})
		}
		if n != item.Name && item.Copy == 0 && usesLabel(e.Kind, n.Thing()) {
			f.uses = append(f.uses, labelUse{thing: n, when: e.When()})
		}
		switch {
		case n == f.c.Name:
			concerns = true
			f.applyToCase(e)
			for _, p := range f.c.Pots {
				f.applyToPot(e, p, scanOfCase)
			}
			f.answer(e, n)
		case n.Thing() == ThingPot && n.Case() == f.c.Name:
			concerns = true
			if p := f.c.Pot(n); p != nil {
				f.applyToPot(e, p, scanOfPot)
			}
			f.answer(e, n)
		case n.Thing() == ThingPiece && f.potOf(n) != "":
			concerns = true
			f.applyToPiece(e, n)
			f.answer(e, n)
		case n.Thing() == ThingBag:
			concerns = f.applyToBag(e, n) || concerns
		}
	}
	f.results(e)
	if concerns {
		f.c.Events++
		f.c.LastMark = mark(e)
	}
}

func (f *folding) answer(e *Event, n Name) {
	switch d := e.Data.(type) {
	case *FlagAnswered:
		f.c.Answers = append(f.c.Answers, Answer{When: e.When(), Flag: d.Flag, Item: n})
	case *ChaseLogged:
		f.c.Chases = append(f.c.Chases, Inquiry{Mark: mark(e), Item: n, Asked: d.Asked, Answer: d.Answer, Next: d.Next, Level: d.Level})
	}
	if doubt, ok := doubtOf(e, n); ok {
		f.c.Doubts = append(f.c.Doubts, doubt)
	}
}

// doubtOf looks for a station's clock that runs ahead or was measured to be wrong.
func doubtOf(e *Event, n Name) (Doubt, bool) {
	d := Doubt{When: e.When(), Item: n}
	if !e.Record.Recorded.IsZero() {
		if ahead := e.At.Sub(e.Record.Recorded); ahead >= leastDoubt {
			d.Ahead = ahead
		}
	}
	if e.Record.Skew.Abs() >= leastDoubt {
		d.Skew = e.Record.Skew
	}
	return d, d.Ahead != 0 || d.Skew != 0
}

// applyToCase takes what is said of the whole case and is not about its pots.
func (f *folding) applyToCase(e *Event) {
	c := f.c
	switch d := e.Data.(type) {
	case *PatientChecked:
		m := mark(e)
		m.Room = d.Room
		c.Checks = append(c.Checks, m)
		if slices.Contains(d.Confirmed, confirmedSide) {
			c.SideChecks = append(c.SideChecks, m)
		}
	case *AdequacyChecked:
		f.adequacy(e, d, "")
	case *ProcedureEnded:
		ended := &Ended{Mark: mark(e), Outcome: d.Outcome}
		for _, u := range d.Unused {
			if n, err := c.Name.WithPot(strings.ToUpper(u)); err == nil {
				ended.Unused = append(ended.Unused, n)
			} else if n, err := ParseName(u); err == nil {
				ended.Unused = append(ended.Unused, n)
			}
		}
		c.Ended = ended
	case *RoomCleared:
		m := mark(e)
		m.Room = d.Room
		c.Cleared = append(c.Cleared, m)
	case *CaseDiscussed:
		c.Talks = append(c.Talks, Talk{Mark: mark(e), Results: d.Results, Concordance: d.Concordance, Plan: d.Plan})
	case *PatientTold:
		c.Tellings = append(c.Tellings, Telling{Mark: mark(e), Results: d.Results, How: d.How})
	case *CaseClosed:
		c.Closing = &Closing{Mark: mark(e), Outcome: d.Outcome, Why: d.Why}
	case *CaseReopened:
		c.Closing = nil
	}
}

// finish puts lists in order and works out what depends on all events.
func (f *folding) finish() {
	c := f.c
	slices.SortFunc(c.Pieces, func(a, b *Piece) int { return strings.Compare(string(a.Name), string(b.Name)) })
	for _, s := range c.Pieces {
		f.inheritTaken(s)
	}
	f.finishLabels()
	f.finishResults()
	f.finishRepeats()
	c.Known = c.Known || len(c.Openings) > 0
	if !c.Known {
		c.Strangers = f.strangers()
	}
}

// inheritTaken gives a piece that was cut from another the time at which that one left the patient.
func (f *folding) inheritTaken(s *Piece) {
	from := s
	for range longestAlias {
		if from.From == "" {
			break
		}
		next := f.piece(f.alias.thing(from.From))
		if next == nil || next == s {
			break
		}
		from = next
	}
	if from != s && !from.Taken.When.IsZero() {
		s.Taken = from.Taken
	}
}

// strangers lists what was scanned or named of a case that nobody made known, each thing once.
func (f *folding) strangers() []Stranger {
	var out []Stranger
	seen := map[Name]bool{}
	add := func(n Name, e *Event) {
		if n.Case() == f.c.Name && !seen[n] {
			seen[n] = true
			out = append(out, Stranger{Item: n, Mark: mark(e)})
		}
	}
	for _, e := range f.set.all {
		if !f.set.stands(e) || e.Kind == KindEventStruck || e.Kind == KindFlagAnswered {
			continue
		}
		for _, n := range e.Concerns() {
			if n != repeated(e) { // what it repeats may be older than the ledger
				add(n, e)
			}
		}
	}
	return out
}
