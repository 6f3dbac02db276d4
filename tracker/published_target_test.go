package tracker_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/testdata/published"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// withSet is the default protocol with another set of targets and another country's holidays: two lines of its text.
func withSet(t *testing.T, set, region string) *tracker.Rules {
	t.Helper()
	text := protocol.Default().Text
	for old, now := range map[string]string{`target_set = "default"`: `target_set = "` + set + `"`, `region = "gb-england-wales"`: `region = "` + region + `"`} {
		require.Equal(t, 1, strings.Count(text, old), old)
		text = strings.Replace(text, old, now, 1)
	}
	p, err := protocol.Parse([]byte(text))
	require.NoError(t, err)
	rules, err := tracker.NewRules(p, time.LoadLocation)
	require.NoError(t, err)
	return rules
}

// TestAResultIsDueByTheSetInForce: testdata/published/target-dues.tsv: RCPath in its three readings (T1), CAP's two working days
// from accession (T5), the European guidelines (T14). Choosing one is one line; due is met to the second.
func TestAResultIsDueByTheSetInForce(t *testing.T) {
	sets := map[string]bool{}
	for _, r := range published.Table(t, "target-dues.tsv") {
		sets[r.Text("set")] = true
		s := newStory(t)
		s.rules = withSet(t, r.Text("set"), r.Text("region"))
		s.request.Priority = r.Text("priority")
		s.at(r.Text("taken"))
		s.at(s.clock.Add(-time.Hour).Format(rfc3339)).opened(plan("A", "formalin", "histology"))
		s.at(r.Text("taken")).taken("A01")
		s.potted("A01")
		s.sealed("A", "nurse.lund", 1)
		s.cleared()
		s.at(r.Text("received")).lab().handed("lab-reception", "A")
		s.at(r.Text("accessioned")).accessioned("A")
		due := s.instant(r.Text("due"))
		for at, severity := range map[time.Time]tracker.Severity{due: tracker.Watch, due.Add(time.Second): tracker.Today} {
			f := s.flag(tracker.FlagResultOverdue, "A", at.Format(rfc3339))
			require.Equal(t, severity, f.Severity, "%s at %s", r, at)
			require.True(t, due.Equal(f.Due), "%s: due %s", r, f.Due)
			require.Contains(t, f.Basis, "["+r.Text("entry")+"]", "%s", r)
		}
	}
	for set := range protocol.Default().Sets {
		require.True(t, sets[set], "set %s has no row in target-dues.tsv", set)
	}
}
