package tracker_test

import (
	"fmt"
	"maps"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/pelletier/go-toml/v2"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// unheard are numbers of the default protocol that no flag can tell, and why.
var unheard = map[string]string{
	"limits.station-clocks.span":             "events are put in order without a protocol: the two minutes are tracker.StationClocks",
	"media.formalin.formaldehyde":            "for the class of transport, which is no flag",
	"media.bouin.formaldehyde":               "for the class of transport, which is no flag",
	"priorities.next-day.rank":               "for the order of lists",
	"priorities.urgent.rank":                 "for the order of lists",
	"priorities.routine.rank":                "for the order of lists",
	"targets.rcpath-2013-a-all.share":        "of many cases, no single one",
	"targets.rcpath-2013-b-biopsies.share":   "of many cases, no single one",
	"targets.rcpath-2013-b-diagnostic.share": "of many cases, no single one",
	"targets.rcpath-2013-c-biopsies.share":   "of many cases, no single one",
	"targets.rcpath-2013-c-all.share":        "of many cases, no single one",
	"targets.nhs-cytology.share":             "of many cases, no single one",
	"targets.european-breast-2006.share":     "of many cases, no single one",
}

// number is one number of the protocol, and what it is changed to: a second more and less, a day, a piece, a tenth.
type number struct {
	path  string
	table map[string]any
	key   string
	tries []any
}

// numbersOf finds the numbers of a protocol.
func numbersOf(path string, table map[string]any) (all []number) {
	for _, key := range slices.Sorted(maps.Keys(table)) {
		n := number{path: strings.TrimPrefix(path+"."+key, "."), table: table, key: key}
		switch value := table[key].(type) {
		case map[string]any:
			all = append(all, numbersOf(n.path, value)...)
		case int64:
			n.tries = []any{value + 1, value - 1}
		case float64:
			n.tries = []any{value + 0.1, value - 0.1}
		case string:
			var count int
			var unit string
			if d, err := time.ParseDuration(value); err == nil {
				n.tries = []any{(d + time.Second).String(), (d - time.Second).String()}
			} else if read, _ := fmt.Sscanf(value, "%d%s", &count, &unit); read == 2 && (unit == "d" || unit == "wd") {
				n.tries = []any{fmt.Sprintf("%d%s", count+1, unit), fmt.Sprintf("%d%s", count-1, unit)}
			}
		}
		if n.tries != nil {
			all = append(all, n)
		}
	}
	return all
}

// TestEveryNumberIsHeldByAStory changes each number of the default protocol by the least there is, up and down, and asks
// that a story notices.
func TestEveryNumberIsHeldByAStory(t *testing.T) {
	t.Parallel()
	base, err := storyRules()
	require.NoError(t, err)
	var whole map[string]any
	require.NoError(t, toml.Unmarshal([]byte(base.Protocol().Text), &whole))
	var stories []*toldUnder
	for _, path := range scenarioFiles(t) {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		stories = append(stories, &toldUnder{text: string(text), right: readScenarioFile(t, path), base: base})
	}
	for _, n := range numbersOf("", whole) {
		if unheard[n.path] != "" {
			continue
		}
		right := n.table[n.key]
		for _, wrong := range n.tries {
			n.table[n.key] = wrong
			text, err := toml.Marshal(whole)
			require.NoError(t, err)
			p, err := protocol.Parse(text)
			if err != nil {
				continue // it cannot be so
			}
			rules, err := tracker.NewRules(p, time.LoadLocation)
			require.NoError(t, err)
			i := slices.IndexFunc(stories, func(s *toldUnder) bool { return s.notices(t, rules) })
			if i < 0 {
				t.Errorf("no story notices that %s is %v and not %v", n.path, wrong, right)
				continue
			}
			stories[0], stories[i] = stories[i], stories[0] // it may well notice the next one too
		}
		n.table[n.key] = right
	}
}

// toldUnder is a story that is told again under other rules.
type toldUnder struct {
	text  string
	right *scenario // as it is told
	base  *tracker.Rules
}

// notices reports whether the story comes out otherwise under other rules.
func (s *toldUnder) notices(t testing.TB, rules *tracker.Rules) bool {
	sc := *s.right
	if slices.ContainsFunc(sc.steps, func(st step) bool { return st.rules != s.base }) { // it changes the protocol
		other, err := readScenarioUnder(s.text, rules)
		if err != nil {
			return true
		}
		sc = *other
	} else {
		sc.steps = slices.Clone(sc.steps)
		for i := range sc.steps {
			sc.steps[i].rules = rules
		}
	}
	return slices.ContainsFunc(sc.expectations(), func(i int) bool {
		all, wake := sc.answer(t, sc.steps[:i], sc.steps[i])
		return len(sc.steps[i].expect.against(all, wake)) > 0
	})
}

// expectations are the steps that expect something.
func (sc *scenario) expectations() (at []int) {
	for i := range sc.steps {
		if sc.steps[i].expect != nil {
			at = append(at, i)
		}
	}
	return at
}

// answer is what judge gives, without holding it to the laws.
func (sc *scenario) answer(t testing.TB, above []step, s step) (all []found, wake time.Time) {
	t.Helper()
	var known []*tracker.Event
	for _, before := range above {
		if before.event != nil && !before.at.After(s.at) {
			known = append(known, before.event)
		}
	}
	filed := tracker.File(known)
	rules := s.rules
	if s.faulty {
		rules = &tracker.Rules{}
	}
	for _, watched := range slices.Sorted(maps.Keys(filed)) {
		events, err := tracker.Gather(watched, func(n tracker.Name) ([]*tracker.Event, error) { return filed[n], nil })
		require.NoError(t, err)
		got := tracker.Judge(watched, events, rules, s.at).Findings
		for _, f := range got.Flags {
			all = append(all, found{f, ""})
		}
		for _, f := range got.Held {
			all = append(all, found{f.Flag, f.By})
		}
		if !got.Wake.IsZero() && (wake.IsZero() || got.Wake.Before(wake)) {
			wake = got.Wake
		}
	}
	return all, wake
}
