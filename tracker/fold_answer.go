package tracker

import (
	"slices"
	"time"
)

// results works in an answer of the laboratory. One event may be about several pots of the case: it is one result.
func (f *folding) results(e *Event) {
	d, ok := e.Data.(*ResultIssued)
	if !ok {
		return
	}
	var pots []Name
	for _, item := range e.Items {
		n := f.alias.thing(item.Name)
		if n == f.c.Name {
			for _, p := range f.c.Pots {
				pots = append(pots, p.Name)
			}
		} else if pot := f.potOf(n); pot != "" {
			pots = append(pots, pot)
		}
	}
	if len(pots) == 0 && !f.isCase(e) {
		return
	}
	slices.Sort(pots)
	f.c.Results = append(f.c.Results, &Result{ID: e.ID, When: e.When(), Pots: slices.Compact(pots), Stage: d.Stage,
		Studies: d.Studies, Category: d.Category, Critical: d.Critical})
}

// finishResults notes on each result when it was first read and told. A reading counts for the results it names and no
// others, and whichever of the two was recorded first.
func (f *folding) finishResults() {
	if len(f.c.Results) == 0 {
		return
	}
	for _, e := range f.set.all {
		seen, ok := e.Data.(*ResultSeen)
		if !ok || !f.set.stands(e) || !f.isCase(e) {
			continue
		}
		for _, r := range f.c.Results {
			if r.Seen.IsZero() && slices.Contains(seen.Results, r.ID) {
				r.Seen = e.When()
			}
		}
	}
	for _, t := range f.c.Tellings {
		for _, r := range f.c.Results {
			if slices.Contains(t.Results, r.ID) {
				if r.Told.IsZero() {
					r.Told = t.When
				}
				r.ToldBy = append(r.ToldBy, t.How)
			}
		}
	}
}

// covers reports whether the result answers the study on the pot; byDefault says whether the study is one that a result
// without named studies answers.
func (r *Result) covers(pot Name, study string, byDefault bool) bool {
	if !slices.Contains(r.Pots, pot) {
		return false
	}
	if r.Studies == nil {
		return byDefault
	}
	return slices.Contains(r.Studies, study)
}

// overlaps reports whether two results speak of a common pot and of common studies.
func (r *Result) overlaps(other *Result) bool {
	return slices.ContainsFunc(r.Pots, func(n Name) bool { return slices.Contains(other.Pots, n) }) && sameScope(r, other)
}

func sameScope(a, b *Result) bool {
	if a.Studies == nil || b.Studies == nil {
		return a.Studies == nil && b.Studies == nil || a.Studies == nil && hasMorphology(b.Studies) || b.Studies == nil && hasMorphology(a.Studies)
	}
	return slices.ContainsFunc(a.Studies, func(s string) bool { return slices.Contains(b.Studies, s) })
}

// hasMorphology reports whether the studies hold one that a result without named studies answers: histology or
// cytology, by the contract.
func hasMorphology(studies []string) bool {
	return slices.Contains(studies, "histology") || slices.Contains(studies, "cytology")
}

// replacedBy finds the later final or amended result that speaks of all that r speaks of, or nil.
func (c *Case) replacedBy(r *Result) *Result {
	for _, later := range c.Results {
		if !later.When.After(r.When) || (later.Stage != StageFinal && later.Stage != StageAmended) {
			continue
		}
		if sameScope(r, later) && !slices.ContainsFunc(r.Pots, func(n Name) bool { return !slices.Contains(later.Pots, n) }) &&
			!slices.ContainsFunc(r.Studies, func(s string) bool { return later.Studies != nil && !slices.Contains(later.Studies, s) }) {
			return later
		}
	}
	return nil
}

// current lists the results that no later one replaces.
func (c *Case) current() []*Result {
	var out []*Result
	for _, r := range c.Results {
		if c.replacedBy(r) == nil {
			out = append(out, r)
		}
	}
	return out
}

// plannedAfter reports whether imaging and pathology were discussed, with a plan, at or after an instant.
func (c *Case) plannedAfter(t time.Time) bool {
	return slices.ContainsFunc(c.Talks, func(talk Talk) bool { return talk.Plan != "" && !talk.When.Before(t) })
}

// finishRepeats notes which other cases repeat this one, as their requests say in the end.
func (f *folding) finishRepeats() {
	var of map[Name]Name
	for _, e := range f.set.all {
		n := repeated(e)
		if n == "" || !f.set.stands(e) {
			continue
		}
		for _, item := range e.Items {
			if item.Name.Case() == f.c.Name || item.Name.Thing() != ThingCase {
				continue
			}
			if of == nil {
				of = map[Name]Name{}
			}
			of[item.Name] = n
		}
	}
	for other, n := range of {
		if n == f.c.Name {
			f.c.Repeats = append(f.c.Repeats, other)
		}
	}
	slices.Sort(f.c.Repeats)
}
