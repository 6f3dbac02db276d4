package tracker_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// TestWhoeverClosesWithAReasonKnewOfIt: a closing with a reason ends what asks for a reading, a meeting or a plan; one
// without a reason ends none of them.
func TestWhoeverClosesWithAReasonKnewOfIt(t *testing.T) {
	for _, tt := range []struct {
		kind     tracker.FlagKind
		category string
		critical bool
	}{{tracker.FlagResultCritical, "B5b", true}, {tracker.FlagNeedsMeeting, "B4", false}, {tracker.FlagSampleInadequate, "B1", false}} {
		for _, why := range []string{"", "her own hospital takes it on"} {
			s, final := reported(t, tt.category)
			final.Data.(*tracker.ResultIssued).Critical = tt.critical
			s.at("2026-03-11 18:00").doctor().closed("transferred", why)
			lines := s.flags("case", "2026-03-13 12:00")
			is := func(severity string) string { return severity + " " + string(tt.kind) + " case" }
			if why == "" {
				require.Subset(t, append(lines, is("now"), is("today")), lines)
				require.True(t, contains(lines, is("now")) || contains(lines, is("today")), "%s: %v", tt.kind, lines)
			} else {
				require.False(t, contains(lines, is("now")) || contains(lines, is("today")), "%s: %v", tt.kind, lines)
			}
		}
	}
}

func contains(lines []string, line string) bool {
	for _, one := range lines {
		if one == line {
			return true
		}
	}
	return false
}

// TestTwoCriticalResultsHoldTheirOwnReading: both are held back under one line, since a kind stands once on a thing.
func TestTwoCriticalResultsHoldTheirOwnReading(t *testing.T) {
	s, _ := critical(t)
	second := s.at("2026-03-11 12:00").lab().answeredStudies(tracker.StageFinal, []string{"flow"}, "A")
	second.Data.(*tracker.ResultIssued).Critical = true
	found := s.judge("case", s.instant("2026-03-16 12:00"))
	require.Equal(t, []string{"now result-critical case", "held result-unread case by result-critical"}, s.lines(found))
	require.Contains(t, found.Held[0].Text, "Wed 11 Mar 11:00")
	require.Contains(t, found.Held[0].Text, "Wed 11 Mar 12:00")
	require.Equal(t, s.name, found.Held[0].Case)
}

func TestTheDeadHaveNoPlan(t *testing.T) {
	s, _ := discussedPlan(t, "excise")
	s.at("2026-03-20 10:00").closed("died", "")
	require.Empty(t, s.course(tracker.FlagPlanNotDone))
	// A plan that named no results is superseded by any later one.
	s, _ = reported(t, "B3b")
	s.at("2026-03-12 10:00").doctor().discussed("concordant", "excise")
	s.at("2026-03-13 10:00").discussed("concordant", "review")
	require.Empty(t, s.course(tracker.FlagPlanNotDone))
}

// TestAPotThatIsNotOwedIsNotLeftOpen: a pot declared unused, and one refused with a plan since, have no answer to come.
func TestAPotThatIsNotOwedIsNotLeftOpen(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"), plan("B", "rpmi", "flow"))
	s.at("09:40").checked()
	s.at("10:00").taken("A01", "B01")
	s.at("10:01").potted("A01", "B01")
	s.at("16:00").lab().handed("lab-reception", "A", "B")
	s.at("16:10").refused("B", "leaked")
	final := s.at("2026-03-11 11:00").issued(tracker.StageFinal, "B2", "A")
	s.at("2026-03-12 09:00").doctor().seen(final)
	s.at("2026-03-12 10:00").told("telephone", final)
	s.at("2026-03-12 11:00").closed("review", "")
	require.Equal(t, []string{"Thu 12 Mar 11:00:00 today case"}, s.course(tracker.FlagCaseUnfinished), "flow has no answer")
	s.at("2026-03-12 10:30").discussed("concordant", "review", final)
	require.Empty(t, s.course(tracker.FlagCaseUnfinished), "with a plan since nothing more is owed for it")
}

// TestACancerWithoutCalciumIsNoDiscord: calcification was the target, none was seen, and the answer is malignant.
func TestACancerWithoutCalciumIsNoDiscord(t *testing.T) {
	for category, want := range map[string][]string{"B5a": {}, "B2": {"Wed 11 Mar 11:00:00 today case"}} {
		s := newStory(t)
		s.request.Lesions[0].Target, s.request.Lesions[0].Imaging = "calcification", ""
		s.opened(plan("A", "formalin", "histology"))
		s.at("10:00").taken("A01")
		s.at("10:01").potted("A01")
		s.at("10:05").record(&tracker.SpecimenImaged{Calcium: "not-seen"}, "A01")
		s.at("2026-03-11 11:00").lab().issued(tracker.StageFinal, category, "A")
		require.Equal(t, want, s.course(tracker.FlagDiscordant), category)
	}
}

// TestNothingForeseenSaysWhy: each reason for silence is a sentence, and none is taken for an answer.
func TestNothingForeseenSaysWhy(t *testing.T) {
	with := rulesWithVans(t, vans)
	without := defaultRules(t)
	why := func(rules *tracker.Rules, tell func(s *story)) string {
		s := inFormalin(t, "2026-03-06 12:00")
		tell(s)
		list := rules.Forecasts(tracker.Fold(s.name, s.events), "", s.instant("2026-03-06 12:30"))
		require.Len(t, list, 1)
		require.False(t, list[0].Known)
		require.Equal(t, tracker.Name(s.name+"-A"), list[0].Pot)
		return list[0].Why
	}
	require.Equal(t, "the protocol has no rounds and no processor runs", why(without, func(*story) {}))
	require.Equal(t, "it is on the processor already", why(with, func(s *story) { s.at("12:10").loaded("A", "") }))
	require.Equal(t, "it is on the processor already", why(with, func(s *story) { s.at("12:10").loaded("A01", "") }))
	require.Equal(t, "nobody said where it is", why(with, func(s *story) { s.at("12:10").handed("cellar", "A") }))
	require.Contains(t, why(with, func(s *story) { s.at("12:10").handed("lab-reception", "A"); s.events = s.events[:2] }), "no piece is known to be in fixative")
}

// TestAnEarlierFlagOfAnotherPieceIsNotThisOne: by the rules before, another core was late; this one only by the new ones.
func TestAnEarlierFlagOfAnotherPieceIsNotThisOne(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "receptors"))
	s.at("10:00").taken("A01")
	s.at("10:40").taken("A02")
	thirty := rulesWith(t, "[studies.receptors.to_fixation]\nspan = \"1h\"", "[studies.receptors.to_fixation]\nspan = \"30m\"")
	sixty := s.rules
	s.rules = thirty
	f := s.flag(tracker.FlagColdIschaemiaLong, "A02", "11:20")
	adoptions := []tracker.Adoption{{By: "default", Rules: sixty}, {When: s.instant("11:15"), By: "new", Rules: thirty}}
	require.Equal(t, "new", tracker.RaisedUnder(f, s.name, s.events, adoptions).By)
	f = s.flag(tracker.FlagColdIschaemiaLong, "A01", "11:20")
	require.Equal(t, "default", tracker.RaisedUnder(f, s.name, s.events, adoptions).By)
	unread := []tracker.Adoption{{By: "default"}, {When: s.instant("11:15"), By: "new", Rules: thirty}}
	require.Equal(t, "new", tracker.RaisedUnder(f, s.name, s.events, unread).By, "what held before cannot be read any more")
}

// TestARoomThatNobodyNamedIsWatchedNowhere: a check without its room is filed with its case alone.
func TestARoomThatNobodyNamedIsWatchedNowhere(t *testing.T) {
	s := newStory(t)
	e := s.record(&tracker.PatientChecked{Identifiers: []string{"name", "birth-date"}}, "case")
	require.Equal(t, []tracker.Name{s.name}, tracker.WatchedBy(e))
	e = s.record(&tracker.PatientChecked{Identifiers: []string{"name", "birth-date"}, Room: "a/room"}, "case")
	require.Equal(t, []tracker.Name{s.name}, tracker.WatchedBy(e), "its key would name another")
}
