package protocol

import (
	"fmt"
	"slices"
	"time"

	"github.com/pottrail/pottrail/tracker/timetable"
)

// roleLaboratory is the role at whose places a scan is the laboratory's receipt.
const roleLaboratory = "laboratory"

// Words that rules use by name.
func roleKeys() []string { return []string{"fridge", "hatch", roleLaboratory, "room", "vehicle"} }
func dayKeys() []string  { return []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"} }
func regionKeys() []string { return timetable.Regions() }

// Years of closures that calendars know.
const firstYear, lastYear = timetable.FirstYear, timetable.LastYear

func member(list string, i int) string { return fmt.Sprintf("%s[%d]", list, i) }

func (c *checker) calendars() {
	for _, key := range keys(c.p.Calendars) {
		days, at := c.p.Calendars[key], "calendars."+key
		c.need(at, "region", "closed", "open")
		if c.has(at + ".region") {
			c.among(at+".region", days.Region, "region", regionKeys())
		}
		c.days(at+".closed", days.Closed)
		c.days(at+".open", days.Open)
		for i, day := range days.Open {
			if slices.Contains(days.Closed, day) {
				c.fail(member(at+".open", i), "keep it in one of the two", "%s is in closed and in open", day)
			}
		}
	}
}

func (c *checker) days(list string, days []string) {
	for i, day := range days {
		t, err := time.Parse(time.DateOnly, day)
		switch {
		case err != nil:
			c.fail(member(list, i), "write it as 2026-12-24", "%q is no day", day)
		case t.Year() < firstYear || t.Year() > lastYear:
			c.fail(member(list, i), "", "%s: calendars know %d to %d", day, firstYear, lastYear)
		case slices.Contains(days[:i], day):
			c.fail(member(list, i), "", "%s stands in the list twice", day)
		}
	}
}

func (c *checker) places() {
	c.exactly("roles", "role of a place", keys(c.p.Roles), roleKeys())
	for _, key := range keys(c.p.Roles) {
		c.named("roles." + key)
		c.need("roles."+key, "hold")
		c.sourced("roles." + key)
	}
	laboratories := 0
	for _, key := range keys(c.p.Places) {
		place, at := c.p.Places[key], "places."+key
		c.named(at)
		c.need(at, "role")
		if c.has(at + ".role") {
			c.among(at+".role", place.Role, "role of a place", roleKeys())
		}
		if c.has(at + ".contact") {
			c.text(at+".contact", 120)
		}
		if place.Role == roleLaboratory {
			laboratories++
		}
	}
	if c.has("places") && laboratories == 0 {
		c.fail("places", `give one role = "laboratory"`, "no place is a laboratory, so nothing could ever be received")
	}
}

func (c *checker) runs() {
	for _, key := range keys(c.p.Runs) {
		run, at := c.p.Runs[key], "runs."+key
		c.need(at, "place", "days", "cutoff", "load", "leaves")
		c.sourced(at)
		if place, known := c.p.Places[run.Place]; known && place.Role != roleLaboratory {
			c.fail(at+".place", "", "%q is no laboratory", run.Place)
		} else if c.has(at + ".place") {
			c.among(at+".place", run.Place, "place", keys(c.p.Places))
		}
		c.list(at+".days", run.Days, `day of the week`, dayKeys())
		if c.has(at+".days") && len(run.Days) == 0 {
			c.fail(at+".days", "", "a run that never goes")
		}
		times := c.wallClock(at+".cutoff", run.Cutoff)
		times = c.wallClock(at+".load", run.Load) && times
		times = c.wallClock(at+".leaves", run.Leaves) && times
		switch {
		case !times:
		case run.Cutoff > run.Load:
			c.fail(at+".cutoff", "", "the cut-off %s is after the run is loaded at %s", run.Cutoff, run.Load)
		case run.Leaves == run.Load:
			c.fail(at+".leaves", "a time earlier than load means the next day", "it leaves formalin when it is loaded")
		}
	}
}

// wallClock checks a time of day. What is not there was told already.
func (c *checker) wallClock(key, text string) bool {
	if !c.has(key) {
		return false
	}
	if _, err := time.Parse("15:04", text); err != nil || len(text) != len("15:04") {
		c.fail(key, "write it as 06:30 or 16:00", "%q is no time of day", text)
		return false
	}
	return true
}
