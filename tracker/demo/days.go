package demo

import (
	"time"

	"github.com/pottrail/pottrail/tracker/timetable"
)

// clock is a wall clock time in minutes since midnight.
type clock int

func hm(hour, minute int) clock { return clock(hour*60 + minute) }

// days counts working days by the clinics' wall clock.
type days struct {
	zone     *time.Location
	calendar *timetable.Calendar
}

func (d days) midnight(t time.Time) time.Time { return d.at(t, 0) }

// at is a wall clock time on the day of t.
func (d days) at(t time.Time, c clock) time.Time {
	y, m, day := t.In(d.zone).Date()
	return time.Date(y, m, day, int(c)/60, int(c)%60, 0, 0, d.zone)
}

// of is the wall clock of t.
func (d days) of(t time.Time) clock {
	local := t.In(d.zone)
	return hm(local.Hour(), local.Minute())
}

// working is the midnight of the nth working day after the day of t; n may be negative. With t on a day off, 0 is the
// next working day.
func (d days) working(t time.Time, n int) time.Time {
	return d.midnight(d.calendar.AddWorkingDays(d.midnight(t), n))
}

// short reports whether the day is followed by one that is not worked. Lists end early then, so that tissue reaches the
// evening's processor run and does not lie in formalin over the days off.
func (d days) short(day time.Time) bool { return !d.calendar.Working(d.at(day, 0).AddDate(0, 0, 1)) }

// office moves t into office hours, 08:30 to 17:30 of a working day, forward if need be.
func (d days) office(t time.Time) time.Time {
	if !d.calendar.Working(t) {
		return d.at(d.working(t, 0), hm(8, 30)).Add(time.Duration(t.Minute()) * time.Minute)
	}
	switch c := d.of(t); {
	case c < hm(8, 30):
		return d.at(t, hm(8, 30)).Add(time.Duration(t.Minute()) * time.Minute)
	case c > hm(17, 30):
		return d.at(d.working(t, 1), hm(8, 30)).Add(time.Duration(t.Minute()) * time.Minute)
	}
	return t
}
