package demo

import (
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// Shares of a target's span, in hundredths. An ordinary answer is out before the first; from the second on it is watched.
const (
	inGoodTime = 74
	noticed    = 80
)

// before is the latest instant of good time for a target.
func before(start, target time.Time) time.Time {
	return start.Add(target.Sub(start) / 100 * inGoodTime)
}

// answerBy is when a final result is due, counted from receipt: ten calendar days, for urgent cases seven. Source: the
// default protocol.
func (s *scribe) answerBy(received time.Time) time.Time {
	if s.c.ask.priority == "urgent" {
		return s.days.calendar.AddDays(received, 7)
	}
	return s.days.calendar.AddDays(received, 10)
}

// reporting is a time in the hours in which results are signed.
func (s *scribe) reporting(day time.Time, ch chance) time.Time {
	return s.days.at(day, hm(9, 5)).Add(ch.between(0, 5*time.Hour+50*time.Minute))
}

// mainDue is when the main answer comes. Shares by working day lie around those of routine biopsies in small hospitals:
// most within four working days. Source: reference values of practice, section 3.2, D2 and D4.
func (s *scribe) mainDue() time.Time {
	c := s.c
	if !c.twist.result.IsZero() {
		return c.twist.result
	}
	p := c.pots[0]
	target := s.answerBy(p.received)
	ch := c.chance(s.world, 8)
	if c.twist.late > 0 {
		return s.days.office(target.Add(c.twist.late))
	}
	wait := oneOf(ch, 2, 3, 3, 3, 4, 4, 4, 5, 5, 6)
	switch c.ask.priority {
	case "urgent":
		wait = oneOf(ch, 1, 2, 2, 2, 3, 3)
	case "next-day":
		wait = 2 // after the provisional answer, before its telling is missed
	}
	ready := p.opened
	if p.leaves.After(ready) {
		ready = p.leaves.Add(3 * time.Hour)
	}
	day := s.days.working(p.received, wait)
	for s.reportingStart(day).Before(ready) {
		day = s.days.working(day, 1)
	}
	limit := before(p.received, target)
	for s.days.at(day, hm(15, 0)).After(limit) {
		earlier := s.days.working(day, -1)
		if s.reportingStart(earlier).Before(ready) {
			break
		}
		day = earlier
	}
	return s.reporting(day, ch)
}

func (s *scribe) reportingStart(day time.Time) time.Time { return s.days.at(day, hm(9, 5)) }

// dueAt is when an answer comes, given when the main one does.
func (s *scribe) dueAt(a answer, main time.Time) time.Time {
	c := s.c
	ch := c.chance(s.world, 9+uint64(a.due))
	p := c.pots[0]
	for _, other := range c.pots {
		if len(a.pots) > 0 && other.plan.Pot == a.pots[0] {
			p = other
		}
	}
	switch a.due {
	case dueAddendum:
		target := s.days.calendar.AddWorkingDays(main, 2)
		if at := s.days.at(s.days.working(main, 1), hm(10, 0)).Add(ch.between(0, 5*time.Hour)); at.Before(before(main, target)) {
			return at
		}
		return s.days.at(main, hm(15, 40)).Add(ch.between(0, 80*time.Minute))
	case dueFlow:
		return s.days.at(s.days.working(p.opened, ch.number(1, 2)), hm(10, 0)).Add(ch.between(0, 5*time.Hour))
	case dueCulture:
		at := s.days.office(p.received.AddDate(0, 0, 6))
		if limit := before(p.received, s.answerBy(p.received)); at.After(limit) {
			at = s.days.at(s.days.working(limit, -1), hm(12, 0))
		}
		return at
	case dueSlow:
		return s.days.at(s.days.working(p.received.AddDate(0, 0, 27), 0), hm(11, 30)).Add(ch.between(0, 3*time.Hour))
	case dueSameDay:
		at := p.received.Add(ch.between(2*time.Hour, 4*time.Hour))
		if last := s.days.at(p.received, hm(17, 10)); at.After(last) && p.opened.Add(10*time.Minute).Before(last) {
			at = last.Add(-ch.between(0, 8*time.Minute))
		}
		if at.Before(p.opened.Add(10*time.Minute)) || s.days.of(at) > hm(17, 15) {
			at = s.days.at(s.days.working(p.received, 1), hm(9, 50)).Add(ch.between(0, 20*time.Minute))
		}
		return at
	}
	return main
}

// seenAt is when a clinician reads a result: a serious one the same day, another by the next working morning.
func (s *scribe) seenAt(issued time.Time, serious bool, ch chance) time.Time {
	switch {
	case s.c.twist.unreadFor > 0:
		return s.days.at(s.days.working(issued, s.c.twist.unreadFor), hm(10, 15))
	case serious || ch.percent(50):
		return s.days.office(issued.Add(ch.between(25*time.Minute, 2*time.Hour)))
	}
	return s.days.at(s.days.working(issued, 1), hm(8, 45)).Add(ch.between(0, 40*time.Minute))
}

// meeting is the next working day's, at half past twelve. Common practice, no source.
func (s *scribe) meeting(after time.Time, ch chance) time.Time {
	return s.days.at(s.days.working(after, 1), hm(12, 30)).Add(ch.between(0, 55*time.Minute))
}

// issued is a result that is out, with its readings.
type issued struct {
	answer answer
	id     tracker.EventID
	at     time.Time
	seen   time.Time
}
