package tracker_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

func TestAScanMustFollowTheOneBefore(t *testing.T) {
	tests := []struct {
		name string
		tell func(s *story)
		want []string
	}{
		{"room, hatch, van, laboratory", func(s *story) {
			s.at("16:00").porter().handed("hatch", "A")
			s.at("16:30").handed("van", "A")
			s.at("17:40").lab().handed("lab-reception", "A")
			s.at("19:00").handed("lab-processor", "A")
		}, []string{}},
		{"received, and nobody had collected it: a phone may be unsent", func(s *story) { s.at("17:40").lab().handed("lab-reception", "A") },
			[]string{"Fri 6 Mar 17:40:00 watch A", "Fri 6 Mar 19:40:00 today A"}},
		{"received, and the porter's scan comes late", func(s *story) {
			s.at("17:40").lab().handed("lab-reception", "A")
			s.at("16:30").porter().handed("van", "A").Record.Recorded = s.instant("20:00")
		}, []string{"Fri 6 Mar 17:40:00 watch A", "Fri 6 Mar 19:40:00 today A", "Fri 6 Mar 20:00:00 -"}},
		{"the porter's clock is two minutes fast", func(s *story) {
			s.at("17:42").porter().handed("van", "A")
			s.at("17:40").lab().handed("lab-reception", "A").Record.Recorded = s.instant("17:43")
		}, []string{}},
		{"the porter's clock is more than two minutes fast", func(s *story) {
			s.at("17:42:01").porter().handed("van", "A")
			s.at("17:40").lab().handed("lab-reception", "A").Record.Recorded = s.instant("17:43")
		}, []string{"Fri 6 Mar 17:43:00 watch A", "Fri 6 Mar 19:40:00 today A"}},
		{"back in the clinic, straight from the laboratory", func(s *story) {
			s.at("16:30").porter().handed("van", "A")
			s.at("17:40").lab().handed("lab-reception", "A")
			s.at("18:30").by("nurse.osei", "room-2").handed("fridge", "A")
		}, []string{"Fri 6 Mar 18:30:00 watch A", "Fri 6 Mar 20:30:00 today A"}},
		{"back in the clinic by van", func(s *story) {
			s.at("16:30").porter().handed("van", "A")
			s.at("17:40").lab().handed("lab-reception", "A")
			s.at("18:00").porter().handed("van", "A")
			s.at("18:30").by("nurse.osei", "room-2").handed("fridge", "A")
		}, []string{}},
		{"back in the clinic by a clock two minutes fast", func(s *story) {
			s.at("16:30").porter().handed("van", "A")
			s.at("17:40").lab().handed("lab-reception", "A")
			s.at("17:42").by("nurse.osei", "room-2").handed("fridge", "A")
		}, []string{}},
		{"back in the clinic after it was refused", func(s *story) {
			s.at("16:30").porter().handed("van", "A")
			s.at("17:40").lab().handed("lab-reception", "A")
			s.at("17:45").refused("A", "unlabelled")
			s.at("18:30").by("nurse.osei", "room-2").handed("fridge", "A")
		}, []string{}},
		{"back in the clinic before it was refused", func(s *story) {
			s.at("16:30").porter().handed("van", "A")
			s.at("17:40").lab().handed("lab-reception", "A")
			s.at("18:30").by("nurse.osei", "room-2").handed("fridge", "A")
			s.at("18:40").lab().refused("A", "unlabelled")
		}, []string{"Fri 6 Mar 18:30:00 watch A", "Fri 6 Mar 20:30:00 today A"}},
		{"back in the clinic, and at the laboratory again", func(s *story) {
			s.at("16:30").porter().handed("van", "A")
			s.at("17:40").lab().handed("lab-reception", "A")
			s.at("18:30").by("nurse.osei", "room-2").handed("fridge", "A")
			s.at("19:00").lab().handed("lab-reception", "A")
		}, []string{"Fri 6 Mar 18:30:00 watch A", "Fri 6 Mar 19:00:00 -"}},
		{"scanned after it was thrown away", func(s *story) {
			s.at("16:30").porter().handed("van", "A")
			s.at("17:00").discarded("A")
			s.at("17:02:01").lab().handed("lab-reception", "A")
		}, []string{"Fri 6 Mar 17:02:01 watch A", "Fri 6 Mar 19:02:01 today A"}},
		{"at two places at the same moment", func(s *story) {
			s.at("16:30").porter().handed("van", "A")
			s.at("16:30").by("nurse.lund", "hatch-1").handed("hatch", "A")
		}, []string{"Fri 6 Mar 16:30:00 watch A", "Fri 6 Mar 18:30:00 today A"}},
		{"by two people at the same moment", func(s *story) {
			s.at("16:30").porter().handed("van", "A")
			s.at("16:30").by("porter.rudd", "phone-2").handed("van", "A")
		}, []string{"Fri 6 Mar 16:30:00 watch A", "Fri 6 Mar 18:30:00 today A"}},
		{"twice by the same person at the same moment", func(s *story) {
			s.at("16:30").porter().handed("van", "A")
			s.handed("van", "A")
		}, []string{}},
		{"collected two minutes before its first piece, by another clock", func(s *story) { s.at("15:40").porter().handed("van", "A") }, []string{}},
		{"collected before its first piece was taken", func(s *story) { s.at("15:30").porter().handed("van", "A") },
			[]string{"Fri 6 Mar 15:42:00 watch A", "Fri 6 Mar 17:30:00 today A"}},
		{"a piece was taken into a pot that was at the laboratory", func(s *story) {
			s.at("16:30").porter().handed("van", "A")
			s.at("17:40").lab().handed("lab-reception", "A")
			s.at("17:50").by("nurse.osei", "room-2").taken("A03")
		}, []string{"Fri 6 Mar 17:50:00 watch A", "Fri 6 Mar 19:50:00 today A"}},
		{"answered", func(s *story) {
			s.at("17:40").lab().handed("lab-reception", "A")
			s.at("20:00").answered(tracker.FlagCustodyBroken, "A")
		}, []string{"Fri 6 Mar 17:40:00 watch A", "Fri 6 Mar 19:40:00 today A", "Fri 6 Mar 20:00:00 -"}},
		{"answered, and broken again", func(s *story) {
			s.at("17:40").lab().handed("lab-reception", "A")
			s.at("17:45").answered(tracker.FlagCustodyBroken, "A")
			s.at("18:30").by("nurse.osei", "room-2").handed("fridge", "A")
		}, []string{"Fri 6 Mar 17:40:00 watch A", "Fri 6 Mar 17:45:00 -", "Fri 6 Mar 18:30:00 watch A", "Fri 6 Mar 20:30:00 today A"}},
		{"the wrong scan is struck", func(s *story) {
			s.at("16:30").porter().handed("van", "A")
			s.at("17:40").lab().handed("lab-reception", "A")
			e := s.at("18:30").by("nurse.osei", "room-2").handed("fridge", "A")
			s.at("18:40").struck(e)
		}, []string{"Fri 6 Mar 18:30:00 watch A", "Fri 6 Mar 18:40:00 -"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := roomDone(t)
			tt.tell(s)
			require.Equal(t, tt.want, s.course(tracker.FlagCustodyBroken))
		})
	}
	s := roomDone(t)
	s.at("17:40").lab().handed("lab-reception", "A")
	f := s.flag(tracker.FlagCustodyBroken, "A", "17:40")
	require.Equal(t, s.instant("17:40"), f.Since.In(london))
	require.Equal(t, s.instant("19:40"), f.Due.In(london))
	require.Contains(t, f.Text, "17:40")
	require.Equal(t, "coordinator", f.Who)
}

func TestAScanOfTheCaseSaysNothingOfPotsThatHoldNothing(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"), plan("B", "rpmi", "flow"))
	s.at("15:42").taken("A01")
	s.potted("A01")
	s.at("15:50").sealed("A", "nurse.lund", 1)
	s.at("15:56").cleared()
	s.at("17:40").lab().handed("lab-reception", "case")
	require.Equal(t, []string{"watch custody-broken A"}, s.flags("case", "17:40"))
}

// where says at which place a pot is, and in which bag.
func (s *story) where(pot string) string {
	s.t.Helper()
	filed := tracker.File(s.events)
	events, err := tracker.Gather(s.name, func(n tracker.Name) ([]*tracker.Event, error) { return filed[n], nil })
	require.NoError(s.t, err)
	p := tracker.Fold(s.name, events).Pot(s.thing(pot).Name)
	require.NotNil(s.t, p)
	place := "nowhere"
	if n := len(p.Custody); n > 0 {
		place = p.Custody[n-1].Place
	}
	if p.Bag != "" {
		place += " in a bag"
	}
	return place
}

func TestABagsScanCountsForItsPots(t *testing.T) {
	tests := []struct {
		name string
		tell func(s *story)
		a, b string
	}{
		{"packed and carried", func(s *story) {
			s.at("16:00").packed("A", "B")
			s.at("16:30").porter().handed("van", "bag")
		}, "van in a bag", "van in a bag"},
		{"packing adds", func(s *story) {
			s.at("16:00").packed("A")
			s.at("16:10").packed("B")
			s.at("16:30").porter().handed("van", "bag")
		}, "van in a bag", "van in a bag"},
		{"packed after the scan is not carried by it", func(s *story) {
			s.at("16:00").packed("A")
			s.at("16:30").porter().handed("van", "bag")
			s.at("17:00").packed("B")
		}, "van in a bag", "nowhere in a bag"},
		{"packed two minutes after it by another station's clock is", func(s *story) {
			s.at("16:30").porter().handed("van", "bag")
			s.at("16:32").by("nurse.osei", "room-2").packed("A")
			s.at("16:32:01").packed("B")
		}, "van in a bag", "nowhere in a bag"},
		{"by the same station's clock the order is sure", func(s *story) {
			s.at("16:30").porter().handed("van", "bag")
			s.at("16:31").packed("A", "B")
		}, "nowhere in a bag", "nowhere in a bag"},
		{"the pot's own scan takes it out", func(s *story) {
			s.at("16:00").packed("A", "B")
			s.at("16:30").porter().handed("van", "bag")
			s.at("17:30").handed("hatch", "B")
			s.at("17:40").lab().handed("lab-reception", "bag")
		}, "lab-reception in a bag", "hatch"},
		{"opened: what is scanned afterwards is an empty bag", func(s *story) {
			s.at("16:00").packed("A", "B")
			s.at("17:40").lab().handed("lab-reception", "bag")
			s.at("17:45").unpacked("A")
			s.at("19:00").porter().handed("van", "bag")
		}, "lab-reception", "lab-reception"},
		{"opened a minute before its receipt by another station's clock", func(s *story) {
			s.at("16:00").packed("A", "B")
			s.at("17:39").by("lab.reed", "lab-2").unpacked("A", "B")
			s.at("17:40").by("lab.reed", "lab-1").handed("lab-reception", "bag")
		}, "lab-reception", "lab-reception"},
		{"the packing comes to be known last", func(s *story) {
			s.at("16:30").porter().handed("van", "bag")
			s.at("17:40").lab().handed("lab-reception", "bag")
			s.at("16:00").by("nurse.osei", "room-2").packed("A", "B").Record.Recorded = s.instant("19:00")
		}, "lab-reception in a bag", "lab-reception in a bag"},
		{"the packing is struck", func(s *story) {
			e := s.at("16:00").packed("A", "B")
			s.at("16:30").porter().handed("van", "bag")
			s.at("16:40").struck(e)
		}, "nowhere", "nowhere"},
		{"a scan of the case counts for all its pots", func(s *story) { s.at("16:30").porter().handed("van", "case") }, "van", "van"},
		{"a scan of the case does not take a pot out of its bag", func(s *story) {
			s.at("16:00").packed("A")
			s.at("16:30").porter().handed("van", "case")
			s.at("17:40").lab().handed("lab-reception", "bag")
		}, "lab-reception in a bag", "van"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			s.opened(plan("A", "formalin", "histology"), plan("B", "rpmi", "flow"))
			s.at("15:42").taken("A01", "B01")
			s.potted("A01", "B01")
			tt.tell(s)
			require.Equal(t, tt.a, s.where("A"))
			require.Equal(t, tt.b, s.where("B"))
		})
	}
}

func TestABagsReceiptIsItsPots(t *testing.T) {
	s := roomDone(t)
	s.at("16:00").packed("A")
	s.at("16:30").porter().handed("van", "bag")
	s.at("17:40").lab().handed("lab-reception", "bag")
	require.Empty(t, s.course(tracker.FlagNotAtLab))
	require.Empty(t, s.course(tracker.FlagCustodyBroken))
	require.Empty(t, s.course(tracker.FlagReadBackMissing))
	require.Equal(t, []string{"today handoff-gap A", "watch result-overdue A"}, s.flags("case", "2026-03-14 17:40"), "eight of ten calendar days from the receipt")
}

func TestAPieceInAnotherCasesPotIsAskedAbout(t *testing.T) {
	s := inTheRoom(t)
	wrong := func() *tracker.Event {
		return s.record(&tracker.PiecePotted{Pot: "MBY-26-00418-B"}, "A01")
	}
	s.at("15:43")
	put := wrong()
	require.Equal(t, []string{"Fri 6 Mar 15:43:00 watch A01", "Fri 6 Mar 17:43:00 today A01"}, s.course(tracker.FlagCustodyBroken))
	require.Contains(t, s.flag(tracker.FlagCustodyBroken, "A01", "15:44").Text, "pot B of another case, MBY-26-00418")
	c := tracker.Fold("MBY-26-00417", s.events)
	require.Equal(t, tracker.Name("MBY-26-00417-A"), c.Pieces[0].Pot, "until that is clear it counts where its name says")

	s.at("15:50").struck(put)
	require.NotContains(t, s.flags("case", "15:51"), "watch custody-broken A01")
}
