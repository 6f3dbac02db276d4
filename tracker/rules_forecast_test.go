package tracker_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// vans are two rounds a working day, a reception with hours, an evening run Mondays to Fridays and a bench for flow.
const vans = `
[hours.reception]
mon = ["08:00-18:30"]
tue = ["08:00-18:30"]
wed = ["08:00-18:30"]
thu = ["08:00-18:30"]
fri = ["08:00-18:30"]
source = "invented"
[hours.bench]
mon = ["09:00-17:00"]
tue = ["09:00-17:00"]
wed = ["09:00-17:00"]
thu = ["09:00-17:00"]
fri = ["09:00-17:00"]
source = "invented"
[rounds.van]
from = "hatch"
to = "lab-reception"
days = ["mon", "tue", "wed", "thu", "fri"]
departs = ["10:30", "16:30"]
takes = "35m"
source = "invented"
[runs.evening]
place = "lab-processor"
days = ["mon", "tue", "wed", "thu", "fri"]
cutoff = "17:30"
load = "18:00"
leaves = "06:00"
source = "invented"
[benches.flow]
name = "the flow bench"
place = "lab-reception"
hours = "bench"
studies = ["flow"]
source = "invented"
`

// withHours is the default protocol whose reception has hours, and withVans the same with the timetable.
func withHours() string {
	return strings.Replace(protocol.Default().Text, `lab-reception = { name = "laboratory reception", role = "laboratory" }`,
		`lab-reception = { name = "laboratory reception", role = "laboratory", hours = "reception" }`, 1)
}

func withVans() string { return withHours() + vans }

func rulesWithVans(t *testing.T, more string, changes ...string) *tracker.Rules {
	t.Helper()
	p, err := protocol.Parse([]byte(strings.NewReplacer(changes...).Replace(withHours()) + more))
	require.NoError(t, err)
	rules, err := tracker.NewRules(p, time.LoadLocation)
	require.NoError(t, err)
	return rules
}

// inFormalin is a story with vans of one core for receptors that is in formalin since an instant.
func inFormalin(t *testing.T, at string) *story {
	t.Helper()
	s := newStory(t)
	s.rules = rulesWithVans(t, vans)
	s.at(at)
	s.clock = s.clock.Add(-20 * time.Minute)
	s.opened(plan("A", "formalin", "receptors"))
	s.checked()
	s.clock = s.clock.Add(15 * time.Minute)
	s.taken("A01")
	s.at(at).potted("A01")
	return s
}

// TestFridaysPotMissesItsWindowOverTheWeekend: the last van of Friday makes the evening run, the next one is Monday's:
// receptors bear 72 hours (ASCO/CAP 2011, F2), Friday noon to Tuesday 06:00 is 90.
func TestFridaysPotMissesItsWindowOverTheWeekend(t *testing.T) {
	s := inFormalin(t, "2026-03-06 12:00")
	require.Equal(t, []string{
		"Fri 6 Mar 16:30:01 watch A", // the van is gone; the scan may still be to come
		"Fri 6 Mar 17:00:01 now A",   // it did not go along: bring it by 17:30, or end it by hand by Monday 12:00
		"Mon 9 Mar 12:00:01 today A", // nothing helps any more
		"Fri 27 Mar 16:30:01 -",      // so long after its window nothing more is foreseen
	}, s.course(tracker.FlagFixationWillBeLong))
	f := s.flag(tracker.FlagFixationWillBeLong, "A", "2026-03-06 16:31")
	require.Equal(t, "Pot A: with the next collections it makes the processor run loaded Mon 9 Mar 18:00 and leaves fixative Tue 10 Mar 06:00, after 90 h; the most for receptors is 72 h.", f.Text)
	require.Contains(t, f.Remedy, "bring it by hand to laboratory reception by Fri 6 Mar 17:30")
	require.Contains(t, f.Remedy, "end fixation by hand by Mon 9 Mar 12:00")
	require.Equal(t, s.instant("2026-03-06 16:30:01"), f.Since.In(london))
	require.Equal(t, "porter, laboratory", f.Who)

	s = inFormalin(t, "2026-03-06 12:00")
	s.at("2026-03-06 16:25").by("porter.ruun", "phone-1").handed("van", "A")
	require.Empty(t, s.course(tracker.FlagFixationWillBeLong), "it went with the van")
}

// TestTheLastDepartureThatSavesIt: in formalin since Thursday 20:00, Friday's evening run is inside and so is Monday's
// 06:00 on Tuesday no more; a laboratory whose only run on Friday is at noon wants the morning van.
func TestTheLastDepartureThatSavesIt(t *testing.T) {
	s := inFormalin(t, "2026-03-05 18:00")
	s.rules = rulesWithVans(t, strings.Replace(vans, `days = ["mon", "tue", "wed", "thu", "fri"]
cutoff = "17:30"`, `days = ["mon", "fri"]
cutoff = "17:30"`, 1))
	require.Equal(t, []string{"Fri 6 Mar 16:30:01 watch A", "Fri 6 Mar 17:00:01 now A", "Sun 8 Mar 18:00:01 today A"}, s.course(tracker.FlagFixationWillBeLong)[:3])
	// A long run every day takes it first; the evening run of Tuesdays, loaded later, is out earlier.
	s = inFormalin(t, "2026-03-02 09:00")
	s.rules = rulesWithVans(t, strings.Replace(vans, `[runs.evening]
place = "lab-processor"
days = ["mon", "tue", "wed", "thu", "fri"]
cutoff = "17:30"
load = "18:00"
leaves = "06:00"`, `[runs.long]
place = "lab-processor"
days = ["mon", "tue", "wed", "thu", "fri"]
cutoff = "17:15"
load = "17:20"
leaves = "12:00"
nights = 4
source = "invented"
[runs.evening]
place = "lab-processor"
days = ["tue"]
cutoff = "17:30"
load = "18:00"
leaves = "06:00"`, 1))
	require.Equal(t, []string{"Mon 2 Mar 09:00:00 watch A", "Tue 3 Mar 00:00:00 today A", "Tue 3 Mar 15:30:00 now A", "Thu 5 Mar 09:00:01 today A"},
		s.course(tracker.FlagFixationWillBeLong)[:4])
	f := s.flag(tracker.FlagFixationWillBeLong, "A", "2026-03-02 09:00")
	require.Contains(t, f.Remedy, "The last departure that keeps it inside is Tue 3 Mar 16:30, for the run loaded Tue 3 Mar 18:00")
	require.Equal(t, s.instant("2026-03-03 16:30"), f.Due.In(london))
}

// TestALatePotIsTooShort: in formalin since 16:00 and out at 20:00 is four hours; six are the least (F2). Held for the next
// day's run it is inside.
func TestALatePotIsTooShort(t *testing.T) {
	s := inFormalin(t, "2026-03-03 16:00")
	s.rules = rulesWithVans(t, strings.Replace(vans, `leaves = "06:00"`, `leaves = "20:00"`, 1))
	f := s.flag(tracker.FlagFixationWillBeShort, "A", "2026-03-03 16:00")
	require.Equal(t, tracker.Watch, f.Severity)
	require.Equal(t, "Pot A: with the next collections it makes the processor run loaded Tue 3 Mar 18:00 and leaves fixative Tue 3 Mar 20:00, after 4 h; the least for receptors is 6 h.", f.Text)
	require.Equal(t, "Ask the laboratory to hold it in fixative for the run loaded Wed 4 Mar 18:00, which it leaves Wed 4 Mar 20:00, after 28 h.", f.Remedy)
	require.Equal(t, []string{"Tue 3 Mar 16:00:00 watch A", "Tue 3 Mar 16:30:01 -"}, s.course(tracker.FlagFixationWillBeShort), "left behind by the van it makes tomorrow's run")
	s.at("2026-03-03 16:20").by("porter.ruun", "phone-1").handed("van", "A")
	s.at("2026-03-03 17:05").lab().handed("lab-reception", "A")
	require.Equal(t, []string{"Tue 3 Mar 16:00:00 watch A", "Tue 3 Mar 16:20:00 today A", "Tue 3 Mar 17:00:00 now A", "Tue 3 Mar 18:00:01 -"},
		s.course(tracker.FlagFixationWillBeShort), "beside a run that is too early, what counts is that it is not loaded with that")
	s.at("2026-03-03 17:20").loaded("A", "2026-03-03 20:00")
	require.Equal(t, []string{"Tue 3 Mar 16:00:00 watch A", "Tue 3 Mar 16:20:00 today A", "Tue 3 Mar 17:00:00 now A", "Tue 3 Mar 17:20:00 -"}, s.course(tracker.FlagFixationWillBeShort), "loaded: now it is too short")
	require.Contains(t, s.flags("case", "2026-03-03 17:21"), "now fixation-short A")
}

func TestForecastsAreSilentWithoutATimetable(t *testing.T) {
	s := inFormalin(t, "2026-03-06 12:00")
	rules, err := storyRules()
	require.NoError(t, err)
	s.rules = rules
	require.Empty(t, s.course(tracker.FlagFixationWillBeLong))
	s = inFormalin(t, "2026-03-06 12:00")
	s.at("2026-03-06 12:30").lost("A")
	require.Contains(t, s.flags("case", "2026-03-06 18:00"), "held fixation-will-be-long A by pot-lost")
}

// flowPot is a story with vans of a pot for flow cytometry, planned for an instant.
func flowPot(t *testing.T, planned string) *story {
	t.Helper()
	s := newStory(t)
	s.rules = rulesWithVans(t, vans)
	s.at("2026-03-02 09:00")
	s.request.Planned = s.instant(planned)
	s.opened(plan("A", "rpmi", "flow"))
	return s
}

// TestFreshTissueOfAFridayAfternoon: started within 24 hours (a regional handbook, C2), and the bench is open Mondays to
// Fridays: what leaves with Friday's 16:30 van is there at 17:05 and is started on Monday.
func TestFreshTissueOfAFridayAfternoon(t *testing.T) {
	s := flowPot(t, "2026-03-06 14:00")
	require.Equal(t, []string{"Mon 2 Mar 09:00:00 watch A", "Fri 6 Mar 09:30:00 now A", "Fri 6 Mar 14:00:00 -"}, s.course(tracker.FlagFreshLate))
	f := s.flag(tracker.FlagFreshLate, "A", "2026-03-05 12:00")
	require.Contains(t, f.Text, "taken as planned Fri 6 Mar 14:00 it must be started by Sat 7 Mar 14:00, within 24 h, and can be started only Mon 9 Mar 09:00")
	require.Contains(t, f.Remedy, "The last departure in time is Fri 6 Mar 10:30.")
	require.Empty(t, flowPot(t, "2026-03-05 14:00").course(tracker.FlagFreshLate), "on a Thursday all is well")

	s = flowPot(t, "2026-03-06 09:00")
	s.at("2026-03-06 08:40").checked()
	s.at("2026-03-06 09:00").taken("A01")
	s.at("2026-03-06 09:02").potted("A01")
	require.Equal(t, []string{"Fri 6 Mar 10:30:01 watch A", "Fri 6 Mar 11:00:01 now A"}, s.course(tracker.FlagFreshLate), "the van that would have saved it is gone")
	f = s.flag(tracker.FlagFreshLate, "A", "2026-03-06 10:31")
	require.Contains(t, f.Text, "must be started by Sat 7 Mar 09:00, within 24 h; with the next collections it can be started Mon 9 Mar 09:00")
	require.Contains(t, s.flag(tracker.FlagFreshLate, "A", "2026-03-07 09:00:01").Text, "it has not been")
	s.at("2026-03-06 10:20").by("porter.ruun", "phone-1").handed("van", "A")
	s.at("2026-03-06 11:05").lab().handed("lab-reception", "A")
	s.at("2026-03-06 12:00").counted("A", 1)
	require.Empty(t, s.course(tracker.FlagFreshLate), "started in time")
}

// TestFreshTissueWithoutATimetable: only the limit itself counts, to the second.
func TestFreshTissueWithoutATimetable(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "saline", "culture"))
	s.at("09:50").checked()
	s.at("10:00").taken("A01")
	require.Equal(t, []string{"Sat 7 Mar 10:00:01 now A"}, s.course(tracker.FlagFreshLate))
	warm := s.at("12:00:01").by("porter.ruun", "phone-1").handed("van", "A")
	degrees := 12.0
	warm.Data.(*tracker.CustodyTaken).TemperatureC = &degrees
	require.Equal(t, []string{"Fri 6 Mar 12:00:01 now A"}, s.course(tracker.FlagFreshLate))
	require.Contains(t, s.flag(tracker.FlagFreshLate, "A", "12:01").Text, "was at 12 °C on Fri 6 Mar 12:00:01; more than 2 h after it was taken it must be at 2 to 8 °C")
	warm.At = s.instant("12:00")
	require.Equal(t, []string{"Sat 7 Mar 10:00:01 now A"}, s.course(tracker.FlagFreshLate), "two hours it may be warm")
	warm.At = s.instant("13:00")
	degrees = 8
	require.Equal(t, []string{"Sat 7 Mar 10:00:01 now A"}, s.course(tracker.FlagFreshLate), "8 °C is cold enough")
}

// TestNoRoundBringsItInTime: in formalin since Friday 10:00, what missed Friday's last van is at the laboratory on Monday at
// 11:05; its 72 hours (F2) are over at 10:00, so somebody has to bring it. Two hours later a round would do.
func TestNoRoundBringsItInTime(t *testing.T) {
	f := inFormalin(t, "2026-03-06 10:00").flag(tracker.FlagFixationWillBeLong, "A", "2026-03-06 18:00")
	require.Equal(t, "The timetable alone does not keep it inside: bring it by hand to laboratory reception and have fixation ended there by Mon 9 Mar 10:00.", f.Remedy)
	require.Equal(t, tracker.Now, f.Severity)
	f = inFormalin(t, "2026-03-06 11:05").flag(tracker.FlagFixationWillBeLong, "A", "2026-03-06 18:00")
	require.Equal(t, "The timetable alone does not keep it inside: ask the laboratory to end fixation by hand by Mon 9 Mar 11:05.", f.Remedy)
	f = inFormalin(t, "2026-03-06 11:04").flag(tracker.FlagFixationWillBeLong, "A", "2026-03-06 18:00")
	require.Contains(t, f.Remedy, "ended there by Mon 9 Mar 11:04")
}

// TestInAVanItIsOnItsWayToItsOwnLaboratory: two rounds leave the hatch, the quicker one for another laboratory.
func TestInAVanItIsOnItsWayToItsOwnLaboratory(t *testing.T) {
	s := newStory(t)
	s.rules = rulesWithVans(t, strings.Replace(vans, `place = "lab-processor"`, `place = "lab-reception"`, 1)+`
[rounds.other]
from = "hatch"
to = "other-laboratory"
days = ["fri"]
departs = ["16:30"]
takes = "10m"
source = "invented"
`, "[places]\n", "[places]\nother-laboratory = { name = \"the other laboratory\", role = \"laboratory\" }\n")
	pot := plan("A", "formalin", "receptors")
	pot.To = "lab-reception"
	s.at("2026-03-06 16:00").opened(pot)
	s.checked()
	s.at("2026-03-06 16:05").taken("A01")
	s.potted("A01")
	s.at("2026-03-06 16:20").by("porter.ruun", "phone-1").handed("hatch", "A")
	s.at("2026-03-06 17:00").handed("van", "A")
	f := s.flag(tracker.FlagFixationWillBeLong, "A", "2026-03-06 17:00")
	require.Contains(t, f.Text, "makes the processor run loaded Mon 9 Mar 18:00", "35 minutes with its own round is after Friday's cut-off at 17:30")
}

// TestALoadedVanLeavesAtItsTime: a scan into the van at 15:50 is for the 16:30 one, which is there at 17:05, after a run whose
// cut-off is 17:00.
func TestALoadedVanLeavesAtItsTime(t *testing.T) {
	s := inFormalin(t, "2026-03-06 12:00")
	s.rules = rulesWithVans(t, strings.Replace(vans, `cutoff = "17:30"`, `cutoff = "17:00"`, 1))
	s.at("2026-03-06 15:50").by("porter.ruun", "phone-1").handed("van", "A")
	f := s.flag(tracker.FlagFixationWillBeLong, "A", "2026-03-06 15:50")
	require.Contains(t, f.Text, "loaded Mon 9 Mar 18:00")
	final := s.at("2026-03-10 12:00").lab().issued(tracker.StageFinal, "B2", "A")
	final.Data.(*tracker.ResultIssued).Studies = []string{"receptors"}
	s.none(tracker.FlagFixationWillBeLong, "2026-03-10 12:00") // reported: whoever scanned it, it was on the processor
}
