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
func roleKeys() []string   { return []string{"fridge", "hatch", roleLaboratory, "room", "vehicle"} }
func dayKeys() []string    { return []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"} }
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
		if c.has(at + ".until") {
			c.day(at+".until", days.Until)
		}
		var imported []string
		if days.Imported != nil {
			imported = days.Imported.Closed
			c.need(at+".imported", "closed")
			c.sourced(at + ".imported")
			c.days(at+".imported.closed", imported)
		}
		for i, day := range days.Open {
			switch {
			case slices.Contains(days.Closed, day):
				c.fail(member(at+".open", i), "keep it in one of the two", "%s is in closed and in open", day)
			case slices.Contains(imported, day):
				c.fail(member(at+".open", i), "keep it in one of the two", "%s is in open, and in what was imported as closed", day)
			}
		}
	}
}

func (c *checker) days(list string, days []string) {
	for i, day := range days {
		if c.day(member(list, i), day) && slices.Contains(days[:i], day) {
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
		c.hoursKnown(at, place.Hours)
		if place.Role == roleLaboratory {
			laboratories++
		}
	}
	if c.has("places") && laboratories == 0 {
		c.fail("places", `give one role = "laboratory"`, "no place is a laboratory, so nothing could ever be received")
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
