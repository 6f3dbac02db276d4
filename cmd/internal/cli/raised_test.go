package cli

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// TestManyFlagsOfOneKindAreOneLine: eleven labels printed before the check are told in a breath, and another flag among
// them is not lost. One about another patient's case says whose it is.
func TestManyFlagsOfOneKindAreOneLine(t *testing.T) {
	before := func(item tracker.Name) events.Brief {
		return events.Brief{Kind: tracker.FlagLabelBeforeCheck, Item: item, Severity: tracker.Now, Text: "The label of " + item.Printed() + " was printed.", Remedy: "Check."}
	}
	shared := events.Brief{Kind: tracker.FlagRoomShared, Item: "MBY-26-00416", Severity: tracker.Now, Text: "Two patients.", Remedy: "Stop."}
	var b strings.Builder
	tellRaised(&b, []events.Brief{before("MBY-26-00417-A"), shared, before("MBY-26-00417-A01"), before("MBY-26-00417-A02")}, []tracker.Name{"MBY-26-00417-A", "MBY-26-00417-A01"})
	require.Equal(t, "NOW: The label of MBY-26-00417 A was printed. Check.\n  The same of MBY-26-00417 A01, MBY-26-00417 A02.\n"+
		"NOW: MBY-26-00416: Two patients. Stop.\n", b.String())
	b.Reset()
	tellRaised(&b, []events.Brief{before("MBY-26-00417-A"), before("MBY-26-00417-A01")}, []tracker.Name{"MBY-26-00417-A", "MBY-26-00418-A"})
	require.Equal(t, 2, strings.Count(b.String(), "NOW: MBY-26-00417 A"), "two are told one by one, and whose they are where labels of two cases were printed")
}
