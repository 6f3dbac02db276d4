package tracker_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
	"github.com/pottrail/pottrail/tracker/timetable"
)

// rulesWith is the default protocol with some words changed.
func rulesWith(t *testing.T, changes ...string) *tracker.Rules {
	t.Helper()
	text := protocol.Default().Text
	for i := 0; i < len(changes); i += 2 {
		require.Contains(t, text, changes[i])
		text = strings.Replace(text, changes[i], changes[i+1], 1)
	}
	p, err := protocol.Parse([]byte(text))
	require.NoError(t, err)
	rules, err := tracker.NewRules(p, time.LoadLocation)
	require.NoError(t, err)
	return rules
}

const routineTarget = "[targets.rcpath-2013-a-all]\nstage = \"final\"\nspan = \"10d\"\n"

// TestATargetSpeaksOfSomeStudies: page 3, turnaround: a target has a calendar of its own, adds time for single studies, and
// leaves others out. Received on Friday 6 March at 17:40.
func TestATargetSpeaksOfSomeStudies(t *testing.T) {
	tests := []struct {
		name    string
		more    string // of the routine target
		studies []string
		want    []string
	}{
		{"what the study adds", "", []string{"stains"}, []string{"Mon 16 Mar 08:04:00 watch A", "Wed 18 Mar 17:40:01 today A"}},
		{"what the target adds, in place of it", "adds = { stains = \"1wd\" }\n", []string{"stains"},
			[]string{"Sun 15 Mar 12:52:00 watch A", "Tue 17 Mar 17:40:01 today A"}},
		{"what the target adds for a study that adds nothing", "adds = { histology = \"4d\" }\n", []string{"histology"},
			[]string{"Tue 17 Mar 22:28:00 watch A", "Fri 20 Mar 17:40:01 today A"}},
		{"other studies go by their own", "adds = { cytology = \"4d\" }\n", []string{"stains"},
			[]string{"Mon 16 Mar 08:04:00 watch A", "Wed 18 Mar 17:40:01 today A"}},
		{"a study that the target leaves out owes nothing", "excludes = [\"histology\"]\n", []string{"histology"}, []string{}},
		{"another on the same pot does", "excludes = [\"stains\"]\n", []string{"histology", "stains"},
			[]string{"Sat 14 Mar 17:40:00 watch A", "Mon 16 Mar 17:40:01 today A"}},
		{"a study with a target of its own keeps it", "excludes = [\"tb\"]\n", []string{"tb"},
			[]string{"Thu 9 Apr 08:16:00 watch A", "Fri 17 Apr 17:40:01 today A"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := received(t, "routine", tt.studies...)
			s.rules = rulesWith(t, routineTarget, routineTarget+tt.more)
			require.Equal(t, tt.want, s.course(tracker.FlagResultOverdue))
		})
	}
}

// TestATargetInAnotherCalendar: five working days from Friday 6 March. The laboratory's calendar has Tuesday and Wednesday
// closed, one by hand and one from a calendar file, and works on a Saturday; the clinic's has not.
func TestATargetInAnotherCalendar(t *testing.T) {
	fiveDays := strings.Replace(routineTarget, "10d", "5wd", 1)
	const laboratory = "[calendars.laboratory]\nregion = \"none\"\nclosed = [\"2026-03-10\"]\nopen = [\"2026-03-14\"]\n" +
		"[calendars.laboratory.imported]\nclosed = [\"2026-03-11\"]\nsource = \"the laboratory's calendar\"\n\n[studies.histology]\n"
	due := func(s *story) time.Time { return s.flag(tracker.FlagResultOverdue, "A", "2026-03-18 12:00").Due }

	s := received(t, "routine", "histology")
	s.rules = rulesWith(t, routineTarget, fiveDays, "[studies.histology]\n", laboratory)
	require.Equal(t, s.instant("2026-03-13 17:40"), due(s).In(london), "in the clinic's")
	s.rules = rulesWith(t, routineTarget, fiveDays+"calendar = \"laboratory\"\n", "[studies.histology]\n", laboratory)
	require.Equal(t, s.instant("2026-03-16 17:40"), due(s).In(london), "Monday 9, Thursday 12, Friday 13, Saturday 14, Monday 16")

	s = received(t, "routine", "stains")
	s.rules = rulesWith(t, routineTarget, fiveDays+"calendar = \"laboratory\"\n", "[studies.histology]\n", laboratory)
	require.Equal(t, s.instant("2026-03-18 17:40"), due(s).In(london), "what a study adds counts in the target's calendar")
}

// TestTwoWorkingDaysFromAccession: CAP ANP.12150 in the calendar of the United States; the working days are those of the
// practice reference, 10.4: from Thursday 2 July 2026 the second is Tuesday 7 July, since Friday 3 July is a holiday. In
// England it would be Monday 6 July.
func TestTwoWorkingDaysFromAccession(t *testing.T) {
	for region, want := range map[string]string{"us-federal": "2026-07-07 10:00", "gb-england-wales": "2026-07-06 10:00"} {
		s := newStory(t)
		s.rules = rulesWith(t, `target_set = "default"`, `target_set = "us-2-working-days"`, `region = "gb-england-wales"`, `region = "`+region+`"`)
		s.at("2026-07-01 09:00").opened(plan("A", "formalin", "histology"))
		s.at("2026-07-01 15:42").taken("A01")
		s.at("2026-07-01 15:43").potted("A01")
		s.at("2026-07-01 15:50").sealed("A", "nurse.lund", 1)
		s.at("2026-07-01 15:56").cleared()
		s.at("2026-07-01 17:40").lab().handed("lab-reception", "A")
		s.none(tracker.FlagResultOverdue, "2026-07-01 18:00")
		s.at("2026-07-02 10:00").accessioned("A")
		f := s.flag(tracker.FlagResultOverdue, "A", "2026-07-08 12:00")
		require.Equal(t, s.instant(want), f.Due.In(london), region)
		require.Contains(t, f.Text, "2 working days from accession")
		require.Contains(t, f.Basis, "ANP.12150")
	}
}

// TestHoursThatPassAreHours: what the protocol's own check lets through, opening hours can be made from.
func TestHoursThatPassAreHours(t *testing.T) {
	for _, text := range []string{"08:30-17:00", "22:00-06:00", "00:00-24:00", "23:59-00:00"} {
		rules := rulesWith(t, "[studies.histology]\n", "[hours.reception]\nmon = [\""+text+"\"]\nsource = \"ours\"\n\n[studies.histology]\n")
		_, err := timetable.ParseIntervals(rules.Protocol().Hours["reception"].Of("mon"))
		require.NoError(t, err, text)
	}
}
