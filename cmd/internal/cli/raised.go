package cli

import (
	"fmt"
	"io"
	"strings"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// alike is how many flags of one kind are told one by one: a longer list is not read in a dark room.
const alike = 2

// tellRaised tells the flags that one act raised, a line each; of many of one kind the first, and what else it is about.
func tellRaised(w io.Writer, raised []events.Brief) {
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
				fmt.Fprintf(w, "%s\n", flagLine(f.Severity, f.Text, f.Remedy))
			}
			continue
		}
		var others []string
		for _, f := range list[1:] {
			others = append(others, f.Item.Printed())
		}
		fmt.Fprintf(w, "%s\n  The same of %s.\n", flagLine(list[0].Severity, list[0].Text, list[0].Remedy), strings.Join(others, ", "))
	}
}
