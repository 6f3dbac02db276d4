package cli

import (
	"fmt"
	"slices"

	"github.com/pottrail/pottrail/cmd/internal/say"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// explained is a kind of flag in plain words, with what the protocol says about it.
type explained struct {
	Kind     tracker.FlagKind `json:"kind"`
	Title    string           `json:"title"`
	Help     string           `json:"help"`
	Answered bool             `json:"answered"` // flag.answered settles it
	Limits   []say.Statement  `json:"limits"`   // numbers and words of the protocol that it is judged by, with their sources
}

// explain says what a kind of flag means, or all of them, by a protocol file or the protocol inside the program.
func (a *app) explain(kind, rulesFile string) error {
	p := protocol.Default()
	if rulesFile != "" {
		rules, err := a.readRules(rulesFile)
		if err != nil {
			return err
		}
		p = rules.Protocol()
	}
	var found []explained
	for _, info := range tracker.FlagCatalog() {
		if kind == "all" || string(info.Kind) == kind {
			found = append(found, explained{info.Kind, info.Title, info.Help, info.Answer, limitsOf(info.Kind, p)})
		}
	}
	if len(found) == 0 {
		return usage("--explain %q: no such kind of flag; --explain all lists them", kind)
	}
	if a.json {
		return a.printJSON(found)
	}
	for i, f := range found {
		if i > 0 {
			fmt.Fprintln(a.Out)
		}
		fmt.Fprintf(a.Out, "%s: %s\n%s\n", f.Kind, f.Title, f.Help)
		if f.Answered {
			fmt.Fprintf(a.Out, "When it can no longer be undone, say what was done: an event flag.answered settles it.\n")
		}
		for _, s := range f.Limits {
			fmt.Fprintf(a.Out, "  %s: %s\n", s.About, s.Says)
			if s.Basis != "" {
				fmt.Fprintf(a.Out, "    %s\n", s.Basis)
			}
		}
	}
	return nil
}

// limitsOf lists what a protocol says about a kind of flag.
func limitsOf(kind tracker.FlagKind, p *protocol.Protocol) []say.Statement {
	list := []say.Statement{}
	patterns := tracker.FlagKeys(kind)
	for _, section := range say.Protocol(p) {
		for _, s := range section.Statements {
			if slices.ContainsFunc(patterns, func(pattern string) bool { return tracker.KeyFits(pattern, s.Key) }) {
				list = append(list, s)
			}
		}
	}
	return list
}
