package tracker_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

func TestALabelIsPrintedAfterTheIdentityCheck(t *testing.T) {
	tests := []struct {
		name string
		tell func(s *story)
		want []string
	}{
		{"checked an hour before", func(s *story) {
			s.at("14:31").checked()
			s.at("15:31").printed("A")
		}, []string{}},
		{"checked an hour and a second before", func(s *story) {
			s.at("14:30:59").checked()
			s.at("15:31").printed("A")
		}, []string{"Fri 6 Mar 15:31:00 now A"}},
		{"checked at the same moment", func(s *story) {
			s.at("15:31").checked()
			s.printed("A")
		}, []string{}},
		{"checked a second after, at the same station", func(s *story) {
			s.at("15:31").printed("A")
			s.at("15:31:01").checked()
		}, []string{"Fri 6 Mar 15:31:00 now A"}},
		{"checked two minutes after by another station's clock", func(s *story) {
			s.at("15:33").by("dr.vale", "tablet-1").checked()
			s.at("15:31").by("nurse.osei", "room-2").reprinted("A", '1', 0).Record.Recorded = s.instant("15:34")
		}, []string{}},
		{"checked two minutes and a second after by another station's clock", func(s *story) {
			s.at("15:33:01").by("dr.vale", "tablet-1").checked()
			s.at("15:31").by("nurse.osei", "room-2").reprinted("A", '1', 0).Record.Recorded = s.instant("15:34")
		}, []string{"Fri 6 Mar 15:34:00 now A"}},
		{"never checked: now until the room is cleared", func(s *story) {
			s.at("15:31").printed("A", "A01")
			s.at("15:56").cleared()
		}, []string{"Fri 6 Mar 15:31:00 now A, now A01", "Fri 6 Mar 15:56:00 today A, today A01"}},
		{"answered too early", func(s *story) {
			s.at("15:31").printed("A")
			s.at("15:40").answered(tracker.FlagLabelBeforeCheck, "A")
			s.at("15:56").cleared()
		}, []string{"Fri 6 Mar 15:31:00 now A", "Fri 6 Mar 15:56:00 today A"}},
		{"answered after the room was cleared", func(s *story) {
			s.at("15:31").printed("A")
			s.at("15:56").cleared()
			s.at("16:10").answered(tracker.FlagLabelBeforeCheck, "A")
		}, []string{"Fri 6 Mar 15:31:00 now A", "Fri 6 Mar 15:56:00 today A", "Fri 6 Mar 16:10:00 -"}},
		{"a request form names no tissue", func(s *story) { s.at("15:31").printed("case") }, []string{}},
		{"a downtime roll is printed for nobody yet", func(s *story) {
			s.at("15:31").record(&tracker.LabelPrinted{Copy: '1', Layout: tracker.LayoutDowntime}, "A")
		}, []string{}},
		{"the check is struck", func(s *story) {
			check := s.at("15:30").checked()
			s.at("15:31").printed("A")
			s.at("15:35").struck(check)
		}, []string{"Fri 6 Mar 15:35:00 now A"}},
		{"the print is struck", func(s *story) {
			print := s.at("15:31").reprinted("A", '1', 0)
			s.at("15:35").struck(print)
		}, []string{"Fri 6 Mar 15:31:00 now A", "Fri 6 Mar 15:35:00 -"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			s.opened(plan("A", "formalin", "histology"))
			tt.tell(s)
			require.Equal(t, tt.want, s.course(tracker.FlagLabelBeforeCheck))
		})
	}
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("15:31").printed("A01")
	f := s.flag(tracker.FlagLabelBeforeCheck, "A01", "15:31")
	require.Equal(t, s.instant("15:31"), f.Since.In(london))
	require.Contains(t, f.Text, "15:31")
	require.Contains(t, f.Text, "60 min")
	require.Equal(t, "operator", f.Who)
}

func TestNoLabelIsLeftOver(t *testing.T) {
	tests := []struct {
		name  string
		thing string
		then  func(s *story)
		want  []string
	}{
		{"unused for two hours", "A", func(*story) {}, []string{"Fri 6 Mar 17:31:00 now A"}},
		{"unused when the room is cleared", "A", func(s *story) { s.at("15:56").cleared() }, []string{"Fri 6 Mar 15:56:00 now A"}},
		{"spoiled a second before", "A", func(s *story) { s.at("17:30:59").spoiled("A", '1') }, []string{}},
		{"spoiled late", "A", func(s *story) { s.at("18:00").spoiled("A", '1') },
			[]string{"Fri 6 Mar 17:31:00 now A", "Fri 6 Mar 18:00:00 -"}},
		{"the spoiling is struck", "A", func(s *story) {
			e := s.at("15:40").spoiled("A", '1')
			s.at("18:00").struck(e)
		}, []string{"Fri 6 Mar 18:00:00 now A"}},
		{"a pot's is used by filling", "A", func(s *story) { s.at("15:35").filled("A/1", "formalin") }, []string{}},
		{"a pot's is used by sealing", "A", func(s *story) { s.at("15:50").sealed("A/1", "nurse.lund", 1) }, []string{}},
		{"a pot's is used by custody", "A", func(s *story) { s.at("16:30").handed("hatch", "A/1") }, []string{}},
		{"a pot's is used by its bag's custody", "A", func(s *story) {
			s.at("16:00").packed("A")
			s.at("16:30").handed("van", "bag")
		}, []string{}},
		{"a pot's is not used by its piece", "A", func(s *story) {
			s.at("15:42").taken("A01")
			s.at("15:43").potted("A01")
		}, []string{"Fri 6 Mar 17:31:00 now A"}},
		{"a piece's is used when it is taken", "A01", func(s *story) { s.at("15:42").taken("A01/1") }, []string{}},
		{"a piece's is used when it is potted", "A01", func(s *story) { s.at("15:43").potted("A01/1") }, []string{}},
		{"a piece's is not used by its pot", "A01", func(s *story) { s.at("15:50").sealed("A/1", "nurse.lund", 1) },
			[]string{"Fri 6 Mar 17:31:00 now A01"}},
		{"the form's is used by custody", "case", func(s *story) { s.at("16:30").handed("hatch", "case/1") }, []string{}},
		{"the form's is used by the accession", "case", func(s *story) { s.at("17:30").accessioned("case") }, []string{}},
		{"the form's is used by clearing the room", "case", func(s *story) { s.at("15:56").cleared() }, []string{}},
		{"used after the room was cleared", "A", func(s *story) {
			s.at("15:56").cleared()
			s.at("15:58").sealed("A/1", "nurse.lund", 1)
		}, []string{"Fri 6 Mar 15:56:00 now A", "Fri 6 Mar 15:58:00 -"}},
		{"named without a scan: the newest copy is meant, the first is loose", "A", func(s *story) {
			s.at("15:33").reprinted("A", '2', '1')
			s.at("15:50").sealed("A", "nurse.lund", 1)
		}, []string{"Fri 6 Mar 17:31:00 now A"}},
		{"a reprint, the first destroyed", "A", func(s *story) {
			s.at("15:33").reprinted("A", '2', '1')
			s.at("15:34").spoiled("A", '1')
			s.at("15:50").sealed("A/2", "nurse.lund", 1)
		}, []string{}},
		{"an answer does not find it", "A", func(s *story) { s.at("18:00").answered(tracker.FlagLabelLeftOver, "A") },
			[]string{"Fri 6 Mar 17:31:00 now A"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			s.opened(plan("A", "formalin", "histology"))
			s.at("15:30").checked()
			s.at("15:31").printed(tt.thing)
			tt.then(s)
			require.Equal(t, tt.want, s.course(tracker.FlagLabelLeftOver))
		})
	}
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("15:31").printed("A")
	f := s.flag(tracker.FlagLabelLeftOver, "A", "17:31")
	require.Equal(t, s.instant("17:31"), f.Since.In(london))
	require.Contains(t, f.Text, "15:31")
	require.Contains(t, f.Text, "2 h")
	require.Contains(t, f.Text, "Copy 1")
	require.Equal(t, "operator", f.Who)
}

func TestABagsLabelIsUsedByPacking(t *testing.T) {
	s := newStory(t)
	s.at("15:31").printed("bag")
	require.Equal(t, []string{"Fri 6 Mar 17:31:00 now bag"}, s.courseOf("bag", tracker.FlagLabelLeftOver))
	s.at("16:00").packed("A")
	require.Empty(t, s.courseOf("bag", tracker.FlagLabelLeftOver))
}

func TestAReplacedLabelMustNotBeScanned(t *testing.T) {
	tests := []struct {
		name string
		then func(s *story)
		want []string
	}{
		{"the new one is scanned", func(s *story) { s.at("15:50").sealed("A/2", "nurse.lund", 1) }, []string{}},
		{"the old one was scanned before it was replaced", func(s *story) {
			s.at("15:32").filled("A/1", "formalin").Record.Recorded = s.instant("15:36")
		}, []string{}},
		{"the old one is scanned", func(s *story) { s.at("15:50").sealed("A/1", "nurse.lund", 1) },
			[]string{"Fri 6 Mar 15:50:00 now A"}},
		{"the pot is named, not scanned", func(s *story) { s.at("15:50").sealed("A", "nurse.lund", 1) }, []string{}},
		{"then destroyed", func(s *story) {
			s.at("15:50").sealed("A/1", "nurse.lund", 1)
			s.at("15:55").spoiled("A", '1')
		}, []string{"Fri 6 Mar 15:50:00 now A", "Fri 6 Mar 15:55:00 -"}},
		{"said to be destroyed, and scanned all the same", func(s *story) {
			s.at("15:40").spoiled("A", '1')
			s.at("15:50").sealed("A/1", "nurse.lund", 1)
		}, []string{"Fri 6 Mar 15:50:00 now A"}},
		{"answered", func(s *story) {
			s.at("15:50").sealed("A/1", "nurse.lund", 1)
			s.at("15:55").answered(tracker.FlagLabelSuperseded, "A")
		}, []string{"Fri 6 Mar 15:50:00 now A", "Fri 6 Mar 15:55:00 -"}},
		{"answered, and scanned again", func(s *story) {
			s.at("15:50").sealed("A/1", "nurse.lund", 1)
			s.at("15:55").answered(tracker.FlagLabelSuperseded, "A")
			s.at("16:30").by("porter.hale", "phone-1").handed("hatch", "A/1")
		}, []string{"Fri 6 Mar 15:50:00 now A", "Fri 6 Mar 15:55:00 -", "Fri 6 Mar 16:30:00 now A"}},
		{"the scan is struck", func(s *story) {
			e := s.at("15:50").sealed("A/1", "nurse.lund", 1)
			s.at("15:52").struck(e)
		}, []string{"Fri 6 Mar 15:50:00 now A", "Fri 6 Mar 15:52:00 -"}},
		{"the replacement is struck", func(s *story) {
			s.at("15:50").sealed("A/1", "nurse.lund", 1)
			s.at("15:52").struck(s.events[3])
		}, []string{"Fri 6 Mar 15:50:00 now A", "Fri 6 Mar 15:52:00 -"}},
		{"a copy of a copy: the first is still old", func(s *story) {
			s.at("15:36").reprinted("A", '3', '2')
			s.at("15:50").sealed("A/1", "nurse.lund", 1)
		}, []string{"Fri 6 Mar 15:50:00 now A"}},
		{"replaced twice: old from the first on", func(s *story) {
			s.at("15:40").reprinted("A", '3', '1')
			s.at("15:37").filled("A/1", "formalin").Record.Recorded = s.instant("15:41")
		}, []string{"Fri 6 Mar 15:41:00 now A"}},
		{"said to be destroyed, and scanned a second later at the same station", func(s *story) {
			s.at("15:40").spoiled("A", '1')
			s.at("15:40:01").sealed("A/1", "nurse.lund", 1)
		}, []string{"Fri 6 Mar 15:40:01 now A"}},
		{"scanned as it was destroyed", func(s *story) {
			s.at("15:40").spoiled("A", '1')
			s.sealed("A/1", "nurse.lund", 1)
		}, []string{}},
		{"replaced twice, the third by a clock that is behind: old from that on", func(s *story) {
			s.at("15:34").reprinted("A", '3', '1').Record.Recorded = s.instant("15:38")
			s.at("15:34:30").handed("hatch", "A/1").Record.Recorded = s.instant("15:39")
		}, []string{"Fri 6 Mar 15:39:00 now A"}},
		{"its replacement was destroyed, and the next had taken over at that moment", func(s *story) {
			s.at("15:50").sealed("A/1", "nurse.lund", 1)
			s.at("16:00").spoiled("A", '2')
			s.reprinted("A", '3', '2')
		}, []string{"Fri 6 Mar 15:50:00 now A"}},
		{"its replacement was destroyed, and replaced a second later: in between it was good", func(s *story) {
			s.at("15:50").sealed("A/1", "nurse.lund", 1)
			s.at("16:00").spoiled("A", '2')
			s.at("16:00:01").reprinted("A", '3', '2')
		}, []string{"Fri 6 Mar 15:50:00 now A", "Fri 6 Mar 16:00:00 -"}},
		{"a note on it is no scan of it", func(s *story) { s.at("15:50").record(&tracker.NoteAdded{Text: "kept"}, "A/1") }, []string{}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			s.opened(plan("A", "formalin", "histology"))
			s.at("15:30").checked()
			s.at("15:31").printed("A")
			s.at("15:35").reprinted("A", '2', '1')
			tt.then(s)
			require.Equal(t, tt.want, s.course(tracker.FlagLabelSuperseded))
		})
	}
	twice := newStory(t)
	twice.opened(plan("A", "formalin", "histology"))
	twice.at("15:31").printed("A")
	twice.at("15:35").reprinted("A", '2', '1')
	twice.reprinted("A", '3', '1')
	twice.at("16:30").handed("hatch", "A/1")
	require.Contains(t, twice.flag(tracker.FlagLabelSuperseded, "A", "16:30").Text, "but copy 2 replaced it", "of two at one moment the first")
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("15:31").printed("A")
	s.at("15:35").reprinted("A", '2', '1')
	s.at("16:30").by("porter.hale", "phone-1").handed("hatch", "A/1")
	f := s.flag(tracker.FlagLabelSuperseded, "A", "16:30")
	require.Equal(t, "porter.hale", f.Who, "who scanned it")
	require.Equal(t, s.instant("16:30"), f.Since.In(london))
	require.Contains(t, f.Text, "Copy 1")
	require.Contains(t, f.Text, "copy 2")
	require.Contains(t, f.Text, "16:30")
	require.Contains(t, f.Text, "15:35")
}

// Who prints on a roll for days without the daemon prints for nobody yet: the label counts for what it is bound to.
func TestALabelFromADowntimeRollCountsForWhatItIsBoundTo(t *testing.T) {
	const roll = "MBY-26-00900-A"
	s := newStory(t)
	s.opened(plan("A", "formalin", "receptors"))
	s.at("09:05").record(&tracker.LabelPrinted{Copy: '1', Layout: tracker.LayoutDowntime}, roll)
	s.at("09:05").record(&tracker.LabelPrinted{Copy: '1', Layout: tracker.LayoutDowntime}, roll+"01")
	s.at("15:42").taken(roll + "01/1")
	s.at("15:43").potted(roll + "01/1")
	s.at("15:50").sealed(roll+"/1", "nurse.lund", 1)
	s.at("15:56").cleared()
	s.at("17:00").bound(roll, "A")

	require.Empty(t, s.flags("case", "16:59"), "before the binding nothing was taken for this case")
	c := tracker.Fold(s.name, s.events)
	require.Len(t, c.Pieces, 1)
	require.Equal(t, s.thing("A01").Name, c.Pieces[0].Name)
	require.Equal(t, s.instant("15:43"), c.Pieces[0].Potted.When)
	require.Len(t, c.Pot(s.thing("A").Name).Seals, 1)
	require.Empty(t, s.flags("case", "17:00"))
	require.Empty(t, s.flags("MBY-26-00900", "2026-03-20 17:00"), "the roll itself waits for nothing")
	require.Equal(t, []string{"now not-at-lab A", "today collection-late A"}, s.flags("case", "2026-03-09 15:42"))
}
