package timetable

import (
	"errors"
	"fmt"
	"slices"
	"time"
)

// searchDays is how far ahead a place is looked at for its next opening or closing, in days: over any yearly closure.
const searchDays = 400

const searchTime = searchDays * 24 * time.Hour

// Hours says when a place is open: by day of the week, closed on the calendar's holidays and closures, with other hours
// on single dates. It is immutable and may be shared. A nil *Hours, like one without hours, is a place that is always
// open.
//
// Hours are by wall clock, and what they give is elapsed: a place open from 00:00 to 24:00 is open for 25 hours on the
// day on which clocks go back. An opening or closing at a wall time that does not exist moves forward by as much as the
// clock jumped; of a wall time that exists twice the first counts, for openings and for closings.
//
// On a day that the calendar does not know the place is not open.
type Hours struct {
	calendar *Calendar
	week     [7][]Interval
	weekly   bool // false: open all the time, but for the exceptions
	dates    map[int][]Interval
}

// NewHours makes the hours of a place. Week gives its intervals for each day of the week; a day without any is closed. A
// nil or empty week is a place that is always open, holidays too. The calendar's holidays and closures close it, a weekend
// alone does not; exceptions give other hours for one date, "2026-12-24", holiday or not, none meaning closed. Intervals
// may touch or overlap.
func NewHours(calendar *Calendar, week map[time.Weekday][]Interval, exceptions map[string][]Interval) (*Hours, error) {
	if calendar == nil {
		return nil, errors.New("opening hours need a calendar")
	}
	h := &Hours{calendar: calendar, dates: make(map[int][]Interval, len(exceptions))}
	for day, list := range week {
		if day < time.Sunday || day > time.Saturday {
			return nil, fmt.Errorf("%w: weekday %d", ErrDay, day)
		}
		if err := checkIntervals(list); err != nil {
			return nil, fmt.Errorf("%s: %w", day, err)
		}
		h.week[day] = slices.Clone(list)
		h.weekly = true
	}
	for text, list := range exceptions {
		i, err := dayOf(text)
		if err != nil {
			return nil, err
		}
		if err := checkIntervals(list); err != nil {
			return nil, fmt.Errorf("%s: %w", text, err)
		}
		h.dates[i] = slices.Clone(list)
	}
	return h, nil
}

func checkIntervals(list []Interval) error {
	for _, v := range list {
		if err := v.check(); err != nil {
			return err
		}
	}
	return nil
}

// Always reports whether the place is open at all times.
func (h *Hours) Always() bool { return h == nil || !h.weekly && len(h.dates) == 0 }

// Open reports whether the place is open at t.
func (h *Hours) Open(t time.Time) bool {
	if h.Always() {
		return true
	}
	open := false
	h.around(t, func(from, to time.Time) {
		open = open || !t.Before(from) && t.Before(to)
	})
	return open
}

// Next is the first instant from t on at which the place is open: t itself, if it is. False: there is none in the next
// 400 days, or none that the calendar knows.
func (h *Hours) Next(t time.Time) (time.Time, bool) { return h.next(t, searchDays) }

// next looks at so many days after t's own.
func (h *Hours) next(t time.Time, days int) (time.Time, bool) {
	if h.Open(t) {
		return t, true
	}
	var next time.Time
	consider := func(from, to time.Time) {
		if from.Before(to) && from.After(t) && (next.IsZero() || from.Before(next)) {
			next = from
		}
	}
	h.around(t, consider)
	today := h.dayOf(t)
	for day := today + daysAround + 1; next.IsZero() && day <= min(today+days, h.calendar.last); day++ {
		h.on(day, consider)
	}
	return next, !next.IsZero()
}

// Closes is the end of the open stretch that t lies in; intervals that touch are one stretch. False: the place is not
// open at t, or it does not close in the next 400 days.
func (h *Hours) Closes(t time.Time) (time.Time, bool) {
	if h.Always() {
		return time.Time{}, false
	}
	limit := t.Add(searchTime)
	end := h.closesBy(t, limit)
	return end, end.After(t) && end.Before(limit)
}

// Elapsed is for how long the place is open between two instants; none if to is not after from.
func (h *Hours) Elapsed(from, to time.Time) time.Duration {
	if h.Always() {
		return max(to.Sub(from), 0)
	}
	var open time.Duration
	for from.Before(to) {
		begin, ok := h.next(from, h.dayOf(to)-h.dayOf(from))
		if !ok || !begin.Before(to) {
			break
		}
		end := h.closesBy(begin, to)
		open += end.Sub(begin)
		from = end
	}
	return open
}

// Add is the instant at which the place has been open for d from t on: at the latest the closing of the stretch in which
// d is reached. A d of none or less gives t. False: d is not reached, because the place does not open again in 400 days or
// as far as the calendar knows.
func (h *Hours) Add(t time.Time, d time.Duration) (time.Time, bool) {
	for d > 0 {
		begin, ok := h.Next(t)
		if !ok {
			return time.Time{}, false
		}
		if h.Always() {
			return begin.Add(d), true
		}
		end := h.closesBy(begin, begin.Add(d))
		d -= end.Sub(begin)
		t = end
	}
	return t, true
}

// closesBy is the end of the stretch that t lies in, or a later limit, whichever is first.
func (h *Hours) closesBy(t, limit time.Time) time.Time {
	for end := t; ; {
		later := end
		h.around(end, func(from, to time.Time) {
			if !end.Before(from) && later.Before(to) {
				later = to
			}
		})
		if !later.Before(limit) {
			return limit
		}
		if later.Equal(end) {
			return end
		}
		end = later
	}
}

// daysAround is how many days before and after t can hold an interval that t lies in: one over midnight, and one more
// where a zone has left out a whole day.
const daysAround = 2

// around gives the intervals of the days about t, in no order.
func (h *Hours) around(t time.Time, yield func(from, to time.Time)) {
	day := h.dayOf(t)
	for i := day - daysAround; i <= day+daysAround; i++ {
		h.on(i, yield)
	}
}

// on gives the intervals of one day of the table as instants; one that a clock change leaves nothing of ends before it
// begins.
func (h *Hours) on(day int, yield func(from, to time.Time)) {
	midnight := int64(firstDay+day) * secondsPerDay
	for _, v := range h.intervals(day) {
		from, to := v.seconds()
		yield(h.calendar.instant(midnight+from, 0), h.calendar.instant(midnight+to, 0))
	}
}

// intervals are the hours of a day of the table.
func (h *Hours) intervals(day int) []Interval {
	if day < h.calendar.first || day > h.calendar.last {
		return nil
	}
	if list, excepted := h.dates[day]; excepted {
		return list
	}
	switch {
	case !h.weekly:
		return []Interval{{From: 0, To: Midnight}}
	case h.calendar.shut.has(day):
		return nil
	}
	return h.week[weekday(firstDay+day)]
}

// dayOf is the day of t, as an index of the calendar's table, known or not.
func (h *Hours) dayOf(t time.Time) int {
	day, _ := h.calendar.index(t)
	return day
}
