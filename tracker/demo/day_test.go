package demo_test

import (
	"bytes"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

var days = filepath.Join("..", "..", "testdata", "days")

func readDay(t *testing.T) []*tracker.Event {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(days, "network.ndjson"))
	require.NoError(t, err)
	var day []*tracker.Event
	for line := range bytes.Lines(text) {
		e, err := events.Decode(bytes.TrimSpace(line))
		require.NoError(t, err, "line %d", len(day)+1)
		day = append(day, e)
	}
	return day
}

// flagRow is one line of flags.tsv without its instant: "now pot-lost HCX-26-00202-A".
type flagRow = string

// readExpected gives the flags that stand at each instant of flags.tsv, and the instants in order.
func readExpected(t *testing.T) (instants []time.Time, expected map[time.Time][]flagRow) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(days, "flags.tsv"))
	require.NoError(t, err)
	expected = map[time.Time][]flagRow{}
	for line := range strings.Lines(string(text)) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		fields := strings.Split(strings.TrimSuffix(line, "\n"), "\t")
		at, err := time.Parse(time.RFC3339, fields[0])
		require.NoError(t, err)
		at = at.UTC()
		if _, known := expected[at]; !known {
			instants = append(instants, at)
			expected[at] = []flagRow{}
		}
		if fields[1] != "-" {
			expected[at] = append(expected[at], strings.Join(fields[1:4], " "))
		}
	}
	return instants, expected
}

// The day in testdata raises the flags that the contract's page says, at the very seconds, whatever order its events come in.
func TestTheDayRaisesWhatThePageSays(t *testing.T) {
	rules, err := tracker.NewRules(protocol.Default(), time.LoadLocation)
	require.NoError(t, err)
	day := readDay(t)
	ids := map[tracker.EventID]bool{}
	for _, e := range day {
		ids[e.ID] = true
		requireUUIDv7(t, e)
	}
	require.Len(t, day, len(ids)+1, "one scan is sent twice")
	require.False(t, slices.IsSortedFunc(day, (*tracker.Event).Compare), "some scans come late")
	instants, expected := readExpected(t)
	for shuffle := range 3 {
		if shuffle > 0 {
			chance := rand.New(rand.NewPCG(1, uint64(shuffle)))
			chance.Shuffle(len(day), func(i, j int) { day[i], day[j] = day[j], day[i] })
		}
		for _, at := range instants {
			require.ElementsMatch(t, expected[at], flagsOfDay(t, day, rules, at), at.Format(time.RFC3339))
		}
	}
}

func flagsOfDay(t *testing.T, day []*tracker.Event, rules *tracker.Rules, at time.Time) []flagRow {
	t.Helper()
	past := slices.DeleteFunc(slices.Clone(day), func(e *tracker.Event) bool { return e.When().After(at) })
	filed := tracker.File(past)
	rows := []flagRow{}
	for watched := range filed {
		gathered, err := tracker.Gather(watched, func(n tracker.Name) ([]*tracker.Event, error) { return filed[n], nil })
		require.NoError(t, err)
		for _, f := range tracker.Judge(watched, gathered, rules, at).Findings.Flags {
			rows = append(rows, strings.Join([]string{string(f.Severity), string(f.Kind), string(f.Item)}, " "))
		}
	}
	return rows
}
