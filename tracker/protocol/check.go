package protocol

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode"
)

// checker looks for what a file of the right shape can still have wrong: things missing, references to nothing,
// contradictions.
type checker struct {
	p        *Protocol
	o        *outline
	mistakes []*Error
}

func check(p *Protocol, o *outline) []*Error {
	c := &checker{p: p, o: o}
	c.top()
	c.calendars()
	c.studies()
	c.media()
	c.organs()
	c.pieces()
	c.places()
	c.hours()
	c.rounds()
	c.runs()
	c.benches()
	c.staff()
	c.targets()
	c.priorities()
	c.sets()
	c.needs()
	c.results()
	c.imaging()
	c.concordance()
	c.meeting()
	c.limits()
	c.contacts()
	return c.mistakes
}

// fail notes a mistake at a key or, if that does not stand in the file, at what it would stand in.
func (c *checker) fail(key, hint, format string, args ...any) {
	s := c.o.nearest(key)
	c.mistakes = append(c.mistakes, &Error{Line: s.line, Column: s.column, Key: key, Text: fmt.Sprintf(format, args...), Hint: hint})
}

func (c *checker) has(key string) bool { return c.o.spots[key].kind != "" }

// need asks for keys below a table: what is missing is never guessed.
func (c *checker) need(table string, keys ...string) {
	for _, key := range keys {
		if key = dotted(table, key); !c.has(key) {
			c.fail(key, "a protocol is complete by itself: write it down", "it is missing")
		}
	}
}

// named asks for a name, and sourced for where numbers come from: both are read by people, on one line.
func (c *checker) named(table string)   { c.text(dotted(table, "name"), 80) }
func (c *checker) sourced(table string) { c.text(dotted(table, "source"), 400) }

func (c *checker) text(key string, most int) {
	if !c.has(key) {
		hint := "a protocol is complete by itself: write it down"
		if strings.HasSuffix(key, ".source") {
			hint = `name a publication, your own laboratory, or "common practice, no source"`
		}
		c.fail(key, hint, "it is missing")
		return
	}
	words := c.o.spots[key].words
	switch {
	case strings.TrimSpace(words) == "":
		c.fail(key, "", "it is empty")
	case strings.TrimSpace(words) != words || strings.ContainsFunc(words, unicode.IsControl):
		c.fail(key, "", "it must be one line, without spaces at its ends")
	case len(words) > most:
		c.fail(key, "", "it has %d bytes; at most %d", len(words), most)
	}
}

// among checks a word against those that are known.
func (c *checker) among(key, word, what string, known []string) {
	if !slices.Contains(known, word) {
		c.fail(key, meant(word, known), "%q is no %s", word, what)
	}
}

// list checks the members of a list, none twice.
func (c *checker) list(key string, words []string, what string, known []string) {
	for i, word := range words {
		member := fmt.Sprintf("%s[%d]", key, i)
		if slices.Contains(words[:i], word) {
			c.fail(member, "", "%q stands in the list twice", word)
			continue
		}
		c.among(member, word, what, known)
	}
}

// exactly asks that a table has these keys and no others, since rules or events use them by name.
func (c *checker) exactly(table, what string, have, want []string) {
	c.need(table, want...)
	for _, key := range have {
		if !slices.Contains(want, key) {
			c.fail(dotted(table, key), meant(key, want), "%q is no %s", key, what)
		}
	}
}

// elapsed asks that a span is elapsed time: what it measures does not stop at night or over a clock change.
func (c *checker) elapsed(key string, s Span) {
	if s.Days != 0 || s.WorkingDays != 0 {
		c.fail(key, `write hours or minutes, as "72h"`, "%s must be elapsed time", s)
	}
}

// limit asks for a span and its source.
func (c *checker) limit(table string) {
	c.need(table, "span")
	c.sourced(table)
}

// top checks what stands outside of tables, and that the tables are there.
func (c *checker) top() {
	c.text("title", 120)
	c.text("zone", 80)
	c.need("", "calendar", "calendars", "studies", "media", "organs", "looks", "carriers", "targets", "priorities", "roles", "places",
		"outcomes", "classes", "imaging", "limits")
	if c.has("calendar") && c.has("calendars") {
		c.among("calendar", c.p.Calendar, "calendar", keys(c.p.Calendars))
	}
}

// keys are the keys of a table, sorted.
func keys[V any](table map[string]V) []string { return slices.Sorted(maps.Keys(table)) }
