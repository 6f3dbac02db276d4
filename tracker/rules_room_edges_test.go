package tracker_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// lesionCase has two lesions, each with its pot: L1 in A and L2 in B.
func lesionCase(t *testing.T, one, two tracker.Lesion) *story {
	s := newBreastStory(t)
	one.Key, two.Key = "L1", "L2"
	s.request.Lesions = []tracker.Lesion{one, two}
	s.at("08:00").opened(plan("A", "formalin", "histology"), planOf("L2", "B"))
	s.at("09:55").checked()
	return s
}

func leftBreast() tracker.Lesion {
	return tracker.Lesion{Organ: "breast", Side: "left", Position: "2 o'clock"}
}
func groin() tracker.Lesion {
	return tracker.Lesion{Organ: "node", Position: "groin", Target: "node"}
}

func TestALesionCountsItsOwnPiecesOnly(t *testing.T) {
	s := lesionCase(t, leftBreast(), groin())
	s.at("10:00").taken("A01", "A02", "A03")
	s.at("10:01").potted("B01") // nobody recorded that it was taken: it is its pot's
	s.at("10:02").sealed("B", "nurse.lund", 3)
	require.Contains(t, s.flag(tracker.FlagPiecesFew, "A", "10:02").Text, "3 adequate cores, 4")
	require.Equal(t, "Lymph node, groin: 1 adequate core, 3 are called for.", s.flag(tracker.FlagPiecesFew, "B", "10:02").Text)

	s = lesionCase(t, leftBreast(), groin())
	s.at("10:00").taken("A01", "A02", "A03")
	s.at("10:02").sealed("B", "nurse.lund", 3)
	require.Equal(t, []string{"Fri 6 Mar 10:00:00 watch A"}, s.course(tracker.FlagPiecesFew), "what is read aloud of the other pot is the other's")

	s = lesionCase(t, leftBreast(), groin())
	s.under("[organs.breast.needles.thin]\nfrom_gauge = 18\nto_gauge = 20\npieces = { any = 5 }\nsource = \"common practice, no source\"\n")
	s.at("10:00").taken("A01", "A02", "A03", "A04")
	s.record(&tracker.PieceTaken{Lesion: "L2", What: "core", Gauge: 18}, "B01")
	require.Equal(t, []string{"Fri 6 Mar 10:00:00 watch B"}, s.course(tracker.FlagPiecesFew), "so is its needle")
}

func TestPiecesAreCalledWhatTheyAre(t *testing.T) {
	thyroid := tracker.Lesion{Organ: "thyroid", Target: "mass"}
	s := lesionCase(t, leftBreast(), groin())
	s.at("10:00").potted("A01")
	require.Contains(t, s.flag(tracker.FlagPiecesFew, "A", "10:00").Text, "1 adequate core, 4")
	s.at("10:01").pass("A02", "aspirate", 0, "")
	require.Contains(t, s.flag(tracker.FlagPiecesFew, "A", "10:01").Text, "2 adequate pieces, 4")
	s.at("10:02").taken("A03")
	require.Contains(t, s.flag(tracker.FlagPiecesFew, "A", "10:02").Text, "3 adequate pieces, 4")
	require.NotContains(t, s.flag(tracker.FlagPiecesFew, "A", "10:02").Text, "Calcium")
	s.at("10:03").record(&tracker.SpecimenImaged{Calcium: "seen"}, "A03")
	require.NotContains(t, s.flag(tracker.FlagPiecesFew, "A", "10:03").Text, "Calcium", "nobody looks for it in a mass")

	s = lesionCase(t, thyroid, groin())
	s.at("10:00").record(&tracker.PieceTaken{Lesion: "L1", What: "core", Pass: 1}, "A01")
	s.at("10:01").pass("A02", "slide", 1, "")
	require.Equal(t, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:01:00 -"}, s.course(tracker.FlagPiecesFew), "a core is no pass")

	s = lesionCase(t, thyroid, groin())
	s.at("10:00").pass("A01", "aspirate", 0, "")
	s.at("10:01").pass("A02", "aspirate", 0, "blood-only")
	s.at("10:02").pass("A03", "aspirate", 0, "")
	require.Equal(t, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:02:00 -"}, s.course(tracker.FlagPiecesFew), "blood alone is no pass")
}

func TestNoPieceIsAskedOfAnOrganThatAsksForNone(t *testing.T) {
	s := newStory(t)
	s.at("08:00").opened(plan("A", "formalin", "histology"))
	s.at("10:00").taken("A01")
	s.at("10:05").microscopy(false, "case")
	require.Empty(t, s.course(tracker.FlagPiecesFew))
}

func TestWhenNoMorePiecesAreToCome(t *testing.T) {
	begin := func() *story {
		s := newBreastStory(t)
		s.at("08:00").opened(plan("A", "formalin", "histology"), plan("B", "formalin", "histology"))
		s.at("09:55").checked()
		return s
	}
	s := begin()
	s.at("10:00").taken("B01")
	s.at("10:05").sealed("B", "nurse.lund", 1)
	require.Equal(t, []string{"Fri 6 Mar 10:00:00 watch A"}, s.course(tracker.FlagPiecesFew), "the first pot is open")

	s = begin()
	s.at("10:00").taken("A01")
	s.at("10:05").ended("partly", "A", "B")
	require.Equal(t, []string{"Fri 6 Mar 10:00:00 watch A", "Fri 6 Mar 10:05:00 now A"}, s.course(tracker.FlagPiecesFew), "a pot with a core was used, whatever is said")

	for _, tt := range []struct{ a, b, ended, since string }{
		{"10:05", "10:10", "", "10:10"}, {"10:10", "10:05", "", "10:10"}, {"10:05", "10:10", "10:07", "10:07"}, {"10:05", "10:10", "10:15", "10:10"},
		{"10:05", "", "10:15", "10:15"}, {"", "", "10:15", "10:15"},
	} {
		s := begin()
		for pot, at := range map[string]string{"A": tt.a, "B": tt.b} {
			if at != "" {
				s.at(at).sealed(pot, "nurse.lund", 0)
			}
		}
		if tt.ended != "" {
			s.at(tt.ended).ended("done")
		}
		f := s.flag(tracker.FlagPiecesFew, "A", "10:20")
		require.Equal(t, tracker.Now, f.Severity)
		if tt.a == "" {
			require.Equal(t, s.instant(tt.since), f.Since, "%v", tt)
		}
	}

	s = begin()
	s.at("10:00").taken("A01", "A02", "A03", "A04")
	s.at("10:05").microscopy(false, "case")
	s.taken("A05")
	require.Equal(t, []string{"Fri 6 Mar 10:05:00 watch A"}, s.course(tracker.FlagPiecesFew), "taken at the same moment is not taken after")

	s = begin()
	s.at("10:00").record(&tracker.SpecimenImaged{Calcium: "seen"}, "A01")
	s.at("10:05").sealed("A", "nurse.lund", 4)
	s.at("10:06").sealed("B", "nurse.lund", 0)
	require.Empty(t, s.course(tracker.FlagPiecesFew), "a radiograph alone is no record of a core")
}

func TestPoorPiecesBesideWhatIsReadAloud(t *testing.T) {
	begin := func() *story {
		s := newBreastStory(t)
		s.at("08:00").opened(plan("A", "formalin", "histology"), plan("B", "formalin", "histology"))
		s.at("09:55").checked()
		return s
	}
	s := begin()
	s.at("10:00").look("A01", "fatty")
	s.at("10:01").look("A02", "grey-brown")
	s.at("10:02").look("A03", "grey-brown")
	s.at("10:05").sealed("B", "nurse.lund", 1)
	f := s.flag(tracker.FlagPiecesPoor, "A", "10:05")
	require.Equal(t, "Left breast, 2 o'clock: 3 of 4 pieces look poor: 1 fatty and 2 grey-brown.", f.Text)
	require.Equal(t, s.instant("10:00"), f.Since)
	require.Contains(t, f.Basis, "common practice", "the basis is that of the commonest look")

	s = begin()
	s.at("10:00").look("A01", "grey-brown")
	s.at("10:05").sealed("B", "nurse.lund", 1)
	s.at("10:06").look("A02", "fatty")
	s.at("10:07").record(&tracker.PieceTaken{Lesion: "L1", What: "core", From: s.thing("A01").Name, Look: "grey-brown"}, "A03")
	s.at("10:08").record(&tracker.SpecimenImaged{Calcium: "not-seen"}, "A09")
	f = s.flag(tracker.FlagPiecesPoor, "A", "10:08")
	require.Equal(t, s.instant("10:06"), f.Since, "until then one of two was not over half")
	require.Equal(t, "Left breast, 2 o'clock: 2 of 3 pieces look poor: 1 grey-brown and 1 fatty.", f.Text)
	require.Contains(t, f.Basis, "common practice")

	s = begin()
	s.at("10:00").look("A01", "grey-brown")
	s.at("10:08").record(&tracker.SpecimenImaged{Calcium: "not-seen"}, "A09")
	f = s.flag(tracker.FlagPiecesPoor, "A", "10:08")
	require.Equal(t, s.instant("10:00"), f.Since)
	require.Regexp(t, `^protocol line \d+: common practice`, f.Basis)
}

func TestFixativeIsReckonedFromWhatIsKnown(t *testing.T) {
	begin := func() *story {
		s := newStory(t)
		s.at("08:00").opened(plan("A", "formalin", "histology"))
		return s
	}
	s := begin()
	s.at("09:30").record(&tracker.SpecimenImaged{Calcium: "seen"}, "A05")
	s.at("10:00").poured("A", "formalin", 1)
	s.taken("A01", "A02")
	f := s.flag(tracker.FlagMediumScant, "A", "10:00")
	require.Equal(t, "Pot A: 1 mL of formalin for 0.13 mL of tissue; 10 times the tissue is wanted, 1.3 mL.", f.Text)
	require.Equal(t, s.instant("10:00"), f.Since)

	s = begin()
	s.at("10:00").taken("A01", "A02")
	s.at("10:05").poured("A", "formalin", 1)
	require.Equal(t, s.instant("10:05"), s.flag(tracker.FlagMediumScant, "A", "10:05").Since, "before that nobody knew how much")

	s = begin()
	s.at("09:00").record(&tracker.PotFilled{Medium: "formalin", VolumeML: 20, Expires: "2027-01-31"}, "A")
	s.at("09:05").poured("A", "formalin", 0.1)
	s.at("10:00").taken("A01", "A02")
	require.Empty(t, s.course(tracker.FlagMediumScant), "what is not past its date stays in the pot")

	s = begin()
	s.at("09:00").poured("A", "formalin", 1)
	s.at("10:00").taken("A01", "A02")
	s.at("10:02").record(&tracker.PiecePotted{Pot: "MBY-26-00418-A"}, "A02")
	require.Equal(t, []string{"Fri 6 Mar 10:00:00 now A", "Fri 6 Mar 10:02:00 -"}, s.course(tracker.FlagMediumScant), "a core in another case's pot")

	s = begin()
	s.at("09:00").poured("A", "formalin", 1)
	s.at("09:30").record(&tracker.SpecimenImaged{Calcium: "seen"}, "A09")
	for _, half := range []string{"A01", "A02"} {
		s.at("10:00").record(&tracker.PieceTaken{Lesion: "L1", What: "core", Gauge: 14, LengthMM: 18, From: s.thing("A09").Name}, half)
	}
	require.Equal(t, []string{"Fri 6 Mar 10:00:00 now A"}, s.course(tracker.FlagMediumScant), "what they were cut from was not recorded")

	s = begin()
	s.at("09:00").poured("A", "formalin", 1)
	s.at("10:00").taken("A01", "A02")
	s.at("10:02").record(&tracker.PiecePotted{Medium: "bouin"}, "A01")
	require.Equal(t, []string{"Fri 6 Mar 10:00:00 now A", "Fri 6 Mar 10:02:00 -"}, s.course(tracker.FlagMediumScant), "how much there is of the other medium is not known")
}

func TestWhichPieceHadItsSideConfirmed(t *testing.T) {
	begin := func() *story {
		s := newBreastStory(t)
		s.request.Lesions = []tracker.Lesion{{Key: "L1", Organ: "breast", Side: "left"}, {Key: "L2", Organ: "thyroid"}}
		s.at("08:00").opened(plan("A", "formalin", "histology"), planOf("L2", "B"))
		return s
	}
	s := begin()
	s.at("10:02").taken("A01")
	s.at("10:00").taken("A02")
	require.Equal(t, s.instant("10:00"), s.flag(tracker.FlagSideMismatch, "case", "10:02").Since)

	s = begin()
	s.at("10:00").taken("B01")
	require.Equal(t, []string{"Fri 6 Mar 10:00:00 now B01, now case"}, s.course(tracker.FlagSideMismatch), "a breast's core, whatever its pot is for")

	s = begin()
	s.at("10:00").record(&tracker.PieceTaken{Lesion: "L1", What: "core", From: s.thing("A09").Name}, "A01")
	require.Empty(t, s.course(tracker.FlagSideMismatch), "when it left the patient is not known of what was cut from another")

	s = begin()
	s.at("10:00").amended(tracker.CaseAmended{Lesions: s.request.Lesions})
	s.taken("A01")
	require.Empty(t, s.course(tracker.FlagSideMismatch))

	s = begin()
	s.at("09:55").checked()
	s.at("10:00").taken("A01")
	s.at("10:05").amended(tracker.CaseAmended{Pots: []tracker.PlannedPot{planOf("L2", "A")}})
	s.at("10:07").amended(tracker.CaseAmended{Pots: []tracker.PlannedPot{planOf("L2", "A"), planOf("L2", "B")}})
	require.Equal(t, s.instant("10:05"), s.flag(tracker.FlagSideMismatch, "A01", "10:07").Since, "until then it was where it belongs")
}

func TestLabelsOutOfDateAtTheirEdges(t *testing.T) {
	other := "p-9d02"
	begin := func() *story {
		s := newBreastStory(t)
		s.at("08:00").opened(plan("A", "formalin", "histology"))
		return s
	}
	s := begin()
	s.at("10:00").potted("A01/1")
	s.at("10:10").amended(tracker.CaseAmended{Patient: &other})
	require.Empty(t, s.course(tracker.FlagLabelOutdated), "nobody knows when it was printed")

	s = begin()
	s.at("10:00").printed("C")
	s.bound("C", "MBY-26-00418-A")
	s.at("10:10").amended(tracker.CaseAmended{Patient: &other})
	require.Equal(t, []string{"Fri 6 Mar 10:10:00 now C"}, s.course(tracker.FlagLabelOutdated))

	s = begin()
	s.at("09:50").reprinted("A", '2', '1')
	s.at("09:55").spoiled("A", '2')
	s.at("10:00").reprinted("A", '1', '2')
	s.at("10:10").amended(tracker.CaseAmended{Patient: &other})
	require.Equal(t, []string{"Fri 6 Mar 10:10:00 now A"}, s.course(tracker.FlagLabelOutdated), "what was printed before it replaces nothing")

	s = begin()
	s.at("10:00").printed("case", "A")
	s.at("10:10").amended(tracker.CaseAmended{Lesions: []tracker.Lesion{{Key: "L1", Organ: "breast", Side: "right", Position: "2 o'clock"}}})
	require.Equal(t, "The label of the request form, copy 1, printed Fri 6 Mar 10:00, is out of date since Fri 6 Mar 10:10; changed in the request: the side of the lesion, from left to right.",
		s.flag(tracker.FlagLabelOutdated, "case", "10:10").Text)
	s.at("10:20").amended(tracker.CaseAmended{Lesions: []tracker.Lesion{{Key: "L1", Organ: "axillary-node", Side: "left", Position: "2 o'clock"}}})
	require.Contains(t, s.flag(tracker.FlagLabelOutdated, "A", "10:20").Text, "from “left breast, 2 o'clock” to “left axillary node, 2 o'clock”.")
}
