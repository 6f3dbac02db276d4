package timetable

import "time"

// Wall clocks jump twice a year. A wall time that does not exist moves forward by as much as the clock jumped: 01:30 in
// the night when 01:00 becomes 02:00 is 02:30. A wall time that exists twice is the first of the two.

// The first and the last Monday to Friday of the days that calendars know, in days since 1970: Monday 3 January 2000,
// Thursday 31 December 2099.
const (
	firstWeekday = firstDay + 2
	lastWeekday  = firstDay + dayCount - 1
)

// AddDays is the same wall clock time n calendar days after t, in the calendar's zone.
func (c *Calendar) AddDays(t time.Time, n int) time.Time {
	return c.instant(c.wall(t)+int64(n)*secondsPerDay, t.Nanosecond())
}

// AddWorkingDays is the same wall clock time on the nth working day after t's day, in the calendar's zone. A t on a day
// off counts as 00:00 of the next working day; a negative n counts back. It counts on past the days that the calendar
// knows, by what the region's rules give, and outside 2000 to 2099 by Mondays to Fridays: [Calendar.Known] says of the
// answer whether it may be relied on.
func (c *Calendar) AddWorkingDays(t time.Time, n int) time.Time {
	wall, nanosecond := c.wall(t), t.Nanosecond()
	day := floorDiv(wall, secondsPerDay)
	clock := wall - day*secondsPerDay
	i := int(day) - firstDay
	if i < 0 || i >= dayCount {
		return c.addWeekdays(day, clock, nanosecond, n)
	}
	position := int(c.worked[i]) - 1 // of the last worked day up to i
	if !c.open.has(i) {
		position, clock, nanosecond = position+1, 0, 0
	}
	position += n
	switch last := len(c.days) - 1; {
	case position > last:
		return c.addWeekdays(lastWeekday, clock, nanosecond, position-last)
	case position < 0:
		return c.addWeekdays(firstWeekday, clock, nanosecond, position)
	}
	return c.instant((firstDay+int64(c.days[position]))*secondsPerDay+clock, nanosecond)
}

// addWeekdays counts Mondays to Fridays, for days that the calendar does not know.
func (c *Calendar) addWeekdays(day, clock int64, nanosecond, n int) time.Time {
	// Monday 5 January 1970 is day 4. Weekdays are numbered from it, five to a week.
	week, weekday := floorDiv(day-4, 7), (day-4)-7*floorDiv(day-4, 7)
	if weekday > 4 {
		week, weekday, clock, nanosecond = week+1, 0, 0, 0
	}
	number := week*5 + weekday + int64(n)
	week = floorDiv(number, 5)
	return c.instant((4+week*7+number-week*5)*secondsPerDay+clock, nanosecond)
}

// After adds a span that is either elapsed time, calendar days or working days; days and workingDays go by wall clock.
// Of the three the others are zero.
func (c *Calendar) After(t time.Time, elapsed time.Duration, days, workingDays int) time.Time {
	switch {
	case workingDays != 0:
		return c.AddWorkingDays(t, workingDays)
	case days != 0:
		return c.AddDays(t, days)
	}
	return t.Add(elapsed)
}

// wall is what the wall clock shows at t, as seconds since 1970 were it UTC.
func (c *Calendar) wall(t time.Time) int64 {
	_, offset := t.In(c.zone).Zone()
	return t.Unix() + int64(offset)
}

// instant is when the wall clock shows what wall gives it.
func (c *Calendar) instant(wall int64, nanosecond int) time.Time {
	// The offset in force is the one of a day before or of a day after: no zone changes its clocks twice in two days.
	before, after := c.offset(wall-secondsPerDay), c.offset(wall+secondsPerDay)
	unix := wall - before // right if nothing changed, or the change is to come; a gap moves it forward
	if before != after && c.offset(unix) != before && c.offset(wall-after) == after {
		unix = wall - after
	}
	return time.Unix(unix, int64(nanosecond)).In(c.zone)
}

func (c *Calendar) offset(unix int64) int64 {
	_, offset := time.Unix(unix, 0).In(c.zone).Zone()
	return int64(offset)
}
