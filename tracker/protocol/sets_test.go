package protocol_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// chosen is the default protocol with another set of targets: one line is changed.
func chosen(t *testing.T, set string) *protocol.Protocol {
	t.Helper()
	text := protocol.Default().Text
	require.Equal(t, 1, strings.Count(text, "\ntarget_set = \"default\""))
	p, err := protocol.Parse([]byte(strings.Replace(text, `target_set = "default"`, `target_set = "`+set+`"`, 1)))
	require.NoError(t, err)
	return p
}

// TestNamedSetsOfTargets: practice reference 3.1, T1 in its three readings, T5, T14. The next day's provisional result is
// this program's own in each of them: no source knows it.
func TestNamedSetsOfTargets(t *testing.T) {
	const nextDay = "provisional within 1 working day of receipt; "
	tests := map[string]struct{ routine, urgent, nextDay, source string }{
		"default": {"final within 10 days of receipt, 90 %", "final within 7 days of receipt, 90 %",
			nextDay + "final within 10 days of receipt, 90 %", "[T1]"},
		"uk-2013-a": {"final within 10 days of receipt, 90 %", "final within 10 days of receipt, 90 %",
			nextDay + "final within 10 days of receipt, 90 %", "[T1]"},
		"uk-2013-b": {"final within 7 days of receipt, 90 %", "final within 7 days of receipt, 90 %",
			nextDay + "final within 7 days of receipt, 90 %", "[T1]"},
		"uk-2013-c": {"final within 7 days of receipt, 80 %", "final within 7 days of receipt, 80 %",
			nextDay + "final within 7 days of receipt, 80 %", "[T2]"},
		"us-2-working-days": {"final within 2 working days of accession", "final within 2 working days of accession",
			nextDay + "final within 2 working days of accession", "[T5]"},
		"european-breast-2006": {"final within 5 working days of taken, 90 %", "final within 5 working days of taken, 90 %",
			nextDay + "final within 5 working days of taken, 90 %", "(from memory) [T14]"},
	}
	require.ElementsMatch(t, keysOf(tests), keysOf(protocol.Default().Sets))
	for set, want := range tests {
		t.Run(set, func(t *testing.T) {
			p := chosen(t, set)
			for priority, want := range map[string]string{"routine": want.routine, "urgent": want.urgent, "next-day": want.nextDay} {
				var got []string
				for _, name := range p.TargetsOf(priority) {
					target := p.Targets[name]
					words := fmt.Sprintf("%s within %s of %s", target.Stage, target.Span, target.From)
					if target.Share > 0 {
						words += fmt.Sprintf(", %g %%", 100*target.Share)
					}
					got = append(got, words)
				}
				require.Equal(t, want, strings.Join(got, "; "), priority)
			}
			require.Contains(t, p.Sets[set].Source, want.source)
		})
	}
}

// TestEverySetGivesEveryPriorityAFinalTarget: whichever is chosen, no case waits without an end.
func TestEverySetGivesEveryPriorityAFinalTarget(t *testing.T) {
	p := protocol.Default()
	for set := range p.Sets {
		for priority := range p.Priority {
			finals := 0
			for _, name := range p.Sets[set].Priorities[priority] {
				if p.Targets[name].Stage == "final" {
					finals++
				}
			}
			require.Equal(t, 1, finals, "%s, %s", set, priority)
		}
	}
}

// TestPiecesByNeedle: the default has no numbers by gauge, since no source gives any; a clinic's own count at both ends of
// their range and nowhere else.
func TestPiecesByNeedle(t *testing.T) {
	for organ, o := range protocol.Default().Organs {
		require.Empty(t, o.Needles, organ)
	}
	p, err := protocol.Parse([]byte(furnished(t)))
	require.NoError(t, err)
	for _, tt := range []struct {
		target string
		gauge  float64
		want   int
	}{
		{"mass", 0, 3}, {"mass", 13.9, 3}, {"mass", 14, 2}, {"mass", 16.5, 2}, {"node", 14, 3}, {"mass", 17, 3}, {"mass", 18, 5},
		{"node", 20, 5}, {"mass", 20.5, 3},
	} {
		n, counts, key, ok := p.PiecesNeeded("node", tt.target, tt.gauge)
		require.True(t, ok)
		require.Equal(t, "cores", counts)
		require.Equal(t, tt.want, n, "%s with %g G", tt.target, tt.gauge)
		require.Positive(t, p.Line(key))
	}
}
