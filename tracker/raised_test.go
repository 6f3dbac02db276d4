package tracker_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// TestAFlagSaysUnderWhichProtocolItWasRaised: rules that were in force when it became true, or had it before.
func TestAFlagSaysUnderWhichProtocolItWasRaised(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "receptors"))
	s.at("09:50").checked()
	s.at("10:00").taken("A01")
	sixty := s.rules
	p, err := protocol.Parse([]byte(strings.Replace(protocol.Default().Text, "[studies.receptors.to_fixation]\nspan = \"1h\"", "[studies.receptors.to_fixation]\nspan = \"30m\"", 1)))
	require.NoError(t, err)
	thirty, err := tracker.NewRules(p, time.LoadLocation)
	require.NoError(t, err)

	raised := func(adopted string, rules *tracker.Rules, at string) string {
		s.rules = rules
		f := s.flag(tracker.FlagColdIschaemiaLong, "A01", at)
		under := tracker.RaisedUnder(f, s.name, s.events, []tracker.Adoption{{By: "default", Rules: sixty}, {When: s.instant(adopted), By: "new", Rules: rules}})
		return under.By
	}
	require.Equal(t, "new", raised("10:20", thirty, "10:40"), "it became true under the new rules")
	require.Equal(t, "new", raised("10:50", thirty, "10:55"), "it was true since 10:30, but not by the rules before")
	require.Equal(t, "default", raised("11:10", thirty, "11:15"), "it stood already by the rules before")
	require.Equal(t, "default", raised("11:10", sixty, "11:15"))
	require.Equal(t, "new", raised("10:20", sixty, "11:15"))
}
