package demo

import (
	"fmt"
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// spare is the number of the label that is printed over what was planned.
func spare(p *coursePot) int { return p.plan.Pieces + 1 }

// room records what happens from the identity check to the cleared room.
func (s *scribe) room() {
	c := s.c
	confirmed := []string{"side", "site", "consent", "allergy"}
	if s.ch.percent(50) {
		confirmed = append(confirmed, "anticoagulant")
	}
	s.do(c.checked, c.nurse, c.room, &tracker.PatientChecked{Identifiers: oneOf(s.ch, []string{"name", "birth-date"}, []string{"name", "birth-date", "address"},
		[]string{"name", "record-number"}, []string{"name", "birth-date", "record-number"}), Confirmed: confirmed, With: c.operator, Room: c.room}, s.theCase())
	withSpare := !c.live && c.pots[0].labelled() && c.roll == nil && (c.twist.leftOver || c.ordinary() && s.ch.percent(30))
	s.labels(withSpare)
	s.fill()
	s.pieces()
	s.seal()
	s.finish(withSpare)
}

// labels prints one label for each thing, one after the other.
func (s *scribe) labels(withSpare bool) {
	c := s.c
	if c.roll != nil {
		s.do(c.checked.Add(30*time.Second), c.nurse, c.room, &tracker.LabelBound{To: c.name}, tracker.Item{Name: c.roll.name, Copy: '1'}).Entered = tracker.EnteredPaper
		return
	}
	at := c.printed
	if c.twist.early {
		at = c.checked.Add(-3 * time.Minute)
	}
	first := at
	var things []tracker.Name
	if !c.twist.roomOpen {
		things = append(things, c.name)
	}
	for _, p := range c.pots {
		things = append(things, c.pot(p))
		if p.labelled() {
			for n := range p.plan.Pieces {
				things = append(things, c.piece(p, &coursePiece{number: n + 1}))
			}
		}
	}
	if withSpare {
		things = append(things, c.piece(c.pots[0], &coursePiece{number: spare(c.pots[0])}))
	}
	for _, n := range things {
		s.do(at, c.nurse, c.room, &tracker.LabelPrinted{Copy: '1', Printer: "printer-" + c.room}, named(n)...)
		at = at.Add(3 * time.Second)
	}
	if c.twist.early {
		var labels []tracker.Name
		for _, n := range things {
			if n != c.name {
				labels = append(labels, n)
			}
		}
		answered := c.cleared.Add(50 * time.Minute)
		s.do(answered, c.operator, s.desk(), &tracker.FlagAnswered{Flag: tracker.FlagLabelBeforeCheck, Done: "Checked against the patient before the first core."}, named(labels...)...)
		for i, n := range labels {
			s.wrong(n, tracker.FlagLabelBeforeCheck, first.Add(time.Duration(3*(i+1))*time.Second), answered, "labels were printed before identity was checked")
		}
	}
}

// fill puts medium into the pots; slides have none.
func (s *scribe) fill() {
	c := s.c
	for i, p := range c.pots {
		if p.spread() {
			continue
		}
		medium := p.plan.Medium
		if c.twist.wrongMedium && i == 1 {
			medium = "formalin"
			s.wrong(c.pot(p), tracker.FlagContainerWrong, p.filled, time.Time{}, "formalin is in the pot of a node core for flow cytometry")
		}
		fact := &tracker.PotFilled{Medium: medium, VolumeML: volume(medium), Lot: fmt.Sprintf("L%05d", s.ch.IntN(100_000)), Expires: s.date(c.start, s.ch.number(40, 400))}
		if c.twist.expired {
			bad := *fact
			bad.Expires = s.date(c.start, -6)
			s.do(p.filled, c.nurse, c.room, &bad, c.scanned(c.pot(p)))
			s.wrong(c.pot(p), tracker.FlagMediumExpired, p.filled, p.filled.Add(100*time.Second), "formalin past its date, filled again from a fresh lot")
			p.filled = p.filled.Add(100 * time.Second)
		}
		s.do(p.filled, c.nurse, c.room, fact, c.scanned(c.pot(p)))
	}
	if c.twist.oldCopy {
		s.do(c.pots[0].filled.Add(time.Minute), c.nurse, c.room, &tracker.LabelPrinted{Copy: '2', Replaces: '1', Printer: "printer-" + c.room}, named(c.pot(c.pots[0]))...)
	}
}

func (s *scribe) date(t time.Time, later int) tracker.Date {
	return tracker.Date(t.In(s.days.zone).AddDate(0, 0, later).Format(time.DateOnly))
}

// volume is what a pot holds, in millilitres. Common practice, no source.
func volume(medium string) float64 {
	switch medium {
	case "rpmi":
		return 5
	case "saline":
		return 2
	case "vial":
		return 20
	}
	return 30
}

// pieces takes each piece and puts it into its pot.
func (s *scribe) pieces() {
	c := s.c
	for _, p := range c.pots {
		var seen, unseen []tracker.Item
		lesion := p.plan.Lesion
		if c.twist.relabel {
			lesion = "L1"
		}
		for _, piece := range p.pieces {
			n := c.piece(p, piece)
			item := tracker.Item{Name: c.label(n)}
			if p.labelled() {
				item.Copy = '1'
			}
			taken := &tracker.PieceTaken{Lesion: lesion, What: piece.what, Pass: piece.pass, Collector: c.operator, Gauge: c.ask.gauge, Look: piece.look}
			if piece.what == "core" {
				taken.LengthMM = piece.lengthMM
			}
			if piece.from != nil {
				taken.From, taken.Gauge = c.name+"-"+tracker.Name(fmt.Sprintf("%s%02d", piece.fromLetter, piece.from.number)), 0
			}
			s.do(piece.taken, c.nurse, c.room, taken, item)
			if c.twist.relabel {
				s.wrong(n, tracker.FlagSideMismatch, piece.taken, p.sealed.Add(relabelled), "the first lesion's core is in the second lesion's pot")
			}
			if c.twist.untimed && piece.number == 3 {
				s.wrong(n, tracker.FlagFixativeTimeMissing, piece.taken.Add(10*time.Minute), time.Time{}, "nobody wrote down when the third core went into formalin")
				continue
			}
			potted := &tracker.PiecePotted{}
			if piece.into != "" {
				potted.Pot = c.name + "-" + tracker.Name(piece.into)
			}
			s.do(piece.potted, c.nurse, c.room, potted, item)
			if p.plan.Pot == "A" || piece.into == "A" {
				seen = append(seen, item)
			} else {
				unseen = append(unseen, item)
			}
		}
		if c.ask.sort == breastCalcium {
			s.image(p.imaged, "seen", seen)
			s.image(p.imaged.Add(5*time.Second), "not-seen", unseen)
		}
	}
	if c.twist.look != "" {
		s.wrong(c.pot(c.pots[0]), tracker.FlagPiecesPoor, c.lastTaken, time.Time{}, "all cores of a soft tissue lump are grey-brown")
	}
	switch c.ask.sort {
	case breastMass, breastCalcium:
		if !c.live && s.ch.percent(70) {
			s.do(c.lastTaken.Add(25*time.Second), c.nurse, c.room, &tracker.MarkerPlaced{Lesion: "L1", Type: oneOf(s.ch, "coil", "ribbon", "clip"),
				Lot: fmt.Sprintf("M%04d", s.ch.IntN(10_000))}, s.theCase())
		}
	case thyroid:
		adequate := c.ask.unsure != flagInadequate
		s.do(c.lastTaken.Add(onSite), labScientist, c.room, &tracker.AdequacyChecked{Lesion: "L1", Adequate: &adequate}, s.theCase())
	}
}

// onSite is how long after the last pass the slides are looked at in the room.
const onSite = 90 * time.Second

func (s *scribe) image(at time.Time, calcium string, items []tracker.Item) {
	if len(items) > 0 {
		s.do(at, s.c.nurse, s.c.room, &tracker.SpecimenImaged{Calcium: calcium}, items...)
	}
}

// relabelled is how long after sealing a pot is given its right name: before.
const relabelled = -20 * time.Second

// seal puts the lids on and reads the labels back.
func (s *scribe) seal() {
	c := s.c
	for _, p := range c.pots {
		if p.unused {
			continue
		}
		item := c.scanned(c.pot(p))
		if c.twist.oldCopy {
			item.Copy = '2'
		}
		count := c.inside(p)
		sealed := &tracker.PotSealed{ReadBackWith: c.second, Pieces: &count}
		switch {
		case c.twist.relabel:
			s.do(p.sealed.Add(relabelled), c.nurse, c.room, &tracker.PotRelabelled{New: c.pot(p), Why: "the first lesion's cores were put into the second lesion's pot",
				Witness: c.operator}, named(c.pot(c.pots[1]))...)
		case c.twist.ownReadBack:
			sealed.ReadBackWith = c.nurse
			s.readBackAgain(p, item, count)
		case c.twist.stray > 0:
			s.findStray(p, item, count)
			sealed.Pieces = nil // nobody counted: else the core would have been missed
		case c.twist.miscount:
			more := count + 1
			wrong := s.do(p.sealed.Add(-40*time.Second), c.nurse, c.room, &tracker.PotSealed{ReadBackWith: c.second, Pieces: &more}, item)
			s.do(p.sealed.Add(-15*time.Second), c.nurse, c.room, &tracker.EventStruck{Event: wrong.ID, Why: "counted again with the operator"}, item)
			s.wrong(c.pot(p), tracker.FlagPiecesDiffer, p.sealed.Add(-40*time.Second), p.sealed.Add(-15*time.Second), "one core too many was read aloud")
		}
		s.do(p.sealed, c.nurse, c.room, sealed, item)
	}
}

func (s *scribe) readBackAgain(p *coursePot, item tracker.Item, count int) {
	c := s.c
	var until time.Time
	if c.twist.settled {
		until = c.cleared.Add(3 * time.Hour)
		s.do(until, c.operator, c.room, &tracker.PotSealed{ReadBackWith: c.nurse, Pieces: &count}, item)
	}
	s.wrong(c.pot(p), tracker.FlagReadBackMissing, p.sealed, until, "the one who put the lid on read the label back to herself")
}

// findStray has the last core found on the radiograph's plate after the room was cleared.
func (s *scribe) findStray(p *coursePot, item tracker.Item, count int) {
	c := s.c
	piece := p.pieces[len(p.pieces)-1]
	n := c.piece(p, piece)
	s.do(piece.potted.Add(2*time.Minute), c.nurse, c.room, &tracker.PotSealed{ReadBackWith: c.operator, Pieces: &count}, item)
	s.wrong(n, tracker.FlagFixativeTimeMissing, piece.taken.Add(10*time.Minute), piece.potted, "a core lay on the radiograph's plate")
	var until time.Time
	if c.twist.settled {
		until = piece.potted.Add(25 * time.Minute)
		s.do(until, c.operator, c.room, &tracker.FlagAnswered{Flag: tracker.FlagColdIschaemiaLong, Done: "The laboratory knows and will say so on the report."}, named(n)...)
	}
	s.wrong(n, tracker.FlagColdIschaemiaLong, piece.potted, until, "a core reached formalin more than an hour after it was taken")
}

// finish ends the procedure, destroys what labels are over and clears the room.
func (s *scribe) finish(withSpare bool) {
	c := s.c
	ended := &tracker.ProcedureEnded{Outcome: "done"}
	if c.twist.relabel {
		ended.Outcome, ended.Unused, ended.Why = "partly", []string{"B"}, "the node was normal on the day"
		s.spoil(c.ended.Add(10*time.Second), c.pot(c.pots[1]), "pot relabelled")
		for n := range c.pots[0].plan.Pieces {
			s.spoil(c.ended.Add(time.Duration(15+4*n)*time.Second), c.piece(c.pots[0], &coursePiece{number: n + 1}), "its core is under another label")
		}
	}
	s.do(c.ended, c.nurse, c.room, ended, s.theCase())
	if withSpare {
		over := c.piece(c.pots[0], &coursePiece{number: spare(c.pots[0])})
		switch {
		case !c.twist.leftOver:
			s.spoil(c.ended.Add(20*time.Second), over, "not needed")
		case c.twist.settled:
			s.spoil(c.cleared.Add(50*time.Minute), over, "found under the keyboard")
			s.wrong(over, tracker.FlagLabelLeftOver, c.cleared, c.cleared.Add(50*time.Minute), "a label was left over in the room")
		default:
			s.wrong(over, tracker.FlagLabelLeftOver, c.cleared, time.Time{}, "a label was left over in the room")
		}
	}
	if c.twist.roomOpen {
		s.wrong(c.name, tracker.FlagRoomOpen, c.lastTaken.Add(30*time.Minute), time.Time{}, "nobody cleared the room")
		return
	}
	cleared := s.theCase()
	if c.roll == nil {
		cleared.Copy = '1'
	}
	s.do(c.cleared, c.nurse, c.room, &tracker.RoomCleared{Room: c.room}, cleared)
}

func (s *scribe) spoil(at time.Time, label tracker.Name, why string) {
	s.do(at, s.c.nurse, s.c.room, &tracker.LabelSpoiled{Copy: '1', Why: why}, named(label)...)
}
