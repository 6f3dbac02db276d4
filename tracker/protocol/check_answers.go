package protocol

import "slices"

// Words of flags: how bad something is, the least first.
func severityKeys() []string { return []string{"watch", "today", "now"} }

// worse is how bad a severity is; none is the least.
func worse(severity string) int { return slices.Index(severityKeys(), severity) }

// concordance: classes and severities that there are, and a lesser suspicion never worse than a greater one.
func (c *checker) concordance() {
	const at = "concordance"
	for _, group := range []struct {
		key   string
		table map[string]string
	}{{at + ".high", c.p.Concord.High}, {at + ".mid", c.p.Concord.Mid}} {
		for _, class := range keys(group.table) {
			c.among(group.key+"."+class, class, "class of results", classKeys())
			c.among(group.key+"."+class, group.table[class], "severity", severityKeys())
		}
	}
	for _, class := range keys(c.p.Concord.Mid) {
		if mid, high := c.p.Concord.Mid[class], c.p.Concord.High[class]; slices.Contains(classKeys(), class) && worse(mid) > worse(high) {
			if high == "" {
				high = "nothing"
			}
			c.fail(at+".mid."+class, "say at least as much in high", "with %s results a middling score is %s and a high one %s", class, mid, high)
		}
	}
	if c.has(at + ".calcium_missed") {
		c.among(at+".calcium_missed", c.p.Concord.CalciumMissed, "severity", severityKeys())
	}
}

// meeting: results that have a class, and undivided ones that were divided into such.
func (c *checker) meeting() {
	seen := map[string]bool{}
	for i, category := range c.p.Meeting.Categories {
		at := member("meeting.categories", i)
		if seen[plain(category)] {
			c.fail(at, "", "%q stands in the list twice", category)
		}
		seen[plain(category)] = true
		c.classed(at, category)
	}
	undivided := map[string]string{}
	for _, key := range keys(c.p.Meeting.Undivided) {
		u, at := c.p.Meeting.Undivided[key], "meeting.undivided."+key
		c.need(at, "category", "divided")
		if c.has(at + ".category") {
			c.classed(at+".category", u.Category)
			if other, twice := undivided[plain(u.Category)]; twice {
				c.fail(at+".category", "keep one", "%q is in %s already", u.Category, other)
			}
			undivided[plain(u.Category)] = key
		}
		if c.has(at+".divided") && len(u.Divided) < 2 {
			c.fail(at+".divided", "name what it was divided into", "it is divided into fewer than two")
		}
		for i, part := range u.Divided {
			c.classed(member(at+".divided", i), part)
			switch {
			case plain(part) == plain(u.Category):
				c.fail(member(at+".divided", i), "", "%q is divided into itself", part)
			case slices.ContainsFunc(u.Divided[:i], func(other string) bool { return plain(other) == plain(part) }):
				c.fail(member(at+".divided", i), "", "%q stands in the list twice", part)
			}
		}
	}
}

// classed asks that a category belongs to a class of results.
func (c *checker) classed(key, category string) {
	if _, known := c.p.ClassOf(category); !known {
		c.fail(key, "put it into the categories of a class, or take it out", "%q is in no class of results", category)
	}
}
