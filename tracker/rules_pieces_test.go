package tracker_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// look is a 14 gauge core of 18 mm that looks so.
func (s *story) look(piece, look string) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.PieceTaken{Lesion: "L1", What: "core", Gauge: 14, LengthMM: 18, Look: look}, piece)
}

// pass is an aspirate, slide or rinse of a numbered pass; 0 is no number.
func (s *story) pass(piece, what string, pass int, look string) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.PieceTaken{Lesion: "L1", What: what, Pass: pass, Gauge: 25, Look: look}, piece)
}

func (s *story) microscopy(adequate bool, thing string) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.AdequacyChecked{Lesion: "L1", Adequate: &adequate}, thing)
}

func (s *story) ended(outcome string, unused ...string) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.ProcedureEnded{Outcome: outcome, Unused: unused}, "case")
}

// telling is a story from where others begin to wherever it is told, and the course that one kind of flag takes in it.
type telling struct {
	name string
	tell func(s *story)
	want []string
}

func tellAll(t *testing.T, kind tracker.FlagKind, begin func(t *testing.T) *story, tellings []telling) {
	t.Helper()
	for _, tt := range tellings {
		t.Run(tt.name, func(t *testing.T) {
			s := begin(t)
			tt.tell(s)
			require.Equal(t, tt.want, s.course(kind))
		})
	}
}

// breastCase is opened and checked, with one pot for its mass.
func breastCase(t *testing.T) *story {
	s := newBreastStory(t)
	s.at("08:00").opened(plan("A", "formalin", "histology"))
	s.at("09:55").checked()
	return s
}

// Source of the numbers: breast 4 (Fishman 2003), calcification 6 (Liberman 1994), node 3, thyroid 2 passes: contract page 3.
func TestFewPiecesAreSaidWhileThePatientIsThere(t *testing.T) {
	tellAll(t, tracker.FlagPiecesFew, breastCase, []telling{
		{"four come one after another", func(s *story) {
			s.at("10:00").taken("A01")
			s.at("10:02").taken("A02")
			s.at("10:04").taken("A03")
			s.at("10:06").taken("A04")
			s.at("10:10").sealed("A", "nurse.lund", 4)
		}, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:06:00 -"}},
		{"three, and the lid goes on; the room is cleared; the laboratory answers", func(s *story) {
			s.at("10:00").taken("A01", "A02", "A03")
			s.at("10:10").sealed("A", "nurse.lund", 3)
			s.at("10:20").cleared()
			s.at("2026-03-09 11:00").issued(tracker.StageProvisional, "B2", "A")
			s.at("2026-03-10 11:00").issued(tracker.StageFinal, "B2", "A")
		}, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:10:00 now A", "Fri 6 Mar 10:20:00 watch A", "Tue 10 Mar 11:00:00 -"}},
		{"the procedure ends before the lid", func(s *story) {
			s.at("10:00").taken("A01")
			s.at("10:09").ended("done")
			s.at("10:10").sealed("A", "nurse.lund", 1)
		}, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:09:00 now A"}},
		{"one more after all", func(s *story) {
			s.at("10:00").taken("A01", "A02", "A03")
			s.at("10:10").sealed("A", "nurse.lund", 3)
			s.at("10:12").taken("A04")
		}, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:10:00 now A", "Fri 6 Mar 10:12:00 -"}},
		{"poor ones do not count: two of five", func(s *story) {
			s.at("10:00").taken("A01", "A02", "A03")
			s.at("10:02").look("A04", "grey-brown")
			s.at("10:03").look("A05", "blood-only")
			s.at("10:04").taken("A06")
		}, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:04:00 -"}},
		{"a piece cut from another counts once", func(s *story) {
			s.at("10:00").taken("A01", "A02", "A03")
			s.at("10:05").record(&tracker.PieceTaken{Lesion: "L1", What: "core", From: s.thing("A01").Name}, "A04")
			s.at("10:06").taken("A05")
		}, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:06:00 -"}},
		{"parts of a core that nobody recorded count once", func(s *story) {
			s.at("10:00").taken("A01", "A02")
			s.at("10:03").record(&tracker.SpecimenImaged{Calcium: "not-seen"}, "A09")
			for _, half := range []string{"A04", "A05"} {
				s.at("10:05").record(&tracker.PieceTaken{Lesion: "L1", What: "core", From: s.thing("A09").Name}, half)
			}
			s.at("10:07").taken("A06")
		}, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:07:00 -"}},
		{"a core said to be cut from itself counts", func(s *story) {
			s.at("10:00").taken("A01", "A02", "A03")
			s.at("10:05").record(&tracker.PieceTaken{Lesion: "L1", What: "core", From: s.thing("A04").Name}, "A04")
		}, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:05:00 -"}},
		{"the end is recorded after the room was cleared", func(s *story) {
			s.at("10:00").taken("A01")
			s.at("10:10").sealed("A", "nurse.lund", 1)
			s.at("10:20").cleared()
			s.at("10:25").ended("done")
		}, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:10:00 now A", "Fri 6 Mar 10:20:00 watch A"}},
		{"a core that was potted and not recorded as taken counts", func(s *story) {
			s.at("10:00").taken("A01", "A02", "A03")
			s.at("10:05").potted("A04")
		}, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:05:00 -"}},
		{"on-site microscopy finds them adequate, then not", func(s *story) {
			s.at("10:00").taken("A01", "A02")
			s.at("10:05").microscopy(true, "case")
			s.at("10:10").sealed("A", "nurse.lund", 2)
			s.at("10:15").microscopy(false, "case")
		}, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:05:00 -", "Fri 6 Mar 10:15:00 now A"}},
		{"enough, on-site microscopy finds them not adequate, one more is taken", func(s *story) {
			s.at("10:00").taken("A01", "A02", "A03", "A04")
			s.at("10:05").microscopy(false, "case")
			s.at("10:07").taken("A05")
		}, []string{"Fri 6 Mar 10:05:00 watch A", "Fri 6 Mar 10:07:00 -"}},
		{"one of four is found not adequate", func(s *story) {
			s.at("10:00").taken("A01", "A02", "A03", "A04")
			s.at("10:05").microscopy(false, "A02")
			s.at("10:07").taken("A05")
		}, []string{"Fri 6 Mar 10:05:00 watch A", "Fri 6 Mar 10:07:00 -"}},
		{"one of five is found not adequate", func(s *story) {
			s.at("10:00").taken("A01", "A02", "A03", "A04", "A05")
			s.at("10:05").microscopy(false, "A02")
		}, []string{}},
		{"potted into a pot that nobody planned, and not recorded as taken", func(s *story) {
			s.at("10:00").record(&tracker.PiecePotted{Pot: s.thing("D").Name}, "A01")
		}, []string{}},
		{"said to be done after a room that was cleared before", func(s *story) {
			s.at("09:58").cleared()
			s.at("10:10").ended("done")
		}, []string{"Fri 6 Mar 10:10:00 now A"}},
		{"nothing taken, not done", func(s *story) { s.at("10:10").ended("not-done") }, []string{}},
		{"nothing taken, and said to be done", func(s *story) {
			s.at("10:10").ended("done")
			s.at("10:20").cleared()
		}, []string{"Fri 6 Mar 10:10:00 now A", "Fri 6 Mar 10:20:00 watch A"}},
		{"its pot is said not to have been used", func(s *story) { s.at("10:10").ended("partly", "A") }, []string{}},
		{"loose cores that nobody scanned are read aloud", func(s *story) { s.at("10:10").sealed("A", "nurse.lund", 4) }, []string{}},
		{"too few are read aloud", func(s *story) { s.at("10:10").sealed("A", "nurse.lund", 2) }, []string{"Fri 6 Mar 10:10:00 now A"}},
		{"nobody counted: not guessed", func(s *story) {
			s.at("10:10").sealed("A", "nurse.lund", -1)
			s.at("10:11").ended("done")
		}, []string{}},
		{"closed", func(s *story) {
			s.at("10:00").taken("A01")
			s.at("10:10").closed("withdrawn", "")
		}, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:10:00 -"}},
		{"the fourth is struck", func(s *story) {
			s.at("10:00").taken("A01", "A02", "A03")
			fourth := s.at("10:05").taken("A04")
			s.at("10:08").struck(fourth)
		}, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:05:00 -", "Fri 6 Mar 10:08:00 watch A"}},
	})
}

func TestOnePotsLidEndsNothingWhileAnotherIsOpen(t *testing.T) {
	begin := func(t *testing.T) *story {
		s := newBreastStory(t)
		s.at("08:00").opened(plan("A", "formalin", "histology"), plan("B", "rpmi", "flow"))
		s.at("09:55").checked()
		s.at("10:00").taken("A01", "A02")
		s.at("10:05").sealed("A", "nurse.lund", 2)
		return s
	}
	tellAll(t, tracker.FlagPiecesFew, begin, []telling{
		{"the rest goes into the other", func(s *story) {
			s.at("10:06").taken("B01")
			s.at("10:07").taken("B02")
			s.at("10:08").sealed("B", "nurse.lund", 2)
		}, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:07:00 -"}},
		{"its lid goes on too soon", func(s *story) {
			s.at("10:06").taken("B01")
			s.at("10:08").sealed("B", "nurse.lund", 1)
		}, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:08:00 now A"}},
		{"it is not used", func(s *story) { s.at("10:09").ended("done", "B") }, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:09:00 now A"}},
	})
}

func TestWhatIsCountedDependsOnOrganTargetAndNeedle(t *testing.T) {
	of := func(organ, target string) func(t *testing.T) *story {
		return func(t *testing.T) *story {
			s := newBreastStory(t)
			s.request.Lesions[0].Organ, s.request.Lesions[0].Target = organ, target
			s.at("08:00").opened(plan("A", "formalin", "histology"))
			s.at("09:55").checked()
			return s
		}
	}
	cores := func(s *story) {
		for i, piece := range []string{"A01", "A02", "A03", "A04", "A05", "A06"} {
			s.at("10:0" + string(rune('0'+i))).taken(piece)
		}
	}
	for _, tt := range []struct{ organ, target, enough string }{
		{"breast", "mass", "10:03"}, {"breast", "calcification", "10:05"}, {"axillary-node", "node", "10:02"}, {"node", "node", "10:02"}, {"soft-tissue", "mass", "10:03"},
	} {
		tellAll(t, tracker.FlagPiecesFew, of(tt.organ, tt.target), []telling{{tt.organ + " " + tt.target, cores,
			[]string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar " + tt.enough + ":00 -"}}})
	}
	tellAll(t, tracker.FlagPiecesFew, of("other", "mass"), []telling{{"other asks for none", cores, []string{}}})
	tellAll(t, tracker.FlagPiecesFew, of("liver", "mass"), []telling{{"an organ that the protocol lacks", cores, []string{}}})
	tellAll(t, tracker.FlagPiecesFew, of("thyroid", "mass"), []telling{
		{"two slides of one pass are one", func(s *story) {
			s.at("10:00").pass("A01", "slide", 1, "")
			s.at("10:01").pass("A02", "slide", 1, "")
			s.at("10:05").pass("A03", "slide", 2, "")
		}, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:05:00 -"}},
		{"aspirates without a number are a pass each", func(s *story) {
			s.at("10:00").pass("A01", "aspirate", 0, "")
			s.at("10:05").pass("A02", "aspirate", 0, "")
		}, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:05:00 -"}},
		{"a pass of blood alone is none", func(s *story) {
			s.at("10:00").pass("A01", "aspirate", 1, "")
			s.at("10:05").pass("A02", "aspirate", 2, "blood-only")
			s.at("10:08").pass("A03", "aspirate", 3, "")
		}, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:08:00 -"}},
		{"a pass counts by the slide that is good", func(s *story) {
			s.at("10:00").pass("A01", "slide", 1, "blood-only")
			s.at("10:01").pass("A02", "slide", 1, "")
			s.at("10:05").pass("A03", "slide", 2, "")
			s.at("10:06").pass("A04", "slide", 2, "")
			s.at("10:07").microscopy(false, "A03")
			s.at("10:08").record(&tracker.AdequacyChecked{Lesion: "L9", Adequate: new(bool)}, "case")
		}, []string{"Fri 6 Mar 10:00:00 (watch A by pieces-poor)", "Fri 6 Mar 10:01:00 watch A", "Fri 6 Mar 10:05:00 -"}},
		{"a pass of another lesion is none of this one", func(s *story) {
			s.at("10:00").record(&tracker.PieceTaken{Lesion: "L2", What: "slide", Pass: 1}, "A01")
			s.at("10:01").pass("A02", "slide", 1, "")
			s.at("10:05").pass("A03", "slide", 2, "")
		}, []string{"Fri 6 Mar 10:01:00 watch A", "Fri 6 Mar 10:05:00 -"}},
		{"none read aloud is none", func(s *story) { s.at("10:00").sealed("A", "nurse.lund", 0) }, []string{"Fri 6 Mar 10:00:00 now A"}},
		{"slides that nobody numbered are not guessed at", func(s *story) { s.at("10:00").pass("A01", "slide", 0, "") }, []string{}},
		{"nor is a number of slides read aloud", func(s *story) { s.at("10:00").sealed("A", "nurse.lund", 1) }, []string{}},
	})

	s := of("breast", "mass")(t)
	s.under("[organs.breast.needles.thin]\nfrom_gauge = 18\nto_gauge = 20\npieces = { any = 5 }\nsource = \"common practice, no source\"\n")
	s.at("10:00").taken("A01", "A02", "A03")
	s.at("10:01").record(&tracker.PieceTaken{Lesion: "L1", What: "core", Gauge: 18, LengthMM: 18}, "A04")
	s.at("10:02").taken("A05")
	require.Equal(t, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:02:00 -"}, s.course(tracker.FlagPiecesFew), "a thin needle calls for five")

	s = of("breast", "mass")(t)
	s.under("[organs.breast.needles.thin]\nfrom_gauge = 18\nto_gauge = 20\npieces = { any = 5 }\nsource = \"common practice, no source\"\n")
	s.at("10:00").record(&tracker.PieceTaken{Lesion: "L1", What: "core", Gauge: 18, LengthMM: 18}, "A01")
	s.at("10:01").taken("A02", "A03", "A04")
	require.Equal(t, []string{"Fri 6 Mar 10:00:00 watch A"}, s.course(tracker.FlagPiecesFew), "and a thick one after it does not take that back")

	s = of("thyroid", "mass")(t)
	s.at("10:00").taken("A01")
	require.Contains(t, s.flag(tracker.FlagPiecesFew, "A", "10:00").Text, "1 adequate core, 2 are called for.")
	s = of("thyroid", "mass")(t)
	s.at("10:00").sealed("A", "nurse.lund", 0)
	require.Contains(t, s.flag(tracker.FlagPiecesFew, "A", "10:00").Text, "0 adequate passes, 2 are called for.")

	s = of("breast", "mass")(t)
	s.under("[organs.breast.needles.vacuum]\nfrom_gauge = 8\nto_gauge = 11\npieces = { any = 2 }\nsource = \"common practice, no source\"\n")
	s.at("10:00").record(&tracker.PieceTaken{Lesion: "L1", What: "core", Gauge: 9, LengthMM: 18}, "A01")
	s.at("10:01").record(&tracker.PieceTaken{Lesion: "L1", What: "core"}, "A02")
	require.Equal(t, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:01:00 -"}, s.course(tracker.FlagPiecesFew), "a thick one for two, and a needle that nobody named asks for nothing else")
}

func TestHowFewPiecesAreSaid(t *testing.T) {
	s := breastCase(t)
	s.at("10:00").taken("A01", "A02", "A03")
	s.at("10:10").sealed("A", "nurse.lund", 3)
	s.at("10:20").cleared()
	f := s.flag(tracker.FlagPiecesFew, "A", "10:10")
	require.Equal(t, "Left breast, 2 o'clock: 3 adequate cores, 4 are called for.", f.Text)
	require.Equal(t, "Take 1 more core before the patient leaves, or record that on-site microscopy finds these adequate.", f.Remedy)
	require.Equal(t, s.instant("10:00"), f.Since)
	require.True(t, f.Due.IsZero())
	require.Equal(t, "operator", f.Who)
	require.Contains(t, f.Basis, "Fishman")
	require.Contains(t, s.flag(tracker.FlagPiecesFew, "A", "10:20").Remedy, "Tell the laboratory")

	s = breastCase(t)
	s.at("10:00").taken("A01", "A02", "A03", "A04")
	s.at("10:05").microscopy(false, "case")
	f = s.flag(tracker.FlagPiecesFew, "A", "10:05")
	require.Equal(t, "Left breast, 2 o'clock: 4 cores taken, and on-site microscopy found them not adequate Fri 6 Mar 10:05.", f.Text)
	require.Equal(t, s.instant("10:05"), f.Since)
	require.Equal(t, "Take 1 more core before the lid goes on.", f.Remedy)

	s = newBreastStory(t)
	s.request.Lesions[0].Target = "calcification"
	s.at("08:00").opened(plan("A", "formalin", "histology"))
	s.at("10:00").taken("A01", "A02")
	require.Contains(t, s.flag(tracker.FlagPiecesFew, "A", "10:00").Text, "6 are called for. Calcium has not been seen in any.")
	s.at("10:05").record(&tracker.SpecimenImaged{Calcium: "seen"}, "A02")
	require.Contains(t, s.flag(tracker.FlagPiecesFew, "A", "10:05").Text, "Calcium was seen in 1 piece.")
}

// Each lesion is judged by itself, on its own first pot.
func TestEachLesionIsJudgedByItself(t *testing.T) {
	s := newBreastStory(t)
	s.request.Lesions = append(s.request.Lesions, tracker.Lesion{Key: "L2", Organ: "axillary-node", Side: "left", Target: "node"})
	node := plan("B", "formalin", "histology")
	node.Lesion = "L2"
	s.at("08:00").opened(plan("A", "formalin", "histology"), node)
	s.at("09:55").checked()
	s.at("10:00").taken("A01", "A02", "A03", "A04")
	s.at("10:05").record(&tracker.PieceTaken{Lesion: "L2", What: "core", Look: "mixed"}, "B01")
	s.at("10:10").sealed("A", "nurse.lund", 4)
	s.at("10:11").sealed("B", "nurse.lund", 1)
	require.Equal(t, []string{"Fri 6 Mar 10:05:00 watch B", "Fri 6 Mar 10:11:00 now B"}, s.course(tracker.FlagPiecesFew))
	require.Equal(t, "Left axillary node: 1 adequate core, 3 are called for.", s.flag(tracker.FlagPiecesFew, "B", "10:11").Text)
	s.at("10:12").microscopy(false, "case")
	s.at("10:13").record(&tracker.PieceTaken{Lesion: "L2", What: "core", Look: "mixed"}, "B02")
	require.Contains(t, s.flag(tracker.FlagPiecesFew, "A", "10:13").Text, "not adequate Fri 6 Mar 10:12", "another lesion's core makes up for nothing")
}

// A lesion's first pot is the first that is planned for it, though a piece of it is elsewhere; else the first with a piece.
func TestTheFirstPotOfALesion(t *testing.T) {
	s := newBreastStory(t)
	s.request.Lesions = append(s.request.Lesions, tracker.Lesion{Key: "L2", Organ: "node", Target: "node"}, tracker.Lesion{Key: "L3", Organ: "soft-tissue", Target: "mass"})
	a := plan("A", "formalin", "histology")
	a.Lesion = "L2"
	s.at("08:00").opened(a, plan("B", "formalin", "histology"))
	s.at("09:55").checked()
	s.at("10:00").taken("A01")
	require.Equal(t, []string{"Fri 6 Mar 10:00:00 watch B"}, s.course(tracker.FlagPiecesFew))
	s.at("10:05").record(&tracker.PieceTaken{Lesion: "L3", What: "core"}, "C02")
	s.at("10:05").record(&tracker.PieceTaken{Lesion: "L3", What: "core"}, "D01")
	require.Equal(t, []string{"Fri 6 Mar 10:00:00 watch B", "Fri 6 Mar 10:05:00 watch B, watch C"}, s.course(tracker.FlagPiecesFew))
}

func TestSinceWhenPiecesAreFew(t *testing.T) {
	s := breastCase(t)
	s.at("10:02").taken("A01")
	s.at("10:00").taken("A02")
	require.Equal(t, s.instant("10:00"), s.flag(tracker.FlagPiecesFew, "A", "10:02").Since, "the first to be taken, not the first by name")

	begin := func() *story {
		s := newBreastStory(t)
		s.at("08:00").opened(plan("A", "formalin", "histology"), plan("B", "formalin", "histology"))
		s.at("09:55").checked()
		return s
	}
	s = begin()
	s.at("10:10").sealed("A", "nurse.lund", 1)
	s.at("10:05").sealed("B", "nurse.lund", 1)
	require.Equal(t, s.instant("10:05"), s.flag(tracker.FlagPiecesFew, "A", "10:10").Since, "the first to be read aloud")
	s = begin()
	s.at("10:05").sealed("A", "nurse.lund", 1)
	s.at("10:10").sealed("B", "nurse.lund", 1)
	require.Equal(t, s.instant("10:05"), s.flag(tracker.FlagPiecesFew, "A", "10:10").Since)

	s = breastCase(t)
	s.at("10:00").taken("A01")
	yes, no := true, false
	s.at("10:02").record(&tracker.AdequacyChecked{Lesion: "L2", Adequate: &yes}, "case")
	s.at("10:05").record(&tracker.AdequacyChecked{Lesion: "L1", Adequate: &no}, "case")
	require.Equal(t, s.instant("10:00"), s.flag(tracker.FlagPiecesFew, "A", "10:05").Since, "another lesion's microscopy says nothing of this one")
	s.at("10:06").record(&tracker.AdequacyChecked{Lesion: "L1", Adequate: &yes}, "case")
	s.at("10:08").record(&tracker.AdequacyChecked{Lesion: "L1", Adequate: &no}, "case")
	require.Equal(t, s.instant("10:08"), s.flag(tracker.FlagPiecesFew, "A", "10:08").Since)
}

// All pots with pieces of a lesion must have their final before it is the laboratory's to say whether they were enough.
func TestTheLaboratorySaysOfAllPots(t *testing.T) {
	s := newBreastStory(t)
	s.at("08:00").opened(plan("A", "formalin", "histology"), plan("B", "formalin", "histology"))
	s.at("09:55").checked()
	s.at("10:00").taken("A01")
	s.at("10:10").sealed("A", "nurse.lund", 1)
	s.at("10:11").sealed("B", "nurse.lund", 1)
	s.at("10:20").cleared()
	s.at("2026-03-10 11:00").issued(tracker.StageFinal, "B2", "A")
	s.at("2026-03-10 12:00").issued(tracker.StageFinal, "B2", "B")
	require.Equal(t, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:11:00 now A", "Fri 6 Mar 10:20:00 watch A", "Tue 10 Mar 12:00:00 -"}, s.course(tracker.FlagPiecesFew))
}
