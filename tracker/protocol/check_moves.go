package protocol

import "slices"

// mostNights is how long a processor run can last; a longer one is a slip of the pen.
const mostNights = 7

// rounds: from one place to another, at times that there are.
func (c *checker) rounds() {
	for _, key := range keys(c.p.Rounds) {
		r, at := c.p.Rounds[key], "rounds."+key
		c.need(at, "from", "to", "days", "departs", "takes")
		c.sourced(at)
		c.placeKnown(at+".from", r.From)
		c.placeKnown(at+".to", r.To)
		if c.has(at+".from") && r.From == r.To {
			c.fail(at+".to", "name two places", "a round from %q to itself", r.From)
		}
		c.goes(at, "round", r.Days)
		if c.has(at+".departs") && len(r.Departs) == 0 {
			c.fail(at+".departs", `give its times, as ["10:30", "16:30"]`, "a round that never goes")
		}
		for i, clock := range r.Departs {
			if c.wallClock(member(at+".departs", i), clock) && slices.Contains(r.Departs[:i], clock) {
				c.fail(member(at+".departs", i), "", "%q stands in the list twice", clock)
			}
		}
		c.elapsed(at+".takes", r.Takes)
		c.holidays(at, "goes", r.Calendar, r.Daily)
	}
}

// goes checks the days of a round or run.
func (c *checker) goes(at, what string, days []string) {
	c.list(at+".days", days, "day of the week", dayKeys())
	if c.has(at+".days") && len(days) == 0 {
		c.fail(at+".days", `give its days, as ["mon", "thu"]`, "a %s that never goes", what)
	}
}

// holidays: what goes on holidays too keeps no calendar.
func (c *checker) holidays(at, goes, calendar string, daily bool) {
	c.calendarKnown(at, calendar)
	if daily && c.has(at+".calendar") {
		c.fail(at+".calendar", "take out one of the two", "it %s on holidays too, as daily says, so no calendar counts", goes)
	}
}

// placeKnown checks a reference to a place.
func (c *checker) placeKnown(key, place string) {
	if c.has(key) {
		c.among(key, place, "place", keys(c.p.Places))
	}
}

// atLaboratory checks a reference to a place of a laboratory.
func (c *checker) atLaboratory(key, place string) {
	if known, ok := c.p.Places[place]; ok && known.Role != roleLaboratory {
		c.fail(key, `give the place role = "laboratory", or name another`, "%q is no laboratory", place)
	}
	c.placeKnown(key, place)
}

// runs: loaded at a laboratory after their cut-off, and out of formalin later.
func (c *checker) runs() {
	for _, key := range keys(c.p.Runs) {
		run, at := c.p.Runs[key], "runs."+key
		c.need(at, "place", "days", "cutoff", "load", "leaves")
		c.sourced(at)
		c.atLaboratory(at+".place", run.Place)
		c.goes(at, "run", run.Days)
		c.holidays(at, "runs", run.Calendar, run.Daily)
		if run.Nights < 0 || run.Nights > mostNights {
			c.fail(at+".nights", "how many midnights lie between load and leaves; take it out if leaves says it", "%d nights: 0 to %d", run.Nights, mostNights)
		}
		times := c.wallClock(at+".cutoff", run.Cutoff)
		times = c.wallClock(at+".load", run.Load) && times
		times = c.wallClock(at+".leaves", run.Leaves) && times
		switch {
		case !times:
		case run.Cutoff > run.Load:
			c.fail(at+".cutoff", "", "the cut-off %s is after the run is loaded at %s", run.Cutoff, run.Load)
		case run.Leaves == run.Load && run.Nights == 0:
			c.fail(at+".leaves", "a time earlier than load means the next day; nights = 1 is a whole day", "it leaves formalin when it is loaded")
		}
	}
}

// benches: at a laboratory, in hours that there are, for studies that there are.
func (c *checker) benches() {
	for _, key := range keys(c.p.Benches) {
		b, at := c.p.Benches[key], "benches."+key
		c.named(at)
		c.need(at, "place", "studies")
		c.sourced(at)
		c.atLaboratory(at+".place", b.Place)
		c.hoursKnown(at, b.Hours)
		c.list(at+".studies", b.Studies, "study", keys(c.p.Studies))
		if c.has(at+".studies") && len(b.Studies) == 0 {
			c.fail(at+".studies", "name the studies that are started there", "a bench for nothing")
		}
	}
}
