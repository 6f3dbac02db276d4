package say

import (
	"fmt"
	"strings"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// targets are those in force, by priority; then what single studies have of their own.
func (w reader) targets() Section {
	p := w.p
	s := Section{Title: "Results, when they are due"}
	inForce := w.state("sets."+p.TargetSet, "set in force", "%s", p.Sets[p.TargetSet].Name)
	inForce.Key = "target_set"
	s.Statements = append(s.Statements, inForce)
	for _, priority := range sorted(p.Priority) {
		for _, name := range p.TargetsOf(priority) {
			t := p.Targets[name]
			line := w.state("targets."+name, p.Priority[priority].Name+", "+t.Stage+" result", "%s", w.target(t))
			line.Key = "priorities." + priority + "." + t.Stage // the set may change, and what a priority is owed is what people compare
			s.Statements = append(s.Statements, line)
		}
		says := fmt.Sprintf("rank %d in lists, where 0 is the most urgent", p.Priority[priority].Rank)
		if p.Priority[priority].Urgent {
			says += "; far past its target it is a matter for now"
		}
		s.Statements = append(s.Statements, Statement{Key: "priorities." + priority, About: p.Priority[priority].Name, Says: says})
	}
	for _, key := range sorted(p.Studies) {
		study, at := p.Studies[key], "studies."+key
		if study.Default {
			s.Statements = append(s.Statements, Statement{Key: at + ".default", About: study.Name, Says: "answered by a final result that names no studies"})
		}
		switch {
		case study.Target != nil:
			s.Statements = append(s.Statements, w.state(at+".target", study.Name, "within %s from receipt, whatever the priority", study.Target.Span))
		case study.Adds != nil:
			s.Statements = append(s.Statements, w.state(at+".adds", study.Name, "%s more than the final result", study.Adds.Span))
		case study.AfterFinal != nil:
			s.Statements = append(s.Statements, w.state(at+".after_final", study.Name, "an addendum, within %s after the final result", study.AfterFinal.Span))
		}
	}
	for _, key := range sorted(p.Sets) {
		if key != p.TargetSet {
			s.Statements = append(s.Statements, w.state("sets."+key, fmt.Sprintf("not in force (target_set = %q would choose it)", key), "%s", p.Sets[key].Name))
		}
	}
	return s
}

func (w reader) target(t protocol.Target) string {
	from := t.From
	if from == "taken" {
		from = "when it was taken"
	}
	says := fmt.Sprintf("within %s from %s", t.Span, from)
	if t.Share > 0 {
		says += fmt.Sprintf(" (of %g %% of cases, says the source)", 100*t.Share)
	}
	if t.Calendar != "" && t.Calendar != w.p.Calendar {
		says += ", by the calendar " + t.Calendar
	}
	for _, study := range sorted(t.Adds) {
		says += fmt.Sprintf("; for %s %s more", w.study(study), t.Adds[study])
	}
	if len(t.Excludes) > 0 {
		says += "; not for " + all(t.Excludes, w.study)
	}
	return says
}

// notInForce are the targets that the set in force does not use, and all sets of targets: what a clinic could choose.
func (w reader) notInForce() []Statement {
	used := map[string]bool{}
	for priority := range w.p.Priority {
		for _, name := range w.p.TargetsOf(priority) {
			used[name] = true
		}
	}
	var list []Statement
	for _, key := range sorted(w.p.Targets) {
		if !used[key] {
			list = append(list, w.state("targets."+key, "target "+key+", not in force", "%s result %s", w.p.Targets[key].Stage, w.target(w.p.Targets[key])))
		}
	}
	for _, key := range sorted(w.p.Sets) {
		set := w.p.Sets[key]
		var parts []string
		for _, priority := range sorted(set.Priorities) {
			parts = append(parts, named(priority, w.p.Priority[priority].Name)+" "+and(set.Priorities[priority]))
		}
		list = append(list, w.state("sets."+key, "set of targets "+key, "%s: %s", set.Name, strings.Join(parts, "; ")))
	}
	return list
}

func (w reader) answers() Section {
	p := w.p
	s := Section{Title: "Answers"}
	for _, key := range sorted(p.Classes) {
		c := p.Classes[key]
		s.Statements = append(s.Statements, w.state("classes."+key, c.Name, "%s", and(c.Categories)))
	}
	s.Statements = append(s.Statements,
		w.state("imaging.high", "imaging of high suspicion", "%s", and(p.Imaging.High)),
		w.state("imaging.mid", "imaging of middling suspicion", "%s", and(p.Imaging.Mid)))
	for _, group := range []struct {
		key, about string
		table      map[string]string
	}{{"high", "high suspicion", p.Concord.High}, {"mid", "middling suspicion", p.Concord.Mid}} {
		for _, class := range sorted(group.table) {
			s.Statements = append(s.Statements, w.state("concordance."+group.key+"."+class, fmt.Sprintf("%s with a %s result", group.about, named(class, p.Classes[class].Name)),
				"does not go together: %s, until both are put side by side", severity(group.table[class])))
		}
	}
	if missed := p.Concord.CalciumMissed; missed != "" {
		s.Statements = append(s.Statements, w.state("concordance.calcium_missed", "calcification was the target and none was seen", "%s, until both are put side by side", severity(missed)))
	}
	s.Statements = append(s.Statements, w.state("meeting.categories", "wants a meeting", "%s", and(p.Meeting.Categories)))
	for _, key := range sorted(p.Meeting.Undivided) {
		u := p.Meeting.Undivided[key]
		s.Statements = append(s.Statements, w.state("meeting.undivided."+key, u.Category+" without a letter", "is accepted, and the laboratory asked whether %s", strings.Join(u.Divided, " or ")))
	}
	var outcomes []string
	for _, key := range sorted(p.Outcomes) {
		outcomes = append(outcomes, p.Outcomes[key].Name)
	}
	s.Statements = append(s.Statements, w.state("outcomes", "how a case can end", "%s", and(outcomes)))
	return s
}

func severity(word string) string {
	switch word {
	case "now":
		return "a matter for now"
	case "today":
		return "a matter for today"
	case "watch":
		return "watched"
	}
	return word
}
