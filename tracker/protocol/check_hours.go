package protocol

import (
	"time"

	"github.com/pottrail/pottrail/tracker/timetable"
)

// hours: opening hours that can be kept, none twice, and open at some time.
func (c *checker) hours() {
	for _, key := range keys(c.p.Hours) {
		h, at := c.p.Hours[key], "hours."+key
		c.sourced(at)
		c.calendarKnown(at, h.Calendar)
		c.week(at, h)
		for _, day := range keys(h.Dates) {
			if !c.day(at+".dates."+day, day) {
				continue
			}
			c.openings(at+".dates."+day, h.Dates[day])
		}
	}
}

// week checks the hours of a week, which comes round: Sunday night goes on into Monday.
func (c *checker) week(at string, h Hours) {
	var days [7][]opening
	sound, open := true, false
	for i, day := range dayKeys() {
		list, ok := c.openings(at+"."+day, h.Of(day))
		days[i], sound, open = list, sound && ok, open || len(list) > 0
	}
	if !sound {
		return
	}
	if !open {
		c.fail(at, "give a day of the week its hours", "it is never open")
		return
	}
	for i, day := range dayKeys() {
		before := days[(i+len(days)-1)%len(days)]
		if len(before) == 0 || len(days[i]) == 0 {
			continue
		}
		if late, early := before[len(before)-1], days[i][0]; late.until-timetable.Midnight > early.from {
			c.fail(at+"."+day+"[0]", "", "it begins before the hours of the night before have ended")
		}
	}
}

// openings reads the hours of one day: in the order of the clock, none that overlap.
func (c *checker) openings(at string, texts []string) (list []opening, ok bool) {
	ok = true
	for i, text := range texts {
		o, err := parseOpening(text)
		switch {
		case err != nil:
			c.fail(member(at, i), "", "%v", err)
			ok = false
			continue
		case len(list) > 0 && o.from < list[len(list)-1].until:
			hint := "write one stretch, or part them"
			if o.until <= list[len(list)-1].from {
				hint = "write them in the order of the clock"
			}
			c.fail(member(at, i), hint, "%q begins before the hours before it have ended", text)
			ok = false
		}
		list = append(list, o)
	}
	return list, ok
}

// day checks one day, "2026-12-24".
func (c *checker) day(key, day string) bool {
	t, err := time.Parse(time.DateOnly, day)
	switch {
	case err != nil:
		c.fail(key, "write it as 2026-12-24", "%q is no day", day)
		return false
	case t.Year() < firstYear || t.Year() > lastYear:
		c.fail(key, "", "%s: calendars know %d to %d", day, firstYear, lastYear)
		return false
	}
	return true
}

// calendarKnown checks a reference to a calendar; none is the clinic's own.
func (c *checker) calendarKnown(at, calendar string) {
	if c.has(at + ".calendar") {
		c.among(at+".calendar", calendar, "calendar", keys(c.p.Calendars))
	}
}

// hoursKnown checks a reference to opening hours; none is always.
func (c *checker) hoursKnown(at, hours string) {
	if c.has(at + ".hours") {
		c.among(at+".hours", hours, "key of opening hours", keys(c.p.Hours))
	}
}
