package demo

import (
	"slices"
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// answers records results, their reading, the meeting, the telling and the end.
func (s *scribe) answers() {
	c := s.c
	if c.live || c.twist.lost && !c.twist.settled || c.twist.refused != "" && !c.twist.settled || c.pots[0].bag == nil {
		return
	}
	main := s.mainDue()
	if c.twist.noResult {
		s.overdue(c.pots[0])
		return
	}
	if c.twist.missing {
		s.overdue(c.pots[1])
	}
	c.final = main
	results := s.issue(main)
	s.discard(main)
	ch := c.chance(s.world, 20)
	talked := s.discuss(results, ch)
	done := s.tell(results, talked, ch)
	s.close(done, ch)
}

// issue records the results and who reads them.
func (s *scribe) issue(main time.Time) []*issued {
	c := s.c
	var results []*issued
	for i, a := range c.ask.answers {
		if (c.twist.relabel || c.twist.missing) && slices.Contains(a.pots, "B") {
			continue
		}
		ch := c.chance(s.world, 30+uint64(i))
		at := s.dueAt(a, main).Add(time.Duration(i) * 40 * time.Second)
		items := []tracker.Item{s.theCase()}
		if len(a.pots) > 0 {
			items = nil
			for _, letter := range a.pots {
				items = append(items, named(c.name+"-"+tracker.Name(letter))...)
			}
		}
		e := s.do(at, oneOf(ch, pathologists()...), "lab-reports", &tracker.ResultIssued{Stage: a.stage, Studies: a.studies, Category: a.category, Text: a.text,
			Report: s.number, Via: "system"}, items...)
		e.Entered = tracker.EnteredMessage
		r := &issued{answer: a, id: e.ID, at: at}
		results = append(results, r)
		if a.stage == tracker.StageFinal && a.due != dueSlow { // that one has a target of its own
			s.tardy(a, at)
		}
		if a.due == dueMain && i == 0 && c.ask.added {
			s.do(at.Add(10*time.Minute), c.operator, s.desk(), &tracker.StudiesAdded{Studies: []string{"receptors"}}, named(c.pot(c.pots[0]))...)
		}
		if c.twist.unread {
			s.wrong(c.name, tracker.FlagResultUnread, s.days.calendar.AddWorkingDays(at, 2), time.Time{}, "nobody has read the result")
			continue
		}
		r.seen = s.seenAt(at, c.ask.serious, ch)
		if c.twist.unreadFor > 0 {
			s.wrong(c.name, tracker.FlagResultUnread, s.days.calendar.AddWorkingDays(at, 2), r.seen, "a result was read late")
		}
		s.do(r.seen, c.operator, s.desk(), &tracker.ResultSeen{Results: []tracker.EventID{r.id}}, s.theCase())
	}
	return results
}

// tardy notes a final answer that comes so near its target or after it that it was watched: on purpose, or over holidays.
func (s *scribe) tardy(a answer, at time.Time) {
	c := s.c
	what := "a result came near its target, over days off"
	if c.twist.late > 0 {
		what = "a result came after its target"
	}
	for _, p := range c.pots {
		if p.unused || len(a.pots) > 0 && !slices.Contains(a.pots, p.plan.Pot) {
			continue
		}
		if notice := p.received.Add(s.answerBy(p.received).Sub(p.received) / 100 * noticed); at.After(notice) {
			s.wrong(c.pot(p), tracker.FlagResultOverdue, notice, at, what)
		}
	}
}

// overdue has no result come at all for a pot; of routine ones the coordinator asks.
func (s *scribe) overdue(p *coursePot) {
	c := s.c
	target := s.answerBy(p.received)
	s.wrong(c.pot(p), tracker.FlagResultOverdue, p.received.Add(target.Sub(p.received)/100*noticed), time.Time{}, "no result, past its target")
	if c.twist.noResult && c.ask.priority == "routine" {
		at := s.days.at(s.days.working(target, 1), hm(9, 35))
		s.do(at, c.clinic.desk, s.desk(), &tracker.ChaseLogged{Asked: "Where is " + s.number + "?", Answer: "Cut again, with the second reader.",
			Next: s.days.at(s.days.working(at, 2), hm(9, 30)), Level: 1}, named(c.pot(p))...)
	}
}

// meets reports whether imaging and pathology of the case are put side by side.
func (s *scribe) meets() bool {
	c := s.c
	return !c.twist.apart && !c.twist.waiting && !c.twist.unread &&
		(c.ask.sort <= breastCalcium || c.ask.serious || c.ask.unsure != "")
}

// discuss puts imaging and pathology side by side, and notes what waits for it.
func (s *scribe) discuss(results []*issued, ch chance) (talked time.Time) {
	c := s.c
	main := results[0]
	var ids []tracker.EventID
	if s.meets() {
		talked = main.seen.Add(ch.between(4*time.Minute, 14*time.Minute))
		if c.ask.serious || c.ask.unsure != "" || c.twist.apartSeen {
			talked = s.meeting(main.seen, ch)
		}
		for _, r := range results {
			if r.answer.due != dueMain && r.answer.due != dueAddendum {
				continue
			}
			ids = append(ids, r.id)
			if r.seen.Add(10 * time.Minute).After(talked) {
				talked = s.days.office(r.seen.Add(10 * time.Minute))
			}
		}
		talk := &tracker.CaseDiscussed{Results: ids, Concordance: "concordant", Plan: c.ask.plan}
		if c.twist.apartSeen {
			talk.Concordance, talk.Plan = "discordant", "repeat-biopsy"
		}
		s.do(talked, c.operator, s.desk(), talk, s.theCase())
	}
	switch {
	case c.ask.unsure != "":
		s.wrong(c.name, c.ask.unsure, main.at, talked, "a result of class "+main.answer.category+" waits for the meeting")
		if c.ask.lesions[0].Organ == "breast" && c.ask.unsure == flagInadequate {
			s.wrong(c.name, tracker.FlagDiscordant, main.at, talked, "imaging of middle suspicion")
		}
		if c.ask.sort == thyroid && c.ask.unsure == flagInadequate {
			s.wrong(c.pot(c.pots[0]), tracker.FlagPiecesFew, c.lastTaken.Add(onSite), main.at, "on-site microscopy found too few cells, and no further pass was made")
		}
	case c.ask.middling != "":
		s.wrong(c.name, tracker.FlagDiscordant, main.at, talked, "imaging said "+c.ask.middling+", the result is benign: watched until both are put side by side")
	case c.twist.apart || c.twist.apartSeen:
		s.wrong(c.name, tracker.FlagDiscordant, main.at, talked, "imaging said U5, the result is benign")
	}
	return talked
}

// tell has the patient told of each result: with the meeting's plan where there is one.
func (s *scribe) tell(results []*issued, talked time.Time, ch chance) (last time.Time) {
	c := s.c
	if c.twist.unread || c.twist.apart || c.twist.waiting {
		return time.Time{}
	}
	var together []tracker.EventID
	first := results[0]
	told := s.days.office(first.seen.Add(ch.between(time.Hour, 26*time.Hour)))
	how := oneOf(ch, "telephone", "telephone", "letter", "in-person", "video")
	if !talked.IsZero() {
		told = s.days.office(talked.Add(ch.between(50*time.Minute, 4*time.Hour)))
		if c.ask.serious {
			how = "in-person"
		}
	}
	if n := c.twist.untoldFor; n > 0 {
		told = s.days.at(s.days.working(first.seen, n), hm(11, 40))
		s.wrong(c.name, tracker.FlagPatientWaiting, s.days.calendar.AddWorkingDays(first.seen, 3), told, "a patient was told late")
	}
	if c.twist.untold {
		s.wrong(c.name, tracker.FlagPatientWaiting, s.days.calendar.AddWorkingDays(first.seen, 3), time.Time{}, "the patient has not been told of a result that was read")
		return time.Time{}
	}
	for _, r := range results { // nobody is told of what nobody has read
		if r.answer.due == dueMain && told.Before(r.seen) {
			told = s.days.office(r.seen.Add(ch.between(time.Hour, 6*time.Hour)))
		}
	}
	for _, r := range results {
		last = later(last, r.seen)
		switch {
		case r.answer.due == dueSameDay: // the final is told
		case r.answer.due == dueMain || r.answer.due == dueAddendum || !r.seen.After(told) && told.Before(s.days.calendar.AddWorkingDays(r.seen, 2)):
			together = append(together, r.id)
		default:
			at := s.days.office(r.seen.Add(ch.between(time.Hour, 6*time.Hour)))
			s.do(at, c.operator, s.desk(), &tracker.PatientTold{Results: []tracker.EventID{r.id}, How: "telephone"}, s.theCase())
			last = later(last, at)
		}
	}
	s.do(told, c.operator, s.desk(), &tracker.PatientTold{Results: together, How: how}, s.theCase())
	return later(last, told)
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// close ends the case when nothing more is owed.
func (s *scribe) close(done time.Time, ch chance) {
	c := s.c
	if done.IsZero() || c.twist.missing {
		return
	}
	at := s.days.at(s.days.working(done, ch.number(1, 4)), hm(9, 10)).Add(ch.between(0, 6*time.Hour))
	if !c.twist.amended.IsZero() {
		at = s.days.at(s.days.working(done, 1), hm(16, 0))
	}
	outcome := c.ask.outcome
	if c.twist.apartSeen {
		outcome = "repeat"
	}
	s.do(at, c.operator, s.desk(), &tracker.CaseClosed{Outcome: outcome}, s.theCase())
	if c.twist.reopened {
		again := s.days.at(s.days.working(at, 2), hm(10, 25))
		s.do(again, c.operator, s.desk(), &tracker.CaseReopened{Why: "the patient rang with a new question"}, s.theCase())
		s.do(s.days.at(s.days.working(again, 1), hm(9, 50)), c.operator, s.desk(), &tracker.CaseClosed{Outcome: outcome}, s.theCase())
	}
	if amended := c.twist.amended; !amended.IsZero() {
		e := s.do(amended, pathologists()[1], "lab-reports", &tracker.ResultIssued{Stage: tracker.StageAmended, Category: "B3a", Report: s.number, Via: "system",
			Text: "On review: atypia at the edge of the lesion."}, s.theCase())
		e.Entered = tracker.EnteredMessage
		s.wrong(c.name, tracker.FlagResultChanged, amended, time.Time{}, "a result was changed after the patient was told and the case closed")
		s.wrong(c.name, tracker.FlagResultUnread, s.days.calendar.AddWorkingDays(amended, 2), time.Time{}, "nobody has read the changed result")
		s.wrong(c.name, flagNeedsMeeting, amended, time.Time{}, "the changed result is of an uncertain class")
	}
}

// discard throws formalin pots away four weeks after the report. Source: reference values of practice, T17.
func (s *scribe) discard(main time.Time) {
	c := s.c
	if c.twist != (twist{}) {
		return
	}
	var items []tracker.Item
	for _, p := range c.pots {
		if p.fixing() {
			items = append(items, c.scanned(c.pot(p)))
		}
	}
	if len(items) > 0 {
		s.do(s.days.office(main.AddDate(0, 0, 28)), labClerk, labReception, &tracker.PotDiscarded{Why: "four weeks after the report", Place: labReception}, items...)
	}
}
