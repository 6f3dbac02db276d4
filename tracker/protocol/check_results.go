package protocol

import (
	"slices"
	"time"
)

const (
	stageProvisional = "provisional"
	stageFinal       = "final"
	mostRank         = 99
)

// Words that rules use by name.
func startKeys() []string { return []string{"accession", "receipt", "taken"} }
func classKeys() []string {
	return []string{"benign", "inadequate", "malignant", "suspicious", "uncertain"}
}
func outcomeKeys() []string { return []string{"died", "referred", "repeat", "surgery"} }
func contactKeys() []string {
	return []string{"administrator", "clinician", "coordinator", "laboratory", "lead", "operator", "porter"}
}

func (c *checker) targets() {
	for _, key := range keys(c.p.Targets) {
		t, at := c.p.Targets[key], "targets."+key
		c.need(at, "stage", "span", "from")
		c.sourced(at)
		if c.has(at + ".stage") {
			c.among(at+".stage", t.Stage, "stage", []string{stageFinal, stageProvisional})
		}
		if c.has(at + ".from") {
			c.among(at+".from", t.From, "start of a target", startKeys())
		}
		if c.has(at+".share") && !(t.Share > 0 && t.Share <= 1) { // also of what is not a number
			c.fail(at+".share", "90 of 100 is 0.9; take it out if the source gives none", "%g is no share of cases", t.Share)
		}
		c.calendarKnown(at, t.Calendar)
		c.scope(at, t)
	}
}

// scope checks which studies a target speaks of, and for which it leaves more time.
func (c *checker) scope(at string, t Target) {
	c.list(at+".excludes", t.Excludes, "study", keys(c.p.Studies))
	for _, study := range keys(t.Adds) {
		s, key := c.p.Studies[study], at+".adds."+study
		c.among(key, study, "study", keys(c.p.Studies))
		switch {
		case slices.Contains(t.Excludes, study):
			c.fail(key, "take out one of the two", "the target does not speak of %q, as excludes says", study)
		case s.Target != nil || s.AfterFinal != nil:
			c.fail(key, "take it out", "%q has a target of its own, so this never counts", study)
		case t.Stage == stageProvisional:
			c.fail(key, "add it to the final target", "a provisional result waits for no study")
		}
	}
}

func (c *checker) priorities() {
	for _, key := range keys(c.p.Priority) {
		priority, at := c.p.Priority[key], "priorities."+key
		c.named(at)
		c.need(at, "rank", "urgent")
		if priority.Rank < 0 || priority.Rank > mostRank {
			c.fail(at+".rank", "0 is the most urgent", "%d is no rank: 0 to %d", priority.Rank, mostRank)
		}
	}
}

// sets: every set of targets gives each priority its targets, one a stage and one of them final.
func (c *checker) sets() {
	for _, key := range keys(c.p.Sets) {
		set, at := c.p.Sets[key], "sets."+key
		c.named(at)
		c.sourced(at)
		for _, priority := range keys(c.p.Priority) {
			c.need(at+".priorities", priority)
		}
		for _, priority := range keys(set.Priorities) {
			c.among(at+".priorities."+priority, priority, "priority", keys(c.p.Priority))
			c.stages(at+".priorities."+priority, set.Priorities[priority])
		}
	}
	c.need("", "target_set")
	if c.has("target_set") {
		c.among("target_set", c.p.TargetSet, "set of targets", keys(c.p.Sets))
	}
}

// stages checks the targets of one priority.
func (c *checker) stages(at string, targets []string) {
	c.list(at, targets, "target", keys(c.p.Targets))
	first, unknown := map[string]string{}, false
	for i, name := range targets {
		t, known := c.p.Targets[name]
		unknown = unknown || !known
		if !known || slices.Contains(targets[:i], name) {
			continue
		}
		if other, twice := first[t.Stage]; twice {
			c.fail(member(at, i), "keep one", "%q and %q are both for the %s result", other, name, t.Stage)
			continue
		}
		first[t.Stage] = name
	}
	last, hasFinal := first[stageFinal]
	if c.has(at) && !hasFinal && !unknown {
		c.fail(at, "name one whose stage is final", "no target is for the final result")
	}
	if early, ok := first[stageProvisional]; ok && hasFinal {
		e, l := c.p.Targets[early], c.p.Targets[last]
		if e.From == l.From && e.Span.exceeds(l.Span) {
			c.fail(at, "", "the provisional result is due after the final one: %s and %s", e.Span, l.Span)
		}
	}
}

func (c *checker) results() {
	c.need("outcomes", outcomeKeys()...)
	for _, key := range keys(c.p.Outcomes) {
		c.named("outcomes." + key)
	}
	c.exactly("classes", "class of results", keys(c.p.Classes), classKeys())
	seen := map[string]string{}
	for _, key := range keys(c.p.Classes) {
		class, at := c.p.Classes[key], "classes."+key
		c.named(at)
		c.need(at, "categories")
		c.sourced(at)
		for i, category := range class.Categories {
			word := plain(category)
			if other, twice := seen[word]; twice {
				c.fail(member(at+".categories", i), "", "%q is in %s already", category, other)
			} else if word == "" {
				c.fail(member(at+".categories", i), "", "it is empty")
			}
			seen[word] = key
		}
	}
}

func (c *checker) imaging() {
	if !c.has("imaging") {
		return
	}
	c.need("imaging", "high", "mid")
	c.sourced("imaging")
	seen := map[score]bool{}
	for _, list := range []struct {
		key   string
		texts []string
	}{{"imaging.high", c.p.Imaging.High}, {"imaging.mid", c.p.Imaging.Mid}} {
		for i, text := range list.texts {
			s, ok := parseScore(text)
			switch {
			case !ok:
				c.fail(member(list.key, i), `a score is a scale and a figure, as "U4" or "BI-RADS 4C"`, "%q is no imaging score", text)
			case seen[s]:
				c.fail(member(list.key, i), "", "%q stands in the lists twice", text)
			}
			seen[s] = true
		}
	}
}

// stationClocks is the one value that the limit on stations' clocks may have: folding events takes no protocol.
const stationClocks = 2 * time.Minute

// limitRules lists every limit, and which of them must be elapsed time.
func limitRules() (days, elapsed []string) {
	return []string{LimitNotAtLab, LimitNoReceipt, LimitUnread, LimitUnreadSerious, LimitTellWatch, LimitTellToday,
			LimitNotDone, LimitPlan, LimitUnfinished},
		[]string{LimitFixativeWatch, LimitFixativeNow, LimitLoadedNow, LimitCheckBefore, LimitLabelLeft, LimitRoomOpen, LimitClocks,
			LimitPhone, LimitLostClinician, LimitAhead, LimitSkew, LimitUnknown, LimitCollect, LimitCollectNone, LimitCollectWorse,
			LimitForecastNow, LimitFreshNow, LimitCritical}
}

// LimitKeys lists the keys that the limits of a protocol have, all of them and no others.
func LimitKeys() []string {
	days, elapsed := limitRules()
	return slices.Sorted(slices.Values(append(days, elapsed...)))
}

func (c *checker) limits() {
	c.exactly("limits", "limit", keys(c.p.Limits), LimitKeys())
	_, elapsed := limitRules()
	for _, key := range keys(c.p.Limits) {
		l := c.p.Limits[key]
		c.limit("limits." + key)
		if slices.Contains(elapsed, key) {
			c.elapsed("limits."+key+".span", l.Span)
		}
	}
	if l, known := c.p.Limits[LimitClocks]; known && l.Span.Elapsed != stationClocks {
		c.fail("limits."+LimitClocks+".span", "write 2m", "%s: the order of two stations' scans is worked out with 2 min and no other", l.Span)
	}
	for _, pair := range [][2]string{{LimitFixativeWatch, LimitFixativeNow}, {LimitTellWatch, LimitTellToday}, {LimitUnreadSerious, LimitUnread}} {
		if first, later := c.p.Limits[pair[0]].Span, c.p.Limits[pair[1]].Span; !later.IsZero() && first.exceeds(later) {
			c.fail("limits."+pair[0]+".span", "", "%s is longer than the %s of %s", first, later, pair[1])
		}
	}
}

func (c *checker) contacts() {
	for _, key := range keys(c.p.Contacts) {
		c.among("contacts."+key, key, "role to ring", contactKeys())
		c.text("contacts."+key, 120)
	}
}

// exceeds reports whether a span is longer than another whenever it starts: between elapsed time, calendar days and
// working days only what holds in any week counts.
func (s Span) exceeds(other Span) bool {
	switch {
	case s.WorkingDays != 0 && other.WorkingDays != 0:
		return s.WorkingDays > other.WorkingDays
	case s.Days != 0 && other.Days != 0:
		return s.Days > other.Days
	}
	shortest, _ := s.bounds()
	_, longest := other.bounds()
	return shortest > longest
}

// bounds are the least and the most that a span can last: a day may have 23 or 25 hours, and five working days pass one
// weekend at least, and holidays enough to double them, with two weeks more, at most.
func (s Span) bounds() (least, most time.Duration) {
	const day = 24 * time.Hour
	days := func(n int) time.Duration { return time.Duration(n) * day }
	switch {
	case s.WorkingDays != 0:
		return days(s.WorkingDays+2*(s.WorkingDays/5)) - time.Hour, days(2*s.WorkingDays+14) + time.Hour
	case s.Days != 0:
		return days(s.Days) - time.Hour, days(s.Days) + time.Hour
	}
	return s.Elapsed, s.Elapsed
}
