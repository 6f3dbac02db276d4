package tracker_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// changedRules are the default's with something of one's own: the tests here are of how rules choose, not of numbers.
func changedRules(t *testing.T, change func(p *protocol.Protocol)) *tracker.Rules {
	t.Helper()
	p := protocol.Default()
	change(p)
	rules, err := tracker.NewRules(p, time.LoadLocation)
	require.NoError(t, err)
	return rules
}

func hours(n int) protocol.Span { return protocol.Span{Elapsed: time.Duration(n) * time.Hour} }

// withWindows gives studies windows of their own, in hours; 0 is no end.
func withWindows(t *testing.T, windows map[string][2]int) *tracker.Rules {
	t.Helper()
	return changedRules(t, func(p *protocol.Protocol) {
		for key, w := range windows {
			s := p.Studies[key]
			s.Window = &protocol.Window{Min: hours(w[0]), Max: hours(w[1]), Source: "the laboratory's own"}
			p.Studies[key] = s
		}
	})
}

// Contract page on flags, Edges: with several studies on a pot the strictest window of each kind holds, and the flag names
// the study.
func TestTheStrictestWindowOfEachKindHolds(t *testing.T) {
	windows := map[string][2]int{"histology": {0, 60}, "receptors": {8, 72}, "sequencing": {6, 48}, "stains": {10, 0}}
	tests := []struct {
		name    string
		studies []string
		spent   time.Duration
		kind    tracker.FlagKind // "" for none
		study   string
	}{
		{"long by the lower upper end, asked first", []string{"sequencing", "receptors"}, 50 * time.Hour, tracker.FlagFixationLong, "sequencing"},
		{"long by the lower upper end, asked last", []string{"receptors", "sequencing"}, 50 * time.Hour, tracker.FlagFixationLong, "sequencing"},
		{"short by the higher lower end, asked first", []string{"receptors", "sequencing"}, 7 * time.Hour, tracker.FlagFixationShort, "receptors"},
		{"short by the higher lower end, asked last", []string{"sequencing", "receptors"}, 7 * time.Hour, tracker.FlagFixationShort, "receptors"},
		{"each end from another study", []string{"histology", "stains"}, 9 * time.Hour, tracker.FlagFixationShort, "stains"},
		{"each end from another study, the upper", []string{"stains", "histology"}, 61 * time.Hour, tracker.FlagFixationLong, "histology"},
		{"no lower end is never short", []string{"histology"}, time.Second, "", ""},
		{"no upper end is never long", []string{"stains"}, 5000 * time.Hour, "", ""},
		{"not a minute in it is short", []string{"receptors"}, 0, tracker.FlagFixationShort, "receptors"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			s.rules = withWindows(t, windows)
			s.opened(plan("A", "formalin", tt.studies...))
			s.at("10:00").taken("A01")
			s.potted("A01")
			s.clock = s.clock.Add(tt.spent)
			s.loaded("A", "")
			if tt.kind == "" {
				require.Empty(t, s.fixationNow())
				return
			}
			require.Equal(t, "now "+string(tt.kind)+" A", s.fixationNow())
			f := s.flag(tt.kind, "A", s.clock.Format(rfc3339))
			require.Contains(t, f.Text, "for "+s.rules.Protocol().Studies[tt.study].Name+" is")
			require.Equal(t, s.rules.Protocol().Cite("studies."+tt.study+".window"), f.Basis)
		})
	}
}

// Of equal ends the study that was asked for first is named, so that the text does not change with what is added.
func TestOfEqualWindowsTheFirstIsNamed(t *testing.T) {
	for _, studies := range [][]string{{"receptors", "sequencing"}, {"sequencing", "receptors"}} {
		for spent, kind := range map[time.Duration]tracker.FlagKind{5 * time.Hour: tracker.FlagFixationShort, 73 * time.Hour: tracker.FlagFixationLong} {
			s := newStory(t)
			s.rules = withWindows(t, map[string][2]int{"receptors": {6, 72}, "sequencing": {6, 72}})
			s.opened(plan("A", "formalin", studies...))
			s.at("10:00").taken("A01")
			s.potted("A01")
			s.clock = s.clock.Add(spent)
			s.loaded("A", "")
			require.Contains(t, s.flag(kind, "A", s.clock.Format(rfc3339)).Text, "for "+studies[0]+" is")
		}
	}
}

// Where several pieces of a pot are outside, the flag gives the one that is furthest out, whatever its number.
func TestTheFlagGivesThePieceFurthestOut(t *testing.T) {
	for name, potted := range map[string][3]string{
		"in order":    {"10:00", "10:20", "10:40"},
		"the reverse": {"10:40", "10:20", "10:00"},
		"the middle":  {"10:20", "10:40", "10:00"},
		"one more":    {"10:20", "10:00", "10:40"},
	} {
		for out, want := range map[string]string{"12:00": "from Fri 6 Mar 10:40 to", "2026-03-12 12:00": "from Fri 6 Mar 10:00 to"} {
			s := newStory(t)
			s.opened(plan("A", "formalin", "receptors"))
			s.at("09:58").taken("A01", "A02", "A03")
			for i, at := range potted {
				s.at("2026-03-06 " + at).potted([]string{"A01", "A02", "A03"}[i])
			}
			s.at(out).loaded("A", "")
			kind := tracker.FlagFixationShort
			if out != "12:00" {
				kind = tracker.FlagFixationLong
			}
			require.Contains(t, s.flag(kind, "A", s.clock.Format(rfc3339)).Text, want, name)
		}
	}
}

// Contract page on flags, Edges: of several studies the strictest time to fixation holds.
func TestTheStrictestTimeToFixationHolds(t *testing.T) {
	rules := changedRules(t, func(p *protocol.Protocol) {
		s := p.Studies["sequencing"] // today, never now
		limit := *s.ToFixation
		limit.Span = protocol.Span{Elapsed: 30 * time.Minute}
		s.ToFixation = &limit
		p.Studies["sequencing"] = s
	})
	tests := []struct {
		name    string
		studies []string
		want    string
		study   string
	}{
		{"the shorter, asked first", []string{"sequencing", "receptors"}, "Fri 6 Mar 16:12:01 today A01", "sequencing"},
		{"the shorter, asked last", []string{"receptors", "sequencing"}, "Fri 6 Mar 16:12:01 today A01", "sequencing"},
		{"of equal ones the urgent, asked first", []string{"receptors", "histology"}, "Fri 6 Mar 16:42:01 now A01", "receptors"},
		{"of equal ones the urgent, asked last", []string{"histology", "receptors"}, "Fri 6 Mar 16:42:01 now A01", "receptors"},
		{"of equal ones that are not urgent the first", []string{"stains", "histology"}, "Fri 6 Mar 16:42:01 today A01", "stains"},
		{"a longer urgent one says nothing yet", []string{"sequencing", "receptors", "histology"}, "Fri 6 Mar 16:12:01 today A01", "sequencing"},
		{"studies without a time do not matter", []string{"electron", "receptors", "thyroglobulin"}, "Fri 6 Mar 16:42:01 now A01", "receptors"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			s.rules = rules
			s.opened(plan("A", "formalin", tt.studies...))
			s.at("15:42").taken("A01")
			require.Equal(t, []string{tt.want}, s.course(tracker.FlagColdIschaemiaLong))
			require.Equal(t, rules.Protocol().Cite("studies."+tt.study+".to_fixation"), s.flag(tracker.FlagColdIschaemiaLong, "A01", "16:42:01").Basis)
		})
	}
}

// Two urgent studies of the same limit: the first is named.
func TestOfEqualUrgentLimitsTheFirstIsNamed(t *testing.T) {
	rules := changedRules(t, func(p *protocol.Protocol) {
		s := p.Studies["sequencing"]
		s.OnlyToday = false
		p.Studies["sequencing"] = s
	})
	for _, studies := range [][]string{{"receptors", "sequencing"}, {"sequencing", "receptors"}} {
		s := newStory(t)
		s.rules = rules
		s.opened(plan("A", "formalin", studies...))
		s.at("15:42").taken("A01")
		require.Contains(t, s.flag(tracker.FlagColdIschaemiaLong, "A01", "16:42:01").Text, "for "+studies[0]+" is")
	}
}

// The flag dates from the limit, not from when the piece went in.
func TestColdIschaemiaDatesFromTheLimit(t *testing.T) {
	s := inTheRoom(t)
	s.at("17:00").potted("A01")
	f := s.flag(tracker.FlagColdIschaemiaLong, "A01", "17:00")
	require.Equal(t, s.instant("16:42"), f.Since.In(london))
	require.Zero(t, f.Due, "nothing can be put right any more")
	s.at("17:00").answered(tracker.FlagColdIschaemiaLong, "A01")
	s.none(tracker.FlagColdIschaemiaLong, "17:00") // answered in the very second it went in
}

// A missing time is unknown: it satisfies no window and breaks none.
func TestAPieceWithoutTimesHasNoTimeInFixative(t *testing.T) {
	for name, tell := range map[string]func(s *story){
		"loaded and nothing else": func(s *story) { s.at("15:00").loaded("A02", "") },
		"taken and loaded":        func(s *story) { s.at("10:00").taken("A02"); s.at("15:00").loaded("A02", "") },
		"potted before it was taken": func(s *story) {
			s.at("10:00").potted("A02")
			s.at("11:00").taken("A02")
			s.at("12:00").loaded("A02", "")
		},
		"potted and not loaded":         func(s *story) { s.at("10:00").taken("A02"); s.potted("A02") },
		"loaded before it was potted":   func(s *story) { s.at("09:59").loaded("A02", ""); s.at("10:00").taken("A02"); s.potted("A02") },
		"loaded when nobody planned it": func(s *story) { s.at("10:00").taken("B01"); s.potted("B01"); s.at("11:00").loaded("B01", "") },
	} {
		s := newStory(t)
		s.opened(plan("A", "formalin", "receptors"))
		tell(s)
		require.Empty(t, s.fixationNow(), name)
	}
}

// What a piece went into counts for that piece, not what its neighbour went into.
func TestEachPieceFixesInItsOwnMedium(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "receptors"))
	s.at("10:00").taken("A01", "A02")
	s.at("10:05").record(&tracker.PiecePotted{Medium: "saline"}, "A01")
	s.at("10:06").record(&tracker.PiecePotted{Medium: "formalin"}, "A02")
	s.at("11:00").loaded("A01", "")
	require.Empty(t, s.fixationNow(), "in saline there is no time in fixative")
	s.at("11:30").loaded("A02", "")
	require.Contains(t, s.flag(tracker.FlagFixationShort, "A", "11:30").Text, "10:06")
}

// A piece taken at once into its pot is no error of clocks.
func TestAPieceMayBePottedInTheSecondItIsTaken(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "receptors"))
	s.at("10:00").taken("A01")
	s.potted("A01")
	s.at("11:00").loaded("A01", "")
	require.Equal(t, "now fixation-short A", s.fixationNow())
}
