package tracker_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// threePots is a story in which three pots of cores were sealed by 15:50.
func threePots(t *testing.T) *story {
	t.Helper()
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"), plan("B", "formalin", "histology"), plan("C", "slides-dried", "cytology"))
	s.at("15:42").taken("A01", "B01", "C01")
	s.at("15:43").potted("A01", "B01", "C01")
	s.at("15:50")
	for _, pot := range []string{"A", "B", "C"} {
		s.sealed(pot, "nurse.lund", 1)
	}
	s.at("15:56").cleared()
	return s
}

// bagCounted is a scan of the bag that says how many pots are in it.
func (s *story) bagCounted(place string, count int) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.CustodyTaken{Place: place, Count: &count}, "bag")
}

func TestWhatIsFoundInABagIsWhatWasPacked(t *testing.T) {
	const (
		short    = "Fri 6 Mar 17:40:00 watch bag"
		shortNow = "Fri 6 Mar 19:40:00 now bag"
	)
	tests := []struct {
		name         string
		tell         func(s *story)
		short, extra []string
	}{
		{"all of it", func(s *story) { s.at("17:40").lab().unpacked("A", "B") }, []string{}, []string{}},
		{"one is missing", func(s *story) { s.at("17:40").lab().unpacked("A") }, []string{short, shortNow}, []string{}},
		{"one more", func(s *story) { s.at("17:40").lab().unpacked("A", "B", "C") }, []string{}, []string{short, shortNow}},
		{"another than was packed", func(s *story) { s.at("17:40").lab().unpacked("A", "C") }, []string{short, shortNow}, []string{short, shortNow}},
		{"found a second before it is for now", func(s *story) {
			s.at("17:40").lab().unpacked("A")
			s.at("19:39:59").found("B")
		}, []string{short, "Fri 6 Mar 19:39:59 -"}, []string{}},
		{"the missing one is scanned elsewhere", func(s *story) {
			s.at("17:40").lab().unpacked("A")
			s.at("20:00").porter().handed("hatch", "B")
		}, []string{short, shortNow, "Fri 6 Mar 20:00:00 -"}, []string{}},
		{"the missing one is accessioned", func(s *story) {
			s.at("17:40").lab().unpacked("A")
			s.at("18:00").accessioned("B")
		}, []string{short, "Fri 6 Mar 18:00:00 -"}, []string{}},
		{"the whole case is accessioned: that finds no pot", func(s *story) {
			s.at("17:40").lab().unpacked("A")
			s.at("18:00").accessioned("case")
		}, []string{short, shortNow}, []string{}},
		{"the missing one is said to be lost: it is still missing", func(s *story) {
			s.at("17:40").lab().unpacked("A")
			s.at("18:00").lost("B")
		}, []string{short, shortNow}, []string{}},
		{"found when the bag is looked through again", func(s *story) {
			s.at("17:40").lab().unpacked("A")
			s.at("17:45").unpacked("B")
		}, []string{short, "Fri 6 Mar 17:45:00 -"}, []string{}},
		{"answered", func(s *story) {
			s.at("17:40").lab().unpacked("A")
			s.at("18:00").answered(tracker.FlagBagShort, "bag")
		}, []string{short, "Fri 6 Mar 18:00:00 -"}, []string{}},
		{"answered for too many does not settle too few", func(s *story) {
			s.at("17:40").lab().unpacked("A")
			s.at("18:00").answered(tracker.FlagBagExtra, "bag")
		}, []string{short, shortNow}, []string{}},
		{"answered before it was opened", func(s *story) {
			s.at("17:00").answered(tracker.FlagBagShort, "bag")
			s.at("17:40").lab().unpacked("A")
		}, []string{short, shortNow}, []string{}},
		{"its own scan took it out before", func(s *story) {
			s.at("17:00").porter().handed("hatch", "B")
			s.at("17:40").lab().unpacked("A")
		}, []string{}, []string{}},
		{"its own scan took it out before, and it is in the bag", func(s *story) {
			s.at("17:00").porter().handed("hatch", "B")
			s.at("17:40").lab().unpacked("A", "B")
		}, []string{}, []string{short, shortNow}},
		{"said to be lost out of the bag before", func(s *story) {
			s.at("17:00").porter().lost("B")
			s.at("17:40").lab().unpacked("A")
		}, []string{}, []string{}},
		{"packed in another bag after this one", func(s *story) {
			s.at("17:00").record(&tracker.BagPacked{Pots: s.names("B")}, "MBY-26-00013-Z")
			s.at("17:40").lab().unpacked("A")
		}, []string{}, []string{}},
		{"taken in hand by the laboratory just before the bag was said to be open", func(s *story) {
			s.at("17:30").lab().accessioned("B")
			s.at("17:40").unpacked("A")
		}, []string{}, []string{}},
		{"the same, and the bag's list has it too", func(s *story) {
			s.at("17:30").lab().accessioned("B")
			s.at("17:40").unpacked("A", "B")
		}, []string{}, []string{}},
		{"the packing of the third comes late", func(s *story) {
			s.at("17:40").lab().unpacked("A", "B", "C")
			s.at("16:05").by("nurse.osei", "room-2").packed("C").Record.Recorded = s.instant("18:10")
		}, []string{}, []string{short, "Fri 6 Mar 18:10:00 -"}},
		{"packed two minutes after it was opened, by another station's clock", func(s *story) {
			s.at("17:40").lab().unpacked("A", "B", "C").Record.Recorded = s.instant("17:43")
			s.at("17:42").by("nurse.osei", "room-2").packed("C")
		}, []string{}, []string{}},
		{"packed more than two minutes after it was opened", func(s *story) {
			s.at("17:40").lab().unpacked("A", "B", "C")
			s.at("17:42:01").by("nurse.osei", "room-2").packed("C")
		}, []string{}, []string{short, "Fri 6 Mar 17:42:01 -"}},
		{"packed a minute after it was opened, by the same station's clock", func(s *story) {
			s.at("17:40").unpacked("A", "B", "C")
			s.at("17:41").packed("C")
		}, []string{}, []string{short, "Fri 6 Mar 17:41:00 -"}},
		{"taken out a minute later by another station's clock", func(s *story) {
			s.at("17:40").lab().unpacked("A")
			s.at("17:41").porter().handed("hatch", "B")
		}, []string{short, "Fri 6 Mar 17:41:00 -"}, []string{}},
		{"found a minute before by another station's clock", func(s *story) {
			s.at("17:39").porter().found("B")
			s.at("17:40").lab().unpacked("A")
		}, []string{}, []string{}},
		{"packed a minute before by another station's clock: its packing is no finding", func(s *story) {
			s.at("17:00").unpacked("A", "B")
			s.at("17:39").packed("A", "B")
			s.at("17:40").lab().unpacked("A")
		}, []string{short, shortNow}, []string{}},
		{"the opening is struck", func(s *story) {
			e := s.at("17:40").lab().unpacked("A")
			s.at("18:00").struck(e)
		}, []string{short, "Fri 6 Mar 18:00:00 -"}, []string{}},
		{"the packing is struck: then nothing was packed", func(s *story) {
			s.at("17:40").lab().unpacked("A", "B")
			s.at("18:00").struck(s.packings()[0])
		}, []string{}, []string{"Fri 6 Mar 18:00:00 watch bag", shortNow}},
		{"the one too many is scanned by whoever has it", func(s *story) {
			s.at("17:40").lab().unpacked("A", "B", "C")
			s.at("17:50").accessioned("C")
		}, []string{}, []string{short, "Fri 6 Mar 17:50:00 -"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := threePots(t)
			s.at("16:00").packed("A", "B")
			tt.tell(s)
			require.Equal(t, tt.short, s.courseOf("bag", tracker.FlagBagShort), "short")
			require.Equal(t, tt.extra, s.courseOf("bag", tracker.FlagBagExtra), "extra")
		})
	}
}

// packings lists the packings of bags told so far.
func (s *story) packings() []*tracker.Event {
	var list []*tracker.Event
	for _, e := range s.events {
		if e.Kind == tracker.KindBagPacked {
			list = append(list, e)
		}
	}
	return list
}

func TestWhatIsCountedInABagIsWhatWasPacked(t *testing.T) {
	const (
		off    = "Fri 6 Mar 16:30:00 watch bag"
		offNow = "Fri 6 Mar 18:30:00 now bag"
	)
	tests := []struct {
		name         string
		tell         func(s *story)
		short, extra []string
	}{
		{"right", func(s *story) { s.bagCounted("van", 2) }, []string{}, []string{}},
		{"nobody counted", func(s *story) { s.handed("van", "bag") }, []string{}, []string{}},
		{"fewer", func(s *story) { s.bagCounted("van", 1) }, []string{off, offNow}, []string{}},
		{"more", func(s *story) { s.bagCounted("van", 3) }, []string{}, []string{off, offNow}},
		{"counted again, and right", func(s *story) {
			s.bagCounted("van", 1)
			s.at("17:00").bagCounted("lab-reception", 2)
		}, []string{off, "Fri 6 Mar 17:00:00 -"}, []string{}},
		{"counted again, and still fewer: wrong since the first count", func(s *story) {
			s.bagCounted("van", 1)
			s.at("18:00").bagCounted("lab-reception", 1)
		}, []string{off, offNow}, []string{}},
		{"answered, and counted again", func(s *story) {
			s.bagCounted("van", 1)
			s.at("16:40").answered(tracker.FlagBagShort, "bag")
			s.at("18:00").bagCounted("lab-reception", 1)
		}, []string{off, "Fri 6 Mar 16:40:00 -", "Fri 6 Mar 18:00:00 watch bag", "Fri 6 Mar 20:00:00 now bag"}, []string{}},
		{"opened, and all is there", func(s *story) {
			s.bagCounted("van", 1)
			s.at("18:00").lab().unpacked("A", "B")
		}, []string{off, "Fri 6 Mar 18:00:00 -"}, []string{}},
		{"opened, and one is missing: since the count", func(s *story) {
			s.bagCounted("van", 1)
			s.at("18:00").lab().unpacked("A")
		}, []string{off, offNow}, []string{}},
		{"the one that was left behind is scanned", func(s *story) {
			s.bagCounted("van", 1)
			s.at("16:50").handed("hatch", "B")
		}, []string{off, "Fri 6 Mar 16:50:00 -"}, []string{}},
		{"a pot is taken out of it where it is: that says nothing of the other", func(s *story) {
			s.bagCounted("van", 1)
			s.at("17:30").handed("lab-reception", "bag")
			s.at("17:40").lab().handed("lab-reception", "A")
		}, []string{off, offNow}, []string{}},
		{"every pot is in the laboratory's hands", func(s *story) {
			s.bagCounted("van", 1)
			s.at("17:40").lab().accessioned("A")
			s.at("17:41").accessioned("B")
		}, []string{off, "Fri 6 Mar 17:41:00 -"}, []string{}},
		{"opened, and one is missing while the other is dealt with", func(s *story) {
			s.bagCounted("van", 1)
			s.at("18:00").lab().unpacked("A")
			s.at("18:10").accessioned("A")
		}, []string{off, offNow}, []string{}},
		{"taken out before by its own scan", func(s *story) {
			s.at("16:10").handed("hatch", "B")
			s.at("16:30").bagCounted("van", 1)
		}, []string{}, []string{}},
		{"found, and later another is missing: that is another matter", func(s *story) {
			s.bagCounted("van", 1)
			s.at("16:50").handed("hatch", "B")
			s.at("18:00").bagCounted("lab-reception", 0)
		}, []string{off, "Fri 6 Mar 16:50:00 -", "Fri 6 Mar 18:00:00 watch bag", "Fri 6 Mar 20:00:00 now bag"}, []string{}},
		{"scanned by another clock right after it was packed: in it or not", func(s *story) {
			s.at("16:10").by("nurse.osei", "room-2").packed("C")
			s.at("16:12").porter().handed("hatch", "C")
			s.at("16:30").bagCounted("van", 3)
			s.at("17:00").bagCounted("lab-reception", 2)
		}, []string{}, []string{}},
		{"scanned by another clock longer after it was packed: out of it", func(s *story) {
			s.at("16:10").by("nurse.osei", "room-2").packed("C")
			s.at("16:12:01").porter().handed("hatch", "C")
			s.at("16:30").bagCounted("van", 3)
		}, []string{}, []string{off, offNow}},
		{"scanned by the same clock right after it was packed: out of it", func(s *story) {
			s.at("16:10").packed("C")
			s.at("16:11").handed("hatch", "C")
			s.at("16:30").bagCounted("van", 3)
		}, []string{}, []string{off, offNow}},
		{"two packings count together", func(s *story) {
			s.at("16:10").packed("C")
			s.at("16:30").bagCounted("van", 3)
		}, []string{}, []string{}},
		{"empty again", func(s *story) {
			s.at("16:20").unpacked("A", "B")
			s.at("16:30").bagCounted("van", 0)
		}, []string{}, []string{}},
		{"the third packed two minutes later by another station's clock", func(s *story) {
			s.bagCounted("van", 3).Record.Recorded = s.instant("16:33")
			s.at("16:32").by("nurse.osei", "room-2").packed("C")
		}, []string{}, []string{}},
		{"or not yet", func(s *story) {
			s.bagCounted("van", 2)
			s.at("16:32").by("nurse.osei", "room-2").packed("C")
		}, []string{}, []string{}},
		{"the third packed more than two minutes later", func(s *story) {
			s.bagCounted("van", 3)
			s.at("16:32:01").by("nurse.osei", "room-2").packed("C")
		}, []string{}, []string{off, offNow}},
		{"all packed a minute before by another station's clock: they went in together", func(s *story) {
			s.at("16:20").lab().unpacked("A", "B")
			s.at("16:29").by("nurse.osei", "room-2").packed("A", "B", "C")
			s.at("16:30").porter().bagCounted("van", 2)
		}, []string{off, offNow}, []string{}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := threePots(t)
			s.at("16:00").packed("A", "B")
			s.at("16:30").porter()
			tt.tell(s)
			require.Equal(t, tt.short, s.courseOf("bag", tracker.FlagBagShort), "short")
			require.Equal(t, tt.extra, s.courseOf("bag", tracker.FlagBagExtra), "extra")
		})
	}
}

func TestAFlagOfABagSaysWhoGaveAndWhoTook(t *testing.T) {
	s := threePots(t)
	s.at("16:00").packed("A", "B")
	s.at("16:30").porter().handed("van", "bag")
	s.at("17:35").lab().handed("lab-reception", "bag")
	s.at("17:40").unpacked("B", "C")
	f := s.flag(tracker.FlagBagShort, "bag", "17:40")
	require.Equal(t, "porter.hale, lab.reed", f.Who)
	require.Empty(t, f.Case, "a bag belongs to no case")
	require.Equal(t, s.instant("17:40"), f.Since.In(london))
	require.Equal(t, s.instant("19:40"), f.Due.In(london))
	require.Equal(t, "The bag was opened on Fri 6 Mar 17:40 by lab.reed, and pot A of MBY-26-00417, packed in it, was not there.", f.Text)
	require.Contains(t, f.Remedy, "porter.hale and lab.reed")
	f = s.flag(tracker.FlagBagExtra, "bag", "17:40")
	require.Equal(t, "The bag was opened on Fri 6 Mar 17:40 by lab.reed with pot C of MBY-26-00417 in it, which nobody had packed.", f.Text)

	s = threePots(t)
	s.at("17:40").lab().unpacked("B", "C")
	f = s.flag(tracker.FlagBagExtra, "bag", "17:40")
	require.Equal(t, "lab.reed", f.Who, "nobody packed it, nobody had it")
	require.Contains(t, f.Text, "with pot B of MBY-26-00417 and pot C of MBY-26-00417 in it")
	require.Contains(t, f.Remedy, "Ask lab.reed how they came")
	s = threePots(t)
	s.at("16:00").packed("A")
	s.at("17:40").unpacked()
	require.Equal(t, "nurse.osei", s.flag(tracker.FlagBagShort, "bag", "17:40").Who, "packed and opened by one person")
	s = threePots(t)
	s.at("16:00").packed("A", "C")
	s.at("16:20").packed("C", "A")
	require.Equal(t, s.instant("16:00"), s.flag(tracker.FlagBagUnfit, "bag", "16:20").Since.In(london))

	s = threePots(t)
	s.at("16:00").packed("A", "B")
	s.at("16:30").porter().bagCounted("van", 1)
	f = s.flag(tracker.FlagBagShort, "bag", "16:30")
	require.Equal(t, "1 pot was counted in the bag at the van on Fri 6 Mar 16:30 by porter.hale, and 2 had been packed.", f.Text)
	require.Equal(t, "nurse.osei, porter.hale", f.Who, "nobody had it between: the one who packed it gave it")
}

func TestAPotOfARollIsFoundByItsOtherName(t *testing.T) {
	s := threePots(t)
	s.at("15:57").bound("MBY-26-00900-A", "A")
	s.at("16:00").packed("MBY-26-00900-A", "B")
	s.at("17:40").lab().unpacked("A", "B")
	require.Empty(t, s.flags("bag", "17:40"), "one pot under two names")
	s = threePots(t)
	s.at("15:57").bound("MBY-26-00900-A", "A")
	s.at("16:00").packed("MBY-26-00900-A", "B")
	s.at("17:40").lab().unpacked("B")
	s.at("18:00").found("A")
	require.Equal(t, []string{"Fri 6 Mar 17:40:00 watch bag", "Fri 6 Mar 18:00:00 -"}, s.courseOf("bag", tracker.FlagBagShort))
	s = threePots(t)
	s.at("16:00").packed("A")
	s.at("16:10").record(&tracker.PotRelabelled{New: s.thing("B").Name, Why: "label of the wrong lesion", Witness: "nurse.lund"}, "A")
	s.at("17:40").lab().unpacked("B")
	require.Empty(t, s.flags("bag", "17:40"), "relabelled in the bag")
}

// Vapour of formalin spoils air-dried slides that travel with it: reference on practice, media.
func TestAirDriedSlidesDoNotTravelWithFormalin(t *testing.T) {
	tests := []struct {
		name string
		tell func(s *story)
		want []string
	}{
		{"together", func(s *story) { s.packed("A", "C") }, []string{"Fri 6 Mar 16:00:00 now bag"}},
		{"one after the other", func(s *story) {
			s.packed("A")
			s.at("16:10").packed("C")
		}, []string{"Fri 6 Mar 16:10:00 now bag"}},
		{"formalin alone", func(s *story) { s.packed("A", "B") }, []string{}},
		{"slides alone", func(s *story) { s.packed("C") }, []string{}},
		{"slides taken out", func(s *story) {
			s.packed("A", "C")
			s.at("16:20").porter().handed("hatch", "C")
		}, []string{"Fri 6 Mar 16:00:00 now bag", "Fri 6 Mar 16:20:00 -"}},
		{"slides put into another bag", func(s *story) {
			s.packed("A", "C")
			s.at("16:20").record(&tracker.BagPacked{Pots: s.names("C")}, "MBY-26-00013-Z")
		}, []string{"Fri 6 Mar 16:00:00 now bag", "Fri 6 Mar 16:20:00 -"}},
		{"opened", func(s *story) {
			s.packed("A", "C")
			s.at("17:40").lab().unpacked("A", "C")
		}, []string{"Fri 6 Mar 16:00:00 now bag", "Fri 6 Mar 17:40:00 -"}},
		{"an answer does not unpack them", func(s *story) {
			s.packed("A", "C")
			s.at("16:20").answered(tracker.FlagBagUnfit, "bag")
		}, []string{"Fri 6 Mar 16:00:00 now bag"}},
		{"in other media than was planned, by what was poured", func(s *story) {
			s.filled("A", "saline")
			s.packed("A", "C")
		}, []string{}},
		{"the request is amended", func(s *story) {
			s.packed("A", "C")
			s.at("16:20").amended(tracker.CaseAmended{Pots: []tracker.PlannedPot{plan("A", "saline", "culture")}})
		}, []string{"Fri 6 Mar 16:00:00 now bag", "Fri 6 Mar 16:20:00 -"}},
		{"it comes to be known what was poured", func(s *story) {
			s.filled("A", "saline")
			s.packed("A", "C")
			s.at("16:30").filled("A", "formalin")
		}, []string{"Fri 6 Mar 16:30:00 now bag"}},
		{"by what the pieces went into", func(s *story) {
			s.packed("B", "C")
			s.at("16:30").record(&tracker.PiecePotted{Medium: "saline"}, "B01")
		}, []string{"Fri 6 Mar 16:00:00 now bag", "Fri 6 Mar 16:30:00 -"}},
		{"formalin of two, slides of two: since the first that met", func(s *story) {
			s.packed("A")
			s.at("16:10").packed("C")
			s.at("16:20").packed("B")
			s.at("16:30").porter().handed("hatch", "A")
			s.at("16:40").handed("hatch", "B")
		}, []string{"Fri 6 Mar 16:10:00 now bag", "Fri 6 Mar 16:40:00 -"}},
		{"by what a piece of another pot went into here", func(s *story) {
			s.packed("B", "C")
			s.at("16:30").record(&tracker.PiecePotted{Pot: s.thing("B").Name, Medium: "saline"}, "A01")
		}, []string{"Fri 6 Mar 16:00:00 now bag", "Fri 6 Mar 16:30:00 -"}},
		{"what its pieces went into, and others with no word of it", func(s *story) {
			s.record(&tracker.PiecePotted{Medium: "saline"}, "B01")
			s.filled("B", "formalin")
			s.potted("B02")
			s.packed("B", "C")
		}, []string{}},
		{"packed once more: together since the first time", func(s *story) {
			s.packed("A", "C")
			s.at("16:20").packed("C", "A")
			s.at("16:30").unpacked()
		}, []string{"Fri 6 Mar 16:00:00 now bag", "Fri 6 Mar 16:30:00 -"}},
		{"a second request under the number does not count", func(s *story) {
			s.opened(plan("A", "saline", "culture"), plan("C", "saline", "culture"))
			s.packed("A", "C")
		}, []string{"Fri 6 Mar 16:00:00 now bag"}},
		{"the packing is struck", func(s *story) {
			e := s.packed("A", "C")
			s.at("16:20").struck(e)
		}, []string{"Fri 6 Mar 16:00:00 now bag", "Fri 6 Mar 16:20:00 -"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := threePots(t)
			s.at("16:00")
			tt.tell(s)
			require.Equal(t, tt.want, s.courseOf("bag", tracker.FlagBagUnfit))
		})
	}
	s := threePots(t)
	s.at("16:00").packed("A", "B", "C")
	s.at("16:30").amended(tracker.CaseAmended{Pots: []tracker.PlannedPot{plan("A", "formalin", "histology", "receptors")}})
	require.Equal(t, s.instant("16:00"), s.flag(tracker.FlagBagUnfit, "bag", "16:30").Since.In(london), "the medium is the same as before")
	f := s.flag(tracker.FlagBagUnfit, "bag", "16:00")
	require.Equal(t, "porter", f.Who)
	require.Contains(t, f.Text, "Pot A of MBY-26-00417 and pot B of MBY-26-00417 are in the bag together with pot C of MBY-26-00417 (air-dried slides), since Fri 6 Mar 16:00")
}

const someStaff = `
operator = ["nurse.osei", "nurse.lund"]
clinician = ["dr.vale"]
porter = ["porter.hale"]
laboratory = ["lab.reed"]
coordinator = ["desk.moor"]
quality = ["audit.finch"]
`

func TestAStepIsDoneByThoseWhoseRoleDoesIt(t *testing.T) {
	tests := []struct {
		name string
		tell func(s *story)
		want []string // of the case
		bag  []string
	}{
		{"an ordinary course", func(s *story) {
			s.at("16:00").packed("A")
			s.at("16:30").porter().handed("van", "bag")
			s.at("17:40").lab().handed("lab-reception", "bag")
			s.unpacked("A")
			s.accessioned("A")
			s.counted("A", 2)
			s.by("desk.moor", "desk-1").record(&tracker.NoteAdded{Text: "asked"}, "case")
		}, []string{}, []string{}},
		{"a porter seals", func(s *story) { s.at("16:00").porter().sealed("A", "nurse.lund", 2) }, []string{"Fri 6 Mar 16:00:00 watch A"}, []string{}},
		{"somebody whom no list names may do everything", func(s *story) { s.at("16:00").by("nurse.new", "room-2").sealed("A", "nurse.lund", 2) }, []string{}, []string{}},
		{"a nurse takes it over at the laboratory", func(s *story) { s.at("16:30").handed("lab-reception", "A") }, []string{"Fri 6 Mar 16:30:00 watch A"}, []string{}},
		{"a porter does", func(s *story) { s.at("16:30").porter().handed("lab-reception", "A") }, []string{}, []string{}},
		{"at a place that the protocol does not know nobody is out of place", func(s *story) { s.at("16:30").by("audit.finch", "desk-1").handed("cellar", "A") },
			[]string{}, []string{}},
		{"whoever sees to quality takes nothing in hand", func(s *story) { s.at("16:30").by("audit.finch", "desk-1").handed("hatch", "A") },
			[]string{"Fri 6 Mar 16:30:00 watch A"}, []string{}},
		{"the coordinator finds a pot", func(s *story) { s.at("16:30").by("desk.moor", "desk-1").found("A") }, []string{}, []string{}},
		{"the coordinator accessions", func(s *story) { s.at("17:30").by("desk.moor", "desk-1").accessioned("case") }, []string{"Fri 6 Mar 17:30:00 watch case"}, []string{}},
		{"a clinician packs a bag", func(s *story) { s.at("16:00").by("dr.vale", "room-2").packed("A") }, []string{}, []string{"Fri 6 Mar 16:00:00 watch bag"}},
		{"answered", func(s *story) {
			s.at("16:00").porter().sealed("A", "nurse.lund", 2)
			s.at("16:30").answered(tracker.FlagRoleDoubtful, "A")
		}, []string{"Fri 6 Mar 16:00:00 watch A", "Fri 6 Mar 16:30:00 -"}, []string{}},
		{"answered, and done again", func(s *story) {
			s.at("16:00").porter().sealed("A", "nurse.lund", 2)
			s.at("16:30").answered(tracker.FlagRoleDoubtful, "A")
			s.at("17:00").sealed("A", "nurse.lund", 2)
		}, []string{"Fri 6 Mar 16:00:00 watch A", "Fri 6 Mar 16:30:00 -", "Fri 6 Mar 17:00:00 watch A"}, []string{}},
		{"struck", func(s *story) {
			e := s.at("16:00").porter().sealed("A", "nurse.lund", 2)
			s.at("16:30").struck(e)
		}, []string{"Fri 6 Mar 16:00:00 watch A", "Fri 6 Mar 16:30:00 -"}, []string{}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := roomDone(t).under(someStaff)
			tt.tell(s)
			require.Equal(t, tt.want, s.course(tracker.FlagRoleDoubtful))
			if len(s.packings()) > 0 {
				require.Equal(t, tt.bag, s.courseOf("bag", tracker.FlagRoleDoubtful))
			}
		})
	}
	s := roomDone(t).under(someStaff)
	s.at("16:00").porter().sealed("A", "nurse.lund", 2)
	s.at("16:10").sealed("A", "nurse.lund", 2)
	f := s.flag(tracker.FlagRoleDoubtful, "A", "16:10")
	require.Equal(t, "administrator", f.Who)
	require.Equal(t, s.instant("16:00"), f.Since.In(london))
	require.Equal(t, "Sealing a pot is not done by a porter, and porter.hale did it with pot A on Fri 6 Mar 16:00.", f.Text, "once of a thing and a person")
	require.Empty(t, roomDone(t).course(tracker.FlagRoleDoubtful), "the default lists nobody")
}

// A bag has its own row in the chase list, and sleeps as a case does.
func TestABagIsChased(t *testing.T) {
	s := threePots(t)
	s.at("16:00").packed("A", "B")
	s.at("16:30").porter().handed("van", "bag")
	s.at("17:40").lab().unpacked("A")
	require.Empty(t, tracker.Chase([]tracker.Judgement{s.judged("bag", "19:39:59")}, s.instant("19:39:59")), "only watched")
	s.at("19:50").by("desk.moor", "desk-1").record(&tracker.ChaseLogged{Asked: "the van", Next: s.instant("2026-03-07 09:00")}, "bag")
	row := func(at string) tracker.ChaseRow {
		rows := tracker.Chase([]tracker.Judgement{s.judged("bag", at)}, s.instant(at))
		require.Len(t, rows, 1)
		return rows[0]
	}
	first := row("19:51")
	require.Equal(t, s.bag, first.Case)
	require.Equal(t, "van", first.Place)
	require.Equal(t, "porter.hale", first.Holder)
	require.True(t, first.Asleep)
	require.Equal(t, "the van", first.Last.Asked)
	require.False(t, row("23:50").Asleep, "what is for now sleeps four hours at most")
	s.at("20:00").unpacked("C")
	require.False(t, row("22:00:01").Asleep, "something new wakes it")
}
