package tracker_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// For people who ask: every pot that holds or is to hold something, or one of them.
func TestForecastsAreForEachPotOrForOne(t *testing.T) {
	s := inFormalin(t, "2026-03-03 12:00")
	s.amended(tracker.CaseAmended{Pots: []tracker.PlannedPot{plan("A", "formalin", "receptors"), plan("B", "formalin", "receptors"), plan("C", "formalin", "receptors")}})
	s.at("2026-03-03 12:01").taken("B01")
	s.potted("B01")
	s.at("2026-03-03 12:05").record(&tracker.ProcedureEnded{Outcome: "partly", Unused: []string{"C"}}, "case")
	letters := func(only tracker.Name) (out []string) {
		for _, f := range s.rules.Forecasts(s.folded(), only, s.clock) {
			require.NotEqual(t, f.Known, f.Why != "", f.Pot)
			out = append(out, f.Pot.Letter())
		}
		return out
	}
	require.Equal(t, []string{"A", "B"}, letters(""), "the one that was not used has no future")
	require.Equal(t, []string{"B"}, letters(s.name+"-B"))
	require.Empty(t, letters(s.name+"-C"))
	require.Empty(t, letters(s.name+"-D"))
	s.rules = defaultRules(t)
	forecasts := s.rules.Forecasts(s.folded(), "", s.clock)
	require.Len(t, forecasts, 2)
	require.False(t, forecasts[0].Known, "with no rounds and runs nothing is foreseen")
	require.NotEmpty(t, forecasts[0].Why)
}

// The parser of protocols refuses such words; rules made of a protocol by hand say where they stand.
func TestATimetableThatCannotBeUsedIsToldWhere(t *testing.T) {
	p, err := protocol.Parse([]byte(strings.Replace(protocol.Default().Text, `lab-reception = { name = "laboratory reception", role = "laboratory" }`,
		`lab-reception = { name = "laboratory reception", role = "laboratory", hours = "reception" }`, 1) + vans))
	require.NoError(t, err)
	for want, change := range map[string]func(p *protocol.Protocol){
		"rounds.van of the protocol, line ": func(p *protocol.Protocol) {
			one := p.Rounds["van"]
			one.From, one.Departs = "lab-processor", []string{"noon"} // not one that collects in the clinic
			p.Rounds = map[string]protocol.Round{"van": one}
		},
		"runs.evening of the protocol, line ": func(p *protocol.Protocol) {
			one := p.Runs["evening"]
			one.Cutoff = "noon"
			p.Runs = map[string]protocol.Run{"evening": one}
		},
		`hours "reception" of the protocol, line `: func(p *protocol.Protocol) {
			one := p.Hours["reception"]
			one.Mon = []string{"noon"}
			p.Hours = map[string]protocol.Hours{"reception": one, "bench": p.Hours["bench"]}
		},
		`hours "bench" of the protocol, line `: func(p *protocol.Protocol) {
			one := p.Hours["bench"]
			one.Dates = map[string][]string{"2026-12-24": {"noon"}}
			p.Hours = map[string]protocol.Hours{"reception": p.Hours["reception"], "bench": one}
		},
	} {
		changed := *p
		change(&changed)
		_, err := tracker.NewRules(&changed, time.LoadLocation)
		require.ErrorContains(t, err, want)
	}
	_, err = tracker.NewRules(p, time.LoadLocation)
	require.NoError(t, err)
}

// A day with hours of its own: the reception is closed early on it, so the pot waits for the next day's run.
func TestHoursOfOneDateCount(t *testing.T) {
	s := inFormalin(t, "2026-03-03 12:00")
	before := s.rules.Forecasts(s.folded(), "", s.clock)[0].Answer.Planned
	s.rules = rulesWithVans(t, strings.Replace(vans, "[hours.bench]", "dates = { 2026-03-03 = [\"08:00-09:00\"] }\n[hours.bench]", 1))
	after := s.rules.Forecasts(s.folded(), "", s.clock)[0].Answer.Planned
	require.True(t, after.Cutoff.After(before.Cutoff), "%s, %s", before.Cutoff, after.Cutoff)
}
