package tracker_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// twoBreasts is a request for a mass on each side, each with a pot of its own.
func twoBreasts(t *testing.T) *story {
	s := newBreastStory(t)
	s.request.Lesions = append(s.request.Lesions, tracker.Lesion{Key: "L2", Organ: "breast", Side: "right", Position: "9 o'clock", Target: "mass"})
	s.at("08:00").opened(plan("A", "formalin", "histology"), planOf("L2", "B"))
	return s
}

func planOf(lesion, letter string) tracker.PlannedPot {
	p := plan(letter, "formalin", "histology")
	p.Lesion = lesion
	return p
}

func TestThePieceIsFromWhereItsPotSays(t *testing.T) {
	begin := func(t *testing.T) *story {
		s := twoBreasts(t)
		s.at("09:55").checked()
		return s
	}
	tellAll(t, tracker.FlagSideMismatch, begin, []telling{
		{"each in its own", func(s *story) {
			s.at("10:00").taken("A01")
			s.at("10:05").record(&tracker.PieceTaken{Lesion: "L2", What: "core"}, "B01")
		}, []string{}},
		{"the left one's core under the right one's label: struck and entered again", func(s *story) {
			wrong := s.at("10:00").taken("B01")
			s.at("10:04").struck(wrong)
			s.at("10:00").record(&tracker.PieceTaken{Lesion: "L2", What: "core"}, "B01").Record.Recorded = s.instant("10:05")
		}, []string{"Fri 6 Mar 10:00:00 now B01", "Fri 6 Mar 10:04:00 -"}},
		{"the request is amended", func(s *story) {
			s.at("10:00").taken("B01")
			s.at("10:07").amended(tracker.CaseAmended{Pots: []tracker.PlannedPot{planOf("L2", "A"), planOf("L1", "B")}})
		}, []string{"Fri 6 Mar 10:00:00 now B01", "Fri 6 Mar 10:07:00 -"}},
		{"the request is amended so that it no longer fits", func(s *story) {
			s.at("10:00").taken("A01")
			s.at("10:07").amended(tracker.CaseAmended{Pots: []tracker.PlannedPot{planOf("L2", "A")}})
		}, []string{"Fri 6 Mar 10:07:00 now A01"}},
		{"the pot is relabelled", func(s *story) {
			s.at("10:00").taken("B01")
			s.at("10:09").record(&tracker.PotRelabelled{New: s.thing("A").Name, Why: "mixed up", Witness: "dr.varga"}, "B")
		}, []string{"Fri 6 Mar 10:00:00 now B01", "Fri 6 Mar 10:09:00 -"}},
		{"it went into the other's pot", func(s *story) {
			s.at("10:00").taken("A01")
			s.at("10:02").record(&tracker.PiecePotted{Pot: s.thing("B").Name}, "A01")
		}, []string{"Fri 6 Mar 10:02:00 now A01"}},
		{"a lesion that the request does not have", func(s *story) {
			s.at("10:00").record(&tracker.PieceTaken{Lesion: "L7", What: "core"}, "A01")
		}, []string{"Fri 6 Mar 10:00:00 now A01"}},
		{"a pot that nobody planned says nothing", func(s *story) { s.at("10:00").taken("C01") }, []string{}},
		{"closed with the reason", func(s *story) {
			s.at("10:00").taken("B01")
			s.at("10:30").closed("withdrawn", "the patient asked for it")
		}, []string{"Fri 6 Mar 10:00:00 now B01", "Fri 6 Mar 10:30:00 -"}},
	})

	s := begin(t)
	s.at("10:00").taken("B01")
	f := s.flag(tracker.FlagSideMismatch, "B01", "10:00")
	require.Equal(t, "Core 01 of pot B is recorded as taken from the left breast, 2 o'clock; pot B is for the right breast, 9 o'clock.", f.Text)
	require.Contains(t, f.Remedy, "amend the request, relabel the pot, or strike the wrong record")
	require.Equal(t, "operator", f.Who)
	require.Equal(t, s.instant("10:00"), f.Since)
	s.at("10:02").potted("B01")
	require.Equal(t, s.instant("10:00"), s.flag(tracker.FlagSideMismatch, "B01", "10:02").Since, "it went where its name says")
	s.at("10:03").taken("A02")
	s.at("10:04").record(&tracker.PiecePotted{Pot: s.thing("B").Name}, "A02")
	require.Equal(t, s.instant("10:04"), s.flag(tracker.FlagSideMismatch, "A02", "10:04").Since, "until then it was where it belongs")
	s.at("10:05").record(&tracker.PieceTaken{Lesion: "L7", What: "core"}, "A01")
	require.Contains(t, s.flag(tracker.FlagSideMismatch, "A01", "10:05").Text, "taken from lesion L7, which the request does not have; pot A is for the left breast")
}

func TestTheSideIsConfirmedBeforeTheNeedle(t *testing.T) {
	confirm := func(s *story, what ...string) *tracker.Event {
		return s.record(&tracker.PatientChecked{Identifiers: []string{"name", "birth-date"}, Confirmed: what, Room: "room-2"}, "case")
	}
	tellAll(t, tracker.FlagSideMismatch, twoBreasts, []telling{
		{"at the same moment", func(s *story) {
			confirm(s.at("10:00"), "consent", "side")
			s.taken("A01")
		}, []string{}},
		{"on an earlier day", func(s *story) {
			confirm(s.at("10:00"), "side")
			s.at("2026-03-07 10:00").taken("A01")
		}, []string{}},
		{"identity alone", func(s *story) {
			confirm(s.at("09:55"), "consent", "site")
			s.at("10:00").taken("A01")
		}, []string{"Fri 6 Mar 10:00:00 now case"}},
		{"a second after, at the same station: that does not undo it", func(s *story) {
			s.at("10:00").taken("A01")
			confirm(s.at("10:00:01"), "side")
		}, []string{"Fri 6 Mar 10:00:00 now case"}},
		{"two minutes after by another station's clock", func(s *story) {
			confirm(s.at("10:02").by("dr.vale", "tablet-1"), "side")
			s.at("10:00").by("nurse.osei", "room-2").taken("A01").Record.Recorded = s.instant("10:03")
		}, []string{}},
		{"two minutes and a second after by another station's clock", func(s *story) {
			confirm(s.at("10:02:01").by("dr.vale", "tablet-1"), "side")
			s.at("10:00").by("nurse.osei", "room-2").taken("A01").Record.Recorded = s.instant("10:03")
		}, []string{"Fri 6 Mar 10:03:00 now case"}},
		{"the check is entered late, with its own time", func(s *story) {
			s.at("10:00").taken("A01")
			confirm(s.at("09:58"), "side").Record.Recorded = s.instant("10:20")
		}, []string{"Fri 6 Mar 10:00:00 now case", "Fri 6 Mar 10:20:00 -"}},
		{"the request's lesions are given anew", func(s *story) {
			s.at("10:00").taken("A01")
			s.at("10:15").amended(tracker.CaseAmended{Lesions: s.request.Lesions})
			s.at("10:20").taken("A02")
		}, []string{"Fri 6 Mar 10:00:00 now case", "Fri 6 Mar 10:15:00 -", "Fri 6 Mar 10:20:00 now case"}},
		{"the request was amended before", func(s *story) {
			s.at("09:50").amended(tracker.CaseAmended{Lesions: s.request.Lesions})
			s.at("10:00").taken("A01")
		}, []string{"Fri 6 Mar 10:00:00 now case"}},
		{"of a lesion that the request does not have, its pot's counts", func(s *story) {
			s.at("10:00").record(&tracker.PieceTaken{Lesion: "L7", What: "core"}, "A01")
		}, []string{"Fri 6 Mar 10:00:00 now A01, now case"}},
		{"the piece is struck", func(s *story) {
			piece := s.at("10:00").taken("A01")
			s.at("10:15").struck(piece)
		}, []string{"Fri 6 Mar 10:00:00 now case", "Fri 6 Mar 10:15:00 -"}},
		{"the check is struck", func(s *story) {
			check := confirm(s.at("09:58"), "side")
			s.at("10:00").taken("A01")
			s.at("10:15").struck(check)
		}, []string{"Fri 6 Mar 10:15:00 now case"}},
	})

	s := twoBreasts(t)
	s.at("10:02").taken("A02")
	s.at("10:00").taken("A01")
	f := s.flag(tracker.FlagSideMismatch, "case", "10:02")
	require.Equal(t, "Core 01 of pot A was taken Fri 6 Mar 10:00, and the side had not been confirmed with the patient: left breast, 2 o'clock.", f.Text)
	require.Contains(t, f.Remedy, "Ask the patient now which side it was")
	require.Equal(t, s.instant("10:00"), f.Since)

	for _, organ := range []string{"thyroid", "node", "soft-tissue", "other"} {
		s := newBreastStory(t)
		s.request.Lesions[0].Organ = organ
		s.at("08:00").opened(plan("A", "formalin", "histology"))
		s.at("10:00").taken("A01")
		s.none(tracker.FlagSideMismatch, "10:00")
	}
	s = newBreastStory(t)
	s.request.Lesions[0].Side = ""
	s.at("08:00").opened(plan("A", "formalin", "histology"))
	s.at("09:55").checked()
	s.at("10:00").taken("A01")
	require.Contains(t, s.flag(tracker.FlagSideMismatch, "case", "10:00").Text, "the request does not say which side")
	s.at("10:10").amended(tracker.CaseAmended{Lesions: []tracker.Lesion{{Key: "L1", Organ: "breast", Side: "left"}}})
	s.none(tracker.FlagSideMismatch, "10:10")
}

func TestALabelSaysWhatTheRequestSays(t *testing.T) {
	begin := func(t *testing.T) *story {
		s := twoBreasts(t)
		s.at("09:55").checked()
		s.at("10:00").printed("case", "A", "A01", "B")
		return s
	}
	other := "p-9d02"
	right := func(s *story) []tracker.Lesion {
		lesions := append([]tracker.Lesion{}, s.request.Lesions...)
		lesions[0].Side = "right"
		return lesions
	}
	side := []string{"Fri 6 Mar 10:10:00 now A, now A01, now case"}
	tellAll(t, tracker.FlagLabelOutdated, begin, []telling{
		{"the side of one lesion: its pot, its piece, the request form", func(s *story) {
			s.at("10:10").amended(tracker.CaseAmended{Lesions: right(s)})
		}, side},
		{"and back again", func(s *story) {
			s.at("10:10").amended(tracker.CaseAmended{Lesions: right(s)})
			s.at("10:20").amended(tracker.CaseAmended{Lesions: s.request.Lesions})
		}, append(side, "Fri 6 Mar 10:20:00 -")},
		{"the amendment is struck", func(s *story) {
			wrong := s.at("10:10").amended(tracker.CaseAmended{Lesions: right(s)})
			s.at("10:20").struck(wrong)
		}, append(side, "Fri 6 Mar 10:20:00 -")},
		{"new copies replace the old ones", func(s *story) {
			s.at("10:10").amended(tracker.CaseAmended{Lesions: right(s)})
			s.at("10:20").reprinted("A", '2', '1')
			s.at("10:21").reprinted("A01", '2', '1')
			s.at("10:22").reprinted("case", '2', '1')
		}, append(side, "Fri 6 Mar 10:20:00 now A01, now case", "Fri 6 Mar 10:21:00 now case", "Fri 6 Mar 10:22:00 -")},
		{"a new copy that replaces nothing leaves the old one in use", func(s *story) {
			s.at("10:10").amended(tracker.CaseAmended{Lesions: right(s)})
			s.at("10:20").reprinted("A", '2', 0)
		}, side},
		{"the new copy is spoiled, so the old one is still on", func(s *story) {
			s.at("10:10").amended(tracker.CaseAmended{Pots: []tracker.PlannedPot{plan("A", "saline", "culture"), planOf("L2", "B")}})
			s.at("10:11").spoiled("case", '1')
			s.at("10:12").spoiled("A01", '1')
			s.at("10:20").reprinted("A", '2', '1')
			s.at("10:21").spoiled("A", '2')
			s.at("10:22").reprinted("A", '3', '2')
		}, []string{"Fri 6 Mar 10:10:00 now A, now A01, now case", "Fri 6 Mar 10:11:00 now A, now A01", "Fri 6 Mar 10:12:00 now A",
			"Fri 6 Mar 10:20:00 -", "Fri 6 Mar 10:21:00 now A", "Fri 6 Mar 10:22:00 -"}},
		{"the copy in use was printed before the amendment", func(s *story) {
			s.at("10:05").reprinted("B", '2', '1')
			s.at("10:10").amended(tracker.CaseAmended{Pots: []tracker.PlannedPot{plan("A", "formalin", "histology"), planOf("L1", "B")}})
			s.at("10:20").reprinted("B", '3', '2')
		}, []string{"Fri 6 Mar 10:10:00 now B, now case", "Fri 6 Mar 10:20:00 now case"}},
		{"another patient: all of them", func(s *story) {
			s.at("10:10").amended(tracker.CaseAmended{Patient: &other})
		}, []string{"Fri 6 Mar 10:10:00 now A, now A01, now B, now case"}},
		{"studies, imaging and a pot more change no label", func(s *story) {
			s.at("10:10").amended(tracker.CaseAmended{Pots: []tracker.PlannedPot{plan("A", "formalin", "histology", "receptors"), planOf("L2", "B"), plan("C", "rpmi", "flow")}})
			lesions := append([]tracker.Lesion{}, s.request.Lesions...)
			lesions[0].Imaging, lesions[0].SizeMM = "U4", 12
			s.at("10:11").amended(tracker.CaseAmended{Lesions: append(lesions, tracker.Lesion{Key: "L3", Organ: "axillary-node", Side: "left"})})
		}, []string{}},
		{"the keys of the lesions change, and nothing else", func(s *story) {
			lesions := append([]tracker.Lesion{}, s.request.Lesions...)
			lesions[0].Key, lesions[1].Key = "1", "2"
			s.at("10:10").amended(tracker.CaseAmended{Lesions: lesions, Pots: []tracker.PlannedPot{planOf("1", "A"), planOf("2", "B")}})
		}, []string{}},
		{"a pot that was not used, and one thrown away", func(s *story) {
			s.at("10:05").ended("partly", "B")
			s.at("10:06").discarded("A")
			s.at("10:07").spoiled("case", '1')
			s.at("10:10").amended(tracker.CaseAmended{Patient: &other})
		}, []string{}},
		{"closed with the reason", func(s *story) {
			s.at("10:10").amended(tracker.CaseAmended{Lesions: right(s)})
			s.at("10:30").closed("withdrawn", "the patient asked for it")
		}, append(side, "Fri 6 Mar 10:30:00 -")},
	})
	before := func(t *testing.T) *story { return twoBreasts(t) }
	tellAll(t, tracker.FlagLabelOutdated, before, []telling{
		{"printed in the second of the amendment, after it", func(s *story) {
			s.at("10:10").amended(tracker.CaseAmended{Patient: &other})
			s.printed("A")
		}, []string{}},
		{"printed a second before", func(s *story) {
			s.at("10:09:59").printed("A")
			s.at("10:10").amended(tracker.CaseAmended{Patient: &other})
		}, []string{"Fri 6 Mar 10:10:00 now A"}},
		{"a downtime roll shows no patient", func(s *story) {
			s.at("10:00").record(&tracker.LabelPrinted{Copy: '1', Layout: tracker.LayoutDowntime}, "A")
			s.at("10:10").amended(tracker.CaseAmended{Patient: &other})
		}, []string{}},
		{"printed before the opening, by a clock that is slow", func(s *story) {
			s.at("07:59").reprinted("A", '1', 0).Record.Recorded = s.instant("08:01")
			s.at("10:10").amended(tracker.CaseAmended{Patient: &other})
		}, []string{"Fri 6 Mar 10:10:00 now A"}},
		{"of a pot that nobody planned or used", func(s *story) {
			s.at("10:00").printed("C")
			s.at("10:10").amended(tracker.CaseAmended{Patient: &other})
		}, []string{"Fri 6 Mar 10:10:00 now C"}},
		{"a pot of a lesion that the request does not have, and then does", func(s *story) {
			s.at("10:00").amended(tracker.CaseAmended{Pots: []tracker.PlannedPot{planOf("L9", "A"), planOf("L2", "B")}})
			s.at("10:05").printed("A", "B")
			s.at("10:10").amended(tracker.CaseAmended{Pots: []tracker.PlannedPot{planOf("L1", "A"), planOf("L9", "B")}})
		}, []string{}},
		{"a label printed before the pot was planned", func(s *story) {
			s.at("10:00").printed("C")
			s.at("10:10").amended(tracker.CaseAmended{Pots: []tracker.PlannedPot{plan("A", "formalin", "histology"), planOf("L2", "B"), plan("C", "rpmi", "flow")}})
		}, []string{}},
	})
}

func TestHowALabelOutOfDateIsSaid(t *testing.T) {
	s := twoBreasts(t)
	s.at("10:00").printed("A", "case")
	lesions := append([]tracker.Lesion{}, s.request.Lesions...)
	lesions[0].Side = "right"
	s.at("10:10").amended(tracker.CaseAmended{Lesions: lesions})
	f := s.flag(tracker.FlagLabelOutdated, "A", "10:10")
	require.Equal(t, "The label of pot A, copy 1, printed Fri 6 Mar 10:00, is out of date since Fri 6 Mar 10:10; changed in the request: the side of pot A, from left to right.", f.Text)
	require.Equal(t, "operator", f.Who)
	require.Equal(t, s.instant("10:10"), f.Since)

	lesions = append([]tracker.Lesion{}, lesions...)
	lesions[0].Position = "3 o'clock"
	s.at("10:15").amended(tracker.CaseAmended{Lesions: lesions, Pots: []tracker.PlannedPot{plan("A", "rpmi", "flow"), planOf("L2", "B")}})
	f = s.flag(tracker.FlagLabelOutdated, "A", "10:15")
	require.Contains(t, f.Text, "the medium of pot A, from formalin to RPMI and the side of pot A, from left to right.")
	require.Equal(t, s.instant("10:10"), f.Since, "it has been out of date since then")

	other := "p-9d02"
	s.at("10:20").amended(tracker.CaseAmended{Patient: &other})
	f = s.flag(tracker.FlagLabelOutdated, "A", "10:20")
	require.Contains(t, f.Text, "changed in the request: the patient, the medium")
	require.NotContains(t, f.Text, other)
	require.Equal(t, "operator, laboratory, clinician", f.Who)
	require.Contains(t, f.Remedy, "ring the laboratory and the clinician")

	// What changes no label between changes nothing about since when.
	s = newBreastStory(t)
	s.at("08:00").opened(plan("A", "formalin", "histology"))
	s.at("10:00").printed("A")
	for i, change := range []tracker.Lesion{{Imaging: "U4", Position: "2 o'clock"}, {Imaging: "U4", Position: "3 o'clock"}, {Imaging: "U3", Position: "3 o'clock"}} {
		change.Key, change.Organ, change.Side = "L1", "breast", "left"
		s.at([]string{"10:05", "10:10", "10:15"}[i]).amended(tracker.CaseAmended{Lesions: []tracker.Lesion{change}})
	}
	f = s.flag(tracker.FlagLabelOutdated, "A", "10:15")
	require.Equal(t, s.instant("10:10"), f.Since)
	require.Contains(t, f.Text, "the site of pot A, from “left breast, 2 o'clock” to “left breast, 3 o'clock”.")

	s = newBreastStory(t)
	s.request.Lesions = []tracker.Lesion{{Key: "L1", Organ: "thyroid", Position: "lower pole"}}
	s.at("08:00").opened(plan("A", "vial", "cytology"))
	s.at("10:00").printed("A")
	s.at("10:10").amended(tracker.CaseAmended{Lesions: []tracker.Lesion{{Key: "L1", Organ: "thyroid", Side: "left", Position: "lower pole"}}})
	require.Contains(t, s.flag(tracker.FlagLabelOutdated, "A", "10:10").Text, "the site of pot A, from “thyroid, lower pole” to “left thyroid, lower pole”.")
	s.at("10:11").reprinted("A", '2', '1')
	s.at("10:20").amended(tracker.CaseAmended{Lesions: s.request.Lesions})
	require.Contains(t, s.flag(tracker.FlagLabelOutdated, "A", "10:20").Text, "from “left thyroid, lower pole” to “thyroid, lower pole”.")
	s.at("10:30").amended(tracker.CaseAmended{Lesions: []tracker.Lesion{{Key: "L1", Organ: "node", Side: "right", Position: "lower pole"}}})
	require.Contains(t, s.flag(tracker.FlagLabelOutdated, "A", "10:30").Text, "from “left thyroid, lower pole” to “right lymph node, lower pole”.")

	// What was amended before the request was opened is not what the request says.
	s = newBreastStory(t)
	s.at("07:59").amended(tracker.CaseAmended{Patient: &other})
	s.at("08:00").opened(plan("A", "formalin", "histology"))
	s.at("10:00").printed("A")
	s.at("10:10").amended(tracker.CaseAmended{Pots: []tracker.PlannedPot{plan("A", "rpmi", "flow")}})
	require.Equal(t, "operator", s.flag(tracker.FlagLabelOutdated, "A", "10:10").Who)

	s = newBreastStory(t)
	s.request.Lesions[0].FromNippleMM = 40
	s.at("08:00").opened(plan("A", "formalin", "histology"))
	s.at("10:00").printed("A")
	lesions = append([]tracker.Lesion{}, s.request.Lesions...)
	lesions[0].FromNippleMM = 60
	s.at("10:10").amended(tracker.CaseAmended{Lesions: lesions})
	require.Contains(t, s.flag(tracker.FlagLabelOutdated, "A", "10:10").Text, "the distance from the nipple of pot A, “left breast, 2 o'clock”, from 40 mm to 60 mm")
}

func TestABiopsyThatWasPlannedIsDone(t *testing.T) {
	begin := func(t *testing.T) *story {
		s := newBreastStory(t)
		s.request.Planned = s.instant("15:00")
		s.at("08:00").opened(plan("A", "formalin", "histology"))
		return s
	}
	late := "Sat 7 Mar 15:00:00 today case"
	tellAll(t, tracker.FlagCaseNotDone, begin, []telling{
		{"nothing happened", func(s *story) {}, []string{late}},
		{"checked, printed and filled, and no more", func(s *story) {
			s.at("15:00").checked()
			s.printed("A")
			s.filled("A", "formalin")
		}, []string{late}},
		{"taken a second before", func(s *story) { s.at("2026-03-07 14:59:59").taken("A01") }, []string{}},
		{"taken after all", func(s *story) { s.at("2026-03-07 16:00").taken("A01") }, []string{late, "Sat 7 Mar 16:00:00 -"}},
		{"ended", func(s *story) { s.at("2026-03-08 09:00").ended("not-done") }, []string{late, "Sun 8 Mar 09:00:00 -"}},
		{"closed and opened again", func(s *story) {
			s.at("2026-03-08 09:00").closed("not-done", "")
			s.at("2026-03-08 10:00").record(&tracker.CaseReopened{Why: "the patient came"}, "case")
		}, []string{late, "Sun 8 Mar 09:00:00 -", "Sun 8 Mar 10:00:00 today case"}},
		{"put off", func(s *story) {
			next := s.instant("2026-03-10 15:00")
			s.at("2026-03-08 09:00").amended(tracker.CaseAmended{Planned: &next})
		}, []string{late, "Sun 8 Mar 09:00:00 -", "Wed 11 Mar 15:00:00 today case"}},
		{"a pot was sealed, though nobody recorded its pieces", func(s *story) { s.at("15:30").sealed("A", "nurse.lund", 4) }, []string{}},
		{"the laboratory has it", func(s *story) { s.at("2026-03-08 09:00").accessioned("A") }, []string{late, "Sun 8 Mar 09:00:00 -"}},
	})
	s := begin(t)
	f := s.flag(tracker.FlagCaseNotDone, "case", "2026-03-07 15:00")
	require.Equal(t, "The biopsy was planned for Fri 6 Mar 15:00 and no piece has been taken; limit 1 day after that.", f.Text)
	require.Contains(t, f.Remedy, "Ring room 2: was it done?")
	require.Equal(t, "coordinator", f.Who)
	require.Equal(t, s.instant("2026-03-07 15:00"), f.Since)

	s = newBreastStory(t)
	s.request.Planned = s.instant("2026-03-28 15:00")
	s.opened(plan("A", "formalin", "histology"))
	require.Equal(t, []string{"Sun 29 Mar 15:00:00 today case"}, s.course(tracker.FlagCaseNotDone), "a day by wall clock, over the change of clocks")
	s = newBreastStory(t)
	s.opened(plan("A", "formalin", "histology"))
	require.Empty(t, s.course(tracker.FlagCaseNotDone), "no time was planned")
	s = newBreastStory(t)
	s.request.Planned, s.request.Room = s.instant("15:00"), ""
	s.opened(plan("A", "formalin", "histology"))
	require.Contains(t, s.flag(tracker.FlagCaseNotDone, "case", "2026-03-07 15:00").Remedy, "Ring the room: was it done?")
}
