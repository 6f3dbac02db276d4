package say

import (
	"fmt"
	"slices"
	"strings"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// Change is one thing in which two protocols differ. What only one of them says has no Was or no Now.
type Change struct {
	Key   string `json:"key"`
	About string `json:"about"`
	Was   string `json:"was,omitzero"`
	Now   string `json:"now,omitzero"`
}

// String is the change in one line.
func (c Change) String() string {
	switch {
	case c.Was == "":
		return fmt.Sprintf("new: %s: %s", c.About, c.Now)
	case c.Now == "":
		return fmt.Sprintf("gone: %s, was: %s", c.About, c.Was)
	}
	return fmt.Sprintf("%s: %s, was: %s", c.About, c.Now, c.Was)
}

// ProtocolChanges says what a protocol changes against another, in the order of [Protocol]: the limits, each pair of medium
// and study, the targets in force, places, hours, rounds, people. Sources that changed alone come last.
func ProtocolChanges(was, now *protocol.Protocol) []Change {
	before, after := statements(was), statements(now)
	old := make(map[string]Statement, len(before))
	for _, s := range before {
		old[s.Key] = s
	}
	list := []Change{}
	if was.Title != now.Title {
		list = append(list, Change{Key: "title", About: "title", Was: was.Title, Now: now.Title})
	}
	var sources []Change
	seen := make(map[string]bool, len(after))
	for _, s := range after {
		seen[s.Key] = true
		o, known := old[s.Key]
		switch {
		case !known && strings.HasPrefix(s.Key, "targets.") && hasTarget(was, s.Key):
			// it was in force, and what is in force now is told by priority
		case !known:
			list = append(list, Change{Key: s.Key, About: s.About, Now: s.Says})
		case o.About != s.About:
			list = append(list, Change{Key: s.Key, About: s.About, Was: o.About + ": " + o.Says, Now: s.Says})
		case o.Says != s.Says:
			list = append(list, Change{Key: s.Key, About: s.About, Was: o.Says, Now: s.Says})
		case source(o) != source(s):
			sources = append(sources, Change{Key: s.Key, About: s.About + ", source", Was: source(o), Now: source(s)})
		}
	}
	for _, s := range before {
		if !seen[s.Key] && !hasTarget(now, s.Key) {
			list = append(list, Change{Key: s.Key, About: s.About, Was: s.Says})
		}
	}
	return slices.Concat(list, sources)
}

// hasTarget reports whether the key is that of a target of the protocol, in force or not.
func hasTarget(p *protocol.Protocol, key string) bool {
	name, cut := strings.CutPrefix(key, "targets.")
	_, has := p.Targets[name]
	return cut && has
}

// statements are all that a protocol says, each under a key of its own: the table of media and studies cell by cell, and
// every target and set of targets, not only those in force.
func statements(p *protocol.Protocol) []Statement {
	w := reader{p}
	var list []Statement
	for _, section := range Protocol(p) {
		if section.Table != nil {
			list = append(list, w.suits()...)
			continue
		}
		for _, s := range section.Statements {
			if !strings.HasPrefix(s.Key, "sets.") {
				list = append(list, s)
			}
		}
	}
	return slices.Concat(list, w.notInForce())
}

// source is what a statement rests on, without the line, which moves with every edit.
func source(s Statement) string {
	_, text, cited := strings.Cut(s.Basis, ": ")
	if !cited {
		return "none"
	}
	return text
}
