package demo

import (
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// laboratory records what happens to the pots there, up to the processor.
func (s *scribe) laboratory() {
	c := s.c
	for i, p := range c.pots {
		if p.unused || p.bag == nil || p.opened.IsZero() || p.missing {
			continue
		}
		item := c.scanned(c.pot(p))
		if c.twist.oldCopy {
			item.Copy = '2'
		}
		at := p.bag.opened.Add(time.Duration(40+35*i) * time.Second)
		if c.twist.refused != "" && s.refuse(p, item, at) {
			return
		}
		if c.twist.refused == "" {
			s.do(at, labClerk, labReception, &tracker.LabAccessioned{Number: s.number}, item)
		}
		if c.twist.queried {
			s.query(p, item, at)
		}
		s.open(p, item)
		if p.loaded.IsZero() {
			continue
		}
		loaded := &tracker.LabLoaded{Run: p.run}
		if c.twist.short || s.ch.percent(25) {
			loaded.LeavesFormalin = p.leaves
		}
		s.do(p.loaded, labScientist, labProcessor, loaded, item)
		s.window(p)
		if c.ask.sort == softTissue && s.ch.percent(60) {
			s.refer(p, item)
		}
	}
}

// refuse has the laboratory send word that it will not process a pot; settled, it takes it after all.
func (s *scribe) refuse(p *coursePot, item tracker.Item, at time.Time) (stays bool) {
	c := s.c
	at = at.Add(12 * time.Minute)
	note, until := "The side on the label is not that on the request form.", time.Time{}
	if c.twist.refused == "no-request" {
		note = "No form came with it."
	}
	s.do(at, labClerk, labReception, &tracker.LabRefused{Why: c.twist.refused, Note: note}, item)
	if c.twist.settled {
		until = at.Add(3 * time.Hour)
		s.do(until, labClerk, labReception, &tracker.LabAccessioned{Number: s.number}, item)
	}
	s.wrong(c.pot(p), tracker.FlagLabRefused, at, until, "the laboratory refused a pot")
	return !c.twist.settled
}

// query has the laboratory ask something; turnaround stands still until the answer.
func (s *scribe) query(p *coursePot, item tracker.Item, at time.Time) {
	c := s.c
	at = at.Add(20 * time.Minute)
	s.do(at, labClerk, labReception, &tracker.LabQueried{Why: "the form does not say which cores are of which pass", Needs: "a word from the operator"}, item)
	s.do(at.Add(6*time.Minute), c.clinic.desk, s.desk(), &tracker.ClockPaused{Why: "the laboratory waits for the operator", Until: at.Add(72 * time.Hour)}, item)
	resumed := p.opened.Add(-25 * time.Minute)
	s.do(resumed.Add(-4*time.Minute), c.clinic.desk, s.desk(), &tracker.NoteAdded{Text: "The operator has answered the laboratory by telephone."}, s.theCase())
	s.do(resumed, c.clinic.desk, s.desk(), &tracker.ClockResumed{Why: "answered by the operator"}, item)
	s.wrong(c.pot(p), flagLabQueried, at, p.opened, "the laboratory asked something before it went on")
}

// open takes the pot out for description and counts what is in it.
func (s *scribe) open(p *coursePot, item tracker.Item) {
	c := s.c
	by := labScientist
	if !p.fixing() {
		by = labBench
	}
	count := c.inside(p) + c.twist.counted
	s.do(p.opened, by, "bench-1", &tracker.LabOpened{Pieces: &count}, item)
	if c.twist.counted == 0 {
		return
	}
	var until time.Time
	if c.twist.settled {
		until = p.opened.Add(100 * time.Minute)
		s.do(until, by, "bench-1", &tracker.FlagAnswered{Flag: tracker.FlagPiecesDiffer, Done: "The missing core was in the lid."}, named(c.pot(p))...)
	}
	s.wrong(c.pot(p), tracker.FlagPiecesDiffer, p.opened, until, "the laboratory counted one core fewer than was sent")
}

// window notes fixation that came out too short or too long, and answers it if that was done.
func (s *scribe) window(p *coursePot) {
	c := s.c
	var until time.Time
	switch {
	case c.twist.short:
		s.wrong(c.pot(p), tracker.FlagFixationShort, p.loaded, until, "a run was ended by hand before receptors had their six hours")
	case c.twist.overnight:
		if c.twist.settled {
			until = p.loaded.Add(15 * time.Hour)
			s.do(until, labScientist, "bench-1", &tracker.FlagAnswered{Flag: tracker.FlagFixationLong, Done: "Noted for the report."}, named(c.pot(p))...)
		}
		s.wrong(c.pot(p), tracker.FlagFixationLong, p.loaded, until, "a pot lay in formalin over days off, too long for receptors")
	}
}

// refer sends slides out for a second opinion; they are back before the final result.
func (s *scribe) refer(p *coursePot, item tracker.Item) {
	final := s.mainDue()
	sent, back := s.days.at(s.days.working(p.opened, 1), hm(11, 20)), final.Add(-3*time.Hour)
	if back.Sub(sent) < 24*time.Hour {
		return
	}
	s.do(sent, labClerk, labReception, &tracker.LabReferred{To: "fell-end", What: "slides", Due: sent.AddDate(0, 0, 7)}, item)
	s.do(back, labClerk, labReception, &tracker.LabReturned{To: "fell-end", What: "slides"}, item)
}
