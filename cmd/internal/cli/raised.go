package cli

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// alike is how many flags of one kind are told one by one: a longer list is not read in a dark room.
const alike = 2

// tellRaised tells the flags that an act on some things raised, a line each; of many of one kind the first, and what else it
// is about. Texts of flags leave their case out: where it is not the one case that the reader has in hand, it is named.
func tellRaised(w io.Writer, raised []events.Brief, things []tracker.Name) {
	line := func(f events.Brief) string {
		if inHand(f.Item, things) {
			return flagLine(f.Severity, f.Text, f.Remedy)
		}
		return flagLine(f.Severity, f.Item.Printed()+": "+f.Text, f.Remedy)
	}
	kinds := map[tracker.FlagKind][]events.Brief{}
	var order []tracker.FlagKind
	for _, f := range raised {
		if kinds[f.Kind] == nil {
			order = append(order, f.Kind)
		}
		kinds[f.Kind] = append(kinds[f.Kind], f)
	}
	for _, kind := range order {
		list := kinds[kind]
		if len(list) <= alike {
			for _, f := range list {
				fmt.Fprintf(w, "%s\n", line(f))
			}
			continue
		}
		var others []string
		for _, f := range list[1:] {
			others = append(others, f.Item.Printed())
		}
		fmt.Fprintf(w, "%s\n  The same of %s.\n", line(list[0]), strings.Join(others, ", "))
	}
}

// inHand reports whether all things are of the case that a flag is about.
func inHand(item tracker.Name, things []tracker.Name) bool {
	return !slices.ContainsFunc(things, func(n tracker.Name) bool { return n.Case() != item.Case() })
}
