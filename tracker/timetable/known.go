package timetable

import "time"

// A calendar that ends is said. Nobody knows the closures of all time: a region's table and the protocol each have a last
// day. What lies after it is neither open nor closed, it is not known.

// Known reports whether t is on a day that the calendar knows. What it says of other days is not to be relied on.
func (c *Calendar) Known(t time.Time) bool {
	_, known := c.index(t)
	return known
}

// Begin is the instant at which the first day that the calendar knows begins.
func (c *Calendar) Begin() time.Time { return c.dayStart(c.first) }

// End is the instant at which the last day that the calendar knows ends; it is itself not known any more.
func (c *Calendar) End() time.Time { return c.dayStart(c.last + 1) }

// Horizon says where the calendar ends, as part of a sentence: "the calendar has no entry after Fri 31 Dec 2027".
func (c *Calendar) Horizon() string {
	return "the calendar has no entry after " + dayText(c.last)
}

// Doubt is [Calendar.Horizon], or where the calendar begins, for a t that it does not know; for others it is empty.
func (c *Calendar) Doubt(t time.Time) string {
	switch i, known := c.index(t); {
	case known:
		return ""
	case i < c.first:
		return "the calendar has no entry before " + dayText(c.first)
	}
	return c.Horizon()
}

// dayStart is when a day of the table begins.
func (c *Calendar) dayStart(i int) time.Time { return c.instant(int64(firstDay+i)*secondsPerDay, 0) }

// yearEnd is the last day of a year, as an index of the table.
func yearEnd(year int) int { return dayNumber(year, time.December, 31) - firstDay }

// dayText writes a day of the table as "Fri 31 Dec 2027".
func dayText(i int) string {
	return time.Unix(int64(firstDay+i)*secondsPerDay, 0).UTC().Format("Mon 2 Jan 2006")
}
