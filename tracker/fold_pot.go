package tracker

import (
	"slices"
	"time"
)

// scan says how an event reached a pot.
type scan struct {
	direct bool // the pot's own name or label
	bag    Name // the bag it was in
}

var (
	scanOfPot  = scan{direct: true}
	scanOfCase = scan{}
)

// applyToPot works in an event about a pot: its own, its bag's or its case's.
func (f *folding) applyToPot(e *Event, p *Pot, by scan) {
	switch d := e.Data.(type) {
	case *PotFilled:
		p.HasEvents = true
		p.Fillings = append(p.Fillings, Filling{Mark: mark(e), Medium: d.Medium, VolumeML: d.VolumeML, Expires: d.Expires})
	case *PotSealed:
		p.HasEvents = true
		p.Seals = append(p.Seals, Seal{Mark: mark(e), With: d.ReadBackWith, Pieces: d.Pieces})
	case *SpecimenImaged:
		for s := range f.c.PiecesIn(p.Name) {
			s.seeCalcium(d.Calcium)
		}
	case *CustodyTaken:
		p.leaveBag(by)
		f.take(e, d, p, by)
	case *PotLost:
		p.HasEvents = true
		p.leaveBag(by)
		m := mark(e)
		p.Lost = &m
	case *PotFound:
		p.Lost, p.Discarded, p.Found = nil, nil, e.When()
	case *PotDiscarded:
		p.HasEvents = true
		p.leaveBag(by)
		m := mark(e)
		p.Discarded = &m
	case *LabAccessioned:
		p.HasEvents = p.HasEvents || by.direct
		p.Accession, p.Queried = &Accession{Mark: mark(e), Number: d.Number}, nil
		p.arrived(e.When())
	case *LabQueried:
		p.HasEvents = true
		p.Queried = &Query{Mark: mark(e), Why: d.Why, Needs: d.Needs}
		p.arrived(e.When())
	case *LabReferred:
		p.HasEvents = true
		p.Referrals = append(p.Referrals, Referral{Mark: mark(e), To: d.To, What: d.What, Due: d.Due})
		p.arrived(e.When())
	case *LabReturned:
		p.returned(d, e.When())
	case *LabRefused:
		p.HasEvents, p.Queried = true, nil
		p.Refused = &Refusal{Mark: mark(e), Why: d.Why, Note: d.Note}
		p.arrived(e.When())
	case *LabOpened:
		p.HasEvents, p.Queried = true, nil
		if p.Started == nil {
			m := mark(e)
			p.Started = &m
		}
		if d.Pieces != nil || p.Counted == nil {
			p.Counted = &Count{Mark: mark(e), Pieces: d.Pieces}
		}
		p.arrived(e.When())
	case *LabLoaded:
		p.HasEvents, p.Queried = true, nil
		if p.Loaded == nil {
			p.Loaded = loading(e, d)
		}
		p.arrived(e.When())
	case *StudiesAdded:
		for _, study := range d.Studies {
			if !slices.Contains(p.Studies, study) {
				p.Studies = append(p.Studies, study)
				p.Asked = askedAt(p.Asked, p.Studies, e.When())
			}
		}
	case *ResultIssued:
		if by.direct {
			p.HasEvents = true
			p.arrived(e.When())
		}
	case *ClockPaused:
		p.Pauses = append(p.Pauses, Pause{Mark: mark(e), Until: d.Until, Why: d.Why})
	case *ClockResumed:
		for i := range p.Pauses {
			if p.Pauses[i].Until.After(e.When()) {
				p.Pauses[i].Until = e.When()
			}
		}
	}
}

func loading(e *Event, d *LabLoaded) *Loading {
	return &Loading{Mark: mark(e), Run: d.Run, Leaves: d.LeavesFormalin}
}

// returned ends the referrals to a place that it is back from; a block does not come back with the slides. Where only one
// is away it is that one, whether the return names where it was or where it came back to.
func (p *Pot) returned(d *LabReturned, when time.Time) {
	var only *Referral
	away, matched := 0, false
	for i := range p.Referrals {
		r := &p.Referrals[i]
		if !r.Returned.IsZero() || r.What != d.What && r.What != "" && d.What != "" {
			continue
		}
		only, away = r, away+1
		if r.To == d.To {
			r.Returned, matched = when, true
		}
	}
	if away == 1 && !matched {
		only.Returned = when
	}
}

// leaveBag takes a pot out of its bag when the event was about the pot itself; what befalls the bag keeps it inside.
func (p *Pot) leaveBag(by scan) {
	if by.direct {
		p.Bag = ""
	}
}

// arrived notes the first sign of the pot at the laboratory.
func (p *Pot) arrived(when time.Time) {
	if p.Arrived.IsZero() {
		p.Arrived = when
	}
}

// usualCustody is how many hands a pot usually goes through, to make room for them at once.
const usualCustody = 5

// take hands the pot over. Custody stays in order of time, although a bag's scan by another station may count for a
// pot that was packed a moment later by its own clock.
func (f *folding) take(e *Event, d *CustodyTaken, p *Pot, by scan) {
	if by.direct || by.bag != "" {
		p.HasEvents = true
	}
	if by.bag != "" {
		f.uses = append(f.uses, labelUse{thing: p.Name, when: e.When()})
	}
	next := custodyOf(e, d, by)
	if p.Custody == nil {
		p.Custody = make([]Custody, 0, usualCustody)
	}
	at := len(p.Custody)
	for at > 0 && p.Custody[at-1].When.After(next.When) {
		at--
	}
	p.Custody = slices.Insert(p.Custody, at, next)
}

// bagTrack is what a case knows of a bag that its pots were in.
type bagTrack struct {
	last    *Event // last custody scan of the bag
	opened  *Event
	emptied []*Pot // pots that were in it until then
}

func (f *folding) bag(n Name) *bagTrack {
	if f.bags == nil {
		f.bags = map[Name]*bagTrack{}
	}
	t := f.bags[n]
	if t == nil {
		t = &bagTrack{}
		f.bags[n] = t
	}
	return t
}

// nearby reports whether two events of different stations are so close that their clocks cannot order them.
func nearby(earlier, later *Event) bool {
	return earlier != nil && earlier.Station != later.Station && later.When().Sub(earlier.When()) <= StationClocks
}

// applyToBag works in an event about a bag for the pots that it holds then; it says whether any is ours.
func (f *folding) applyToBag(e *Event, bag Name) bool {
	track := f.bag(bag)
	ours := false
	switch d := e.Data.(type) {
	case *BagPacked:
		for _, p := range f.potsNamed(d.Pots) {
			ours = true
			p.Bag, p.HasEvents = bag, true
			if nearby(track.last, e) {
				f.applyToPot(track.last, p, scan{bag: bag})
			}
		}
		return ours
	case *BagOpened:
		track.opened, track.emptied = e, nil
		for _, p := range f.c.Pots {
			if p.Bag == bag {
				ours = true
				p.Bag = ""
				track.emptied = append(track.emptied, p)
			}
		}
		for _, p := range f.potsNamed(d.Pots) {
			ours = true
			p.Bag, p.HasEvents = "", true
		}
		return ours
	case *CustodyTaken:
		track.last = e
		if nearby(track.opened, e) {
			for _, p := range track.emptied {
				ours = true
				f.applyToPot(e, p, scan{bag: bag})
			}
		}
	}
	for _, p := range f.c.Pots {
		if p.Bag == bag {
			ours = true
			f.applyToPot(e, p, scan{bag: bag})
		}
	}
	return ours
}

func (f *folding) potsNamed(names []Name) []*Pot {
	var pots []*Pot
	for _, n := range names {
		if p := f.c.Pot(f.potOf(f.alias.thing(n))); p != nil {
			pots = append(pots, p)
		}
	}
	return pots
}

// piece finds a piece that is already known, or nil.
func (f *folding) piece(n Name) *Piece {
	for _, s := range f.c.Pieces {
		if s.Name == n {
			return s
		}
	}
	return nil
}

// applyToPiece works in an event about a piece; the piece is made when it is first heard of.
func (f *folding) applyToPiece(e *Event, n Name) {
	s := f.piece(n)
	if s == nil {
		s = takeNew(&f.newPieces)
		s.Name, s.Pot = n, f.potOf(n)
		f.c.Pieces = append(f.c.Pieces, s)
	}
	switch d := e.Data.(type) {
	case *PieceTaken:
		f.touch(s.Pot)
		if s.Taken.When.IsZero() {
			s.Taken = mark(e)
			s.Lesion, s.What, s.Pass, s.Gauge, s.LengthMM, s.Look = d.Lesion, d.What, d.Pass, d.Gauge, d.LengthMM, d.Look
			if s.From = d.From; d.From != "" {
				if from := f.alias.thing(d.From); from.Case() == f.c.Name {
					s.From = from
				}
			}
		}
	case *PiecePotted:
		if to := f.alias.thing(d.Pot); d.Pot != "" && to.Case() != f.c.Name {
			s.Astray = &Astray{Mark: mark(e), Pot: to}
		} else if d.Pot != "" {
			s.Pot, s.Astray = to, nil
		}
		f.touch(s.Pot)
		if s.Potted.When.IsZero() {
			s.Potted = mark(e)
		}
		if d.Medium != "" {
			s.Medium = d.Medium
		}
	case *SpecimenImaged:
		s.seeCalcium(d.Calcium)
	case *AdequacyChecked:
		f.adequacy(e, d, n)
	case *LabLoaded:
		f.touch(s.Pot)
		if s.Loaded == nil {
			s.Loaded = loading(e, d)
		}
		if p := f.c.Pot(s.Pot); p != nil {
			p.Queried = nil
			p.arrived(e.When())
		}
	}
}

func (f *folding) touch(pot Name) {
	if p := f.c.Pot(pot); p != nil {
		p.HasEvents = true
	}
}

// seeCalcium keeps that calcium was seen, whatever is said later.
func (s *Piece) seeCalcium(calcium string) {
	if s.Calcium != "seen" {
		s.Calcium = calcium
	}
}
