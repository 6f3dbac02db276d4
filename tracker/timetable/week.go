package timetable

import (
	"fmt"
	"time"
)

// Week is a week of the ISO 8601 calendar: Monday to Sunday, the first of a year being the one that has its first
// Thursday. A year has 52 or 53.
type Week struct {
	Year   int // may differ from the year of the date
	Number int // from 1
}

// String writes a week as "2026-W53".
func (w Week) String() string { return fmt.Sprintf("%04d-W%02d", w.Year, w.Number) }

// Week is the week that t's day lies in.
func (c *Calendar) Week(t time.Time) Week {
	year, number := t.In(c.zone).ISOWeek()
	return Week{Year: year, Number: number}
}

// WeekStart is 00:00 on the Monday of a week. Number may be past the year's last: it counts on.
func (c *Calendar) WeekStart(w Week) time.Time {
	// 4 January is always in the first week.
	fourth := dayNumber(w.Year, time.January, 4)
	monday := fourth - (int(weekday(fourth))+6)%7
	return c.instant(int64(monday+7*(w.Number-1))*secondsPerDay, 0)
}

// WeekDate writes t's day as "2026-W53-4", Monday being 1.
func (c *Calendar) WeekDate(t time.Time) string {
	return fmt.Sprintf("%s-%d", c.Week(t), (int(t.In(c.zone).Weekday())+6)%7+1)
}
