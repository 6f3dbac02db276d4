package main

import (
	"cmp"
	"crypto/sha256"
	"fmt"
	"os"
	"slices"
	"strings"
)

// mutant is one small fault.
type mutant struct {
	id   int    // the number that switches it on, from 1
	file string // base name
	fn   string // the function it is in, with its receiver's type: "checking.reached"
	was  string // the code as it is, on one line
	now  string // the code with the fault, on one line; "" when it is taken out
	nth  int    // which of several that look the same in one function, from 1
	line int    // for people; it is no part of its name
	alt  string // what stands in the instrumented file instead
}

// name tells one mutant from all others, and stays when lines move.
func (m *mutant) name() string {
	now := m.now
	if now == "" {
		now = "(nothing)"
	}
	name := strings.Join([]string{m.file, m.fn, m.was, now}, "\t")
	if m.nth > 1 {
		name += fmt.Sprintf(" #%d", m.nth)
	}
	return name
}

func (m *mutant) String() string { return fmt.Sprintf("%s:%d: %s", m.file, m.line, m.said()) }

// said is the name as it stands in what the tool says.
func (m *mutant) said() string { return strings.ReplaceAll(m.name(), "\t", " | ") }

// site is a stretch of a file with the mutants that may stand in its place.
type site struct {
	in        *file
	from, to  int    // bytes
	statement bool   // else an expression
	typ       string // of an expression
	pure      bool   // an expression that may be worked out twice
	mutants   []*mutant

	began, ended int // bytes of the instrumented file
}

// number orders the sites, outer before inner, and gives each mutant its number and its place among its like.
func number(sites []*site) {
	slices.SortStableFunc(sites, func(a, b *site) int {
		return cmp.Or(cmp.Compare(a.in.name, b.in.name), cmp.Compare(a.from, b.from), cmp.Compare(b.to, a.to), -compareBool(a.statement, b.statement))
	})
	seen := make(map[string]int)
	id := 0
	for _, s := range sites {
		for _, m := range s.mutants {
			id++
			m.id, m.nth = id, 0
			name := m.name()
			seen[name]++
			m.nth = seen[name]
		}
	}
}

func compareBool(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return 1
	}
	return -1
}

func mutantsOf(sites []*site) []*mutant {
	var out []*mutant
	for _, s := range sites {
		out = append(out, s.mutants...)
	}
	return out
}

// chosen are the mutants to try.
func chosen(all []*mutant, o options) ([]*mutant, error) {
	if o.again == "" {
		return sample(all, o.sample, o.seed), nil
	}
	text, err := os.ReadFile(o.again)
	if err != nil {
		return nil, fmt.Errorf("read what an earlier run said: %w", err)
	}
	lived := make(map[string]bool)
	for line := range strings.Lines(string(text)) {
		if fate, rest, ok := strings.Cut(strings.TrimSpace(line), "\t"); ok && strings.HasPrefix(fate, "lives") {
			_, name, _ := strings.Cut(rest, ": ")
			lived[name] = true
		}
	}
	out := slices.DeleteFunc(slices.Clone(all), func(m *mutant) bool { return !lived[m.said()] })
	return sample(out, o.sample, o.seed), nil
}

// sample draws some mutants. The draw goes by name, so that one more line of code changes at most a few of them.
func sample(all []*mutant, many int, seed string) []*mutant {
	if many <= 0 || many >= len(all) {
		return all
	}
	draw := func(m *mutant) string {
		sum := sha256.Sum256([]byte(seed + "\n" + m.name()))
		return string(sum[:])
	}
	out := slices.Clone(all)
	slices.SortFunc(out, func(a, b *mutant) int { return cmp.Compare(draw(a), draw(b)) })
	out = out[:many]
	slices.SortFunc(out, func(a, b *mutant) int { return cmp.Compare(a.id, b.id) })
	return out
}

// oneLine folds white space, so that code can stand in a column.
func oneLine(code string) string { return strings.Join(strings.Fields(code), " ") }
