package tracker_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// fixationNow is the flag on the time in fixative at the story's clock, or "".
func (s *story) fixationNow() string {
	s.t.Helper()
	got := ""
	for _, f := range s.judge("case", s.clock).Flags {
		if f.Kind == tracker.FlagFixationShort || f.Kind == tracker.FlagFixationLong {
			got += s.line(f)
		}
	}
	return got
}

// On a night with a clock change the window counts what passed.
func TestTheFixationWindowIsElapsedTime(t *testing.T) {
	tests := []struct {
		name, potted, out, want string
	}{
		{"spring: 6 h by the wall clock are 5", "2026-03-28T23:00:00Z", "2026-03-29T05:00:00+01:00", "now fixation-short A"},
		{"spring: 7 h by the wall clock are 6", "2026-03-28T23:00:00Z", "2026-03-29T06:00:00+01:00", ""},
		{"spring: a second less", "2026-03-28T23:00:00Z", "2026-03-29T05:59:59+01:00", "now fixation-short A"},
		{"autumn: 5 h by the wall clock are 6", "2026-10-24T23:00:00+01:00", "2026-10-25T04:00:00Z", ""},
		{"autumn: a second less", "2026-10-24T23:00:00+01:00", "2026-10-25T03:59:59Z", "now fixation-short A"},
		{"autumn: 72 h by the wall clock are 73", "2026-10-23T12:00:00+01:00", "2026-10-26T12:00:00Z", "now fixation-long A"},
		{"autumn: 71 h by the wall clock are 72", "2026-10-23T12:00:00+01:00", "2026-10-26T11:00:00Z", ""},
		{"spring: 72 h by the wall clock are 71", "2026-03-27T12:00:00Z", "2026-03-30T12:00:00+01:00", ""},
		{"spring: 73 h by the wall clock and a second", "2026-03-27T12:00:00Z", "2026-03-30T13:00:01+01:00", "now fixation-long A"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			s.opened(plan("A", "formalin", "receptors"))
			s.at(tt.potted).taken("A01")
			s.potted("A01")
			s.at(tt.out).loaded("A", "")
			require.Equal(t, tt.want, s.fixationNow())
		})
	}
}

// Windows are closed. Sources: receptors 6 to 72 h, ASCO/CAP 2011 FAQ item 3; sequencing 6 to 48 h, Japanese Society of
// Pathology, recommendations 1.6 to 1.11.
func TestFixationWindowsAreClosed(t *testing.T) {
	tests := []struct {
		name    string
		studies []string
		potted  string // on 2 March
		out     string
		want    string // kind, "" for none
		names   string // the study that the flag names
	}{
		{"5:59:59", []string{"receptors"}, "10:00", "2026-03-02 15:59:59", "fixation-short", "receptors"},
		{"6:00:00", []string{"receptors"}, "10:00", "2026-03-02 16:00:00", "", ""},
		{"6:00:01", []string{"receptors"}, "10:00", "2026-03-02 16:00:01", "", ""},
		{"71:59:59", []string{"receptors"}, "10:00", "2026-03-05 09:59:59", "", ""},
		{"72:00:00", []string{"receptors"}, "10:00", "2026-03-05 10:00:00", "", ""},
		{"72:00:01", []string{"receptors"}, "10:00", "2026-03-05 10:00:01", "fixation-long", "receptors"},
		{"sequencing 48:00:00", []string{"sequencing"}, "10:00", "2026-03-04 10:00:00", "", ""},
		{"sequencing 48:00:01", []string{"sequencing"}, "10:00", "2026-03-04 10:00:01", "fixation-long", "sequencing"},
		{"the strictest of several holds", []string{"histology", "receptors", "sequencing"}, "10:00", "2026-03-04 10:00:01", "fixation-long", "sequencing"},
		{"histology and stains have no window", []string{"histology", "stains"}, "10:00", "2026-03-02 10:30:00", "", ""},
		{"nor an upper end", []string{"histology", "stains"}, "10:00", "2026-03-20 10:30:00", "", ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			s.at("2026-03-01 09:00").opened(plan("A", "formalin", tt.studies...))
			s.at("2026-03-02 " + tt.potted).taken("A01")
			s.potted("A01")
			s.at(tt.out).loaded("A", "")
			if tt.want == "" {
				s.none(tracker.FlagFixationShort, tt.out)
				s.none(tracker.FlagFixationLong, tt.out)
				return
			}
			f := s.flag(tracker.FlagKind(tt.want), "A", tt.out)
			require.Contains(t, f.Text, s.rules.Protocol().Studies[tt.names].Name)
			require.NotEmpty(t, f.Basis)
		})
	}
}

// loadedShort is a story of a pot that left formalin after three hours, loaded at 18:10.
func loadedShort(t *testing.T) *story {
	t.Helper()
	s := inTheRoom(t)
	s.at("15:45").potted("A01")
	s.at("18:10").by("lab.reed", "lab-1").loaded("A", "18:45")
	return s
}

func TestFixationIsUrgentForAnHourAfterLoading(t *testing.T) {
	tests := []struct {
		name string
		then func(s *story)
		want []string
	}{
		{"now, then today", func(*story) {}, []string{"Fri 6 Mar 18:10:00 now A", "Fri 6 Mar 19:10:00 today A"}},
		{"answered too early", func(s *story) { s.at("19:09:59").answered(tracker.FlagFixationShort, "A") },
			[]string{"Fri 6 Mar 18:10:00 now A", "Fri 6 Mar 19:10:00 today A"}},
		{"answered at the hour", func(s *story) { s.at("19:10").answered(tracker.FlagFixationShort, "A") },
			[]string{"Fri 6 Mar 18:10:00 now A", "Fri 6 Mar 19:10:00 -"}},
		{"answered later", func(s *story) { s.at("20:00").answered(tracker.FlagFixationShort, "A") },
			[]string{"Fri 6 Mar 18:10:00 now A", "Fri 6 Mar 19:10:00 today A", "Fri 6 Mar 20:00:00 -"}},
		{"an answer for the piece is not one for the pot", func(s *story) { s.at("20:00").answered(tracker.FlagFixationShort, "A01") },
			[]string{"Fri 6 Mar 18:10:00 now A", "Fri 6 Mar 19:10:00 today A"}},
		{"it came out of the run: struck and loaded again", func(s *story) {
			s.at("18:30").struck(s.events[len(s.events)-1])
			s.at("22:00").loaded("A", "2026-03-07 02:00")
		}, []string{"Fri 6 Mar 18:10:00 now A", "Fri 6 Mar 18:30:00 -"}},
		{"loaded again without a strike: the earliest loading counts", func(s *story) { s.at("22:00").loaded("A", "2026-03-07 02:00") },
			[]string{"Fri 6 Mar 18:10:00 now A", "Fri 6 Mar 19:10:00 today A"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := loadedShort(t)
			tt.then(s)
			require.Equal(t, tt.want, s.course(tracker.FlagFixationShort))
		})
	}
	f := loadedShort(t).flag(tracker.FlagFixationShort, "A", "18:30")
	s := loadedShort(t)
	require.Equal(t, s.instant("18:10"), f.Since.In(london))
	require.Equal(t, s.instant("19:10"), f.Due.In(london), "the end of the hour in which it can still come out")
	require.Equal(t, "laboratory", f.Who)
	for _, number := range []string{"15:45", "18:45", "3 h", "6 h"} {
		require.Contains(t, f.Text, number)
	}
	require.Contains(t, f.Basis, "ASCO/CAP")
	require.Contains(t, s.flag(tracker.FlagFixationShort, "A", "19:10").Remedy, "report")
}

// Short is judged by the pot's last piece in, long by its first.
func TestFixationIsJudgedByTheLastPieceInOrTheFirst(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "receptors"))
	s.at("10:00").taken("A01", "A02")
	s.at("10:05").potted("A01")
	s.at("10:30").potted("A02")
	s.at("16:10").loaded("A", "")
	f := s.flag(tracker.FlagFixationShort, "A", "16:10")
	require.Contains(t, f.Text, "10:30")
	require.Contains(t, f.Text, "5 h 40 min")

	s = newStory(t)
	s.opened(plan("A", "formalin", "receptors"))
	s.at("10:00").taken("A01", "A02")
	s.at("10:05").potted("A01")
	s.at("10:30").potted("A02")
	s.at("2026-03-09 10:10").loaded("A", "")
	f = s.flag(tracker.FlagFixationLong, "A", "2026-03-09 10:10")
	require.Contains(t, f.Text, "10:05")
	require.Contains(t, f.Text, "72 h 5 min")
	require.Equal(t, []string{"Mon 9 Mar 10:10:00 now A", "Mon 9 Mar 11:10:00 today A"}, s.course(tracker.FlagFixationLong))
	s.at("2026-03-09 12:00").answered(tracker.FlagFixationLong, "A")
	require.Equal(t, []string{"Mon 9 Mar 10:10:00 now A", "Mon 9 Mar 11:10:00 today A", "Mon 9 Mar 12:00:00 -"}, s.course(tracker.FlagFixationLong))
}

func TestFixationStartsAndEndsWhereThePageSays(t *testing.T) {
	tests := []struct {
		name string
		tell func(s *story)
		want string
	}{
		{"a piece loaded by itself ends its own time only", func(s *story) {
			s.at("14:00").loaded("A01", "")
			s.at("14:30").loaded("A", "20:00")
		}, "now fixation-short A"},
		{"formalin after the piece: the start is the filling", func(s *story) {
			s.at("10:50").filled("A", "formalin")
			s.at("16:30").loaded("A", "")
		}, "now fixation-short A"},
		{"formalin before the piece: the start is the potting", func(s *story) {
			s.at("09:50").filled("A", "formalin").Record.Recorded = s.instant("10:06")
			s.at("16:05").loaded("A", "")
		}, ""},
		{"said to leave formalin later than loaded", func(s *story) { s.at("15:00").loaded("A", "16:05") }, ""},
		{"in a medium that does not fix there is no time in fixative", func(s *story) {
			s.at("10:04").filled("A", "saline").Record.Recorded = s.instant("10:06")
			s.at("11:00").loaded("A", "")
		}, ""},
		{"ended before it began: unknown, and the clock is doubtful", func(s *story) { s.at("11:00").loaded("A", "10:00") }, ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			s.opened(plan("A", "formalin", "receptors"))
			s.at("10:00").taken("A01")
			s.at("10:05").potted("A01")
			tt.tell(s)
			got := s.fixationNow()
			require.Equal(t, tt.want, got)
		})
	}
}

// A laboratory may set a floor of its own where the default has none.
func TestALaboratoryMayWantALeastTimeForHistology(t *testing.T) {
	p := protocol.Default()
	histology := p.Studies["histology"]
	histology.Window = &protocol.Window{Min: protocol.Span{Elapsed: 4 * time.Hour}, Source: "the laboratory's own"}
	p.Studies["histology"] = histology
	rules, err := tracker.NewRules(p, time.LoadLocation)
	require.NoError(t, err)
	tests := []struct{ out, want string }{
		{"2026-03-06 13:59:59", "now fixation-short A"},
		{"2026-03-06 14:00:00", ""},
		{"2026-03-16 14:00:00", ""},
	}
	for _, tt := range tests {
		s := newStory(t)
		s.rules = rules
		s.opened(plan("A", "formalin", "histology"))
		s.at("10:00").taken("A01")
		s.potted("A01")
		s.at(tt.out).loaded("A", "")
		got := s.fixationNow()
		require.Equal(t, tt.want, got, tt.out)
	}
}

// The run's own time in the protocol ends fixation where the laboratory did not say when it left formalin.
func TestFixationEndsWhenTheRunLeavesFormalin(t *testing.T) {
	p := protocol.Default()
	p.Runs = map[string]protocol.Run{"evening": {Place: "lab-processor", Cutoff: "17:30", Load: "18:00", Leaves: "02:00"}}
	rules, err := tracker.NewRules(p, time.LoadLocation)
	require.NoError(t, err)
	tests := []struct{ name, potted, loaded, want string }{
		{"the night after loading", "2026-03-06 20:00", "2026-03-06 21:00", ""},
		{"the night after loading, a second short", "2026-03-06 20:00:01", "2026-03-06 21:00", "now fixation-short A"},
		{"loaded after midnight: the same night", "2026-03-06 20:00:01", "2026-03-07 01:30", "now fixation-short A"},
		{"loaded after it left: the next night", "2026-03-04 01:59:59", "2026-03-06 02:00", "now fixation-long A"},
		{"the next night, just in time", "2026-03-04 02:00", "2026-03-06 02:00", ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			s.rules = rules
			s.at("2026-03-01 09:00").opened(plan("A", "formalin", "receptors"))
			s.at(tt.potted).taken("A01")
			s.potted("A01")
			s.at(tt.loaded).record(&tracker.LabLoaded{Run: "evening"}, "A")
			got := s.fixationNow()
			require.Equal(t, tt.want, got)
			s.none(tracker.FlagProtocolGap, tt.loaded)
		})
	}
}
