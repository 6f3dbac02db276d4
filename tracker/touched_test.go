package tracker_test

import (
	"errors"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// judgesBag reports whether an event has the bag judged again, with all that was told.
func (s *story) judgesBag(e *tracker.Event) bool {
	s.t.Helper()
	touched, err := tracker.Touched(e, loadFrom(s.events))
	require.NoError(s.t, err)
	return slices.Contains(touched, s.bag)
}

// What befalls a pot after its bag was unpacked, and it was in it, says nothing new of the bag. A laboratory scans that all
// day, so it is not judged again. Whatever is out of the ordinary has it judged.
func TestABagIsJudgedAgainWhereItCouldChange(t *testing.T) {
	tests := []struct {
		name string
		tell func(s *story) *tracker.Event
		want bool
	}{
		{"accessioned after the bag was unpacked", func(s *story) *tracker.Event { return s.at("17:42:01").accessioned("A") }, false},
		{"the same with its case", func(s *story) *tracker.Event { return s.at("17:42:01").accessioned("case") }, false},
		{"a piece loaded", func(s *story) *tracker.Event { return s.at("18:42").loaded("A01", "") }, false},
		{"a note", func(s *story) *tracker.Event { return s.at("18:42").record(&tracker.NoteAdded{Text: "pale"}, "A") }, false},
		{"read by a clinician", func(s *story) *tracker.Event { return s.at("18:42").seen() }, false},
		{"two minutes after it was unpacked", func(s *story) *tracker.Event { return s.at("17:42").accessioned("A") }, true},
		{"a scan of before comes late", func(s *story) *tracker.Event { return s.at("17:00").porter().handed("hatch", "A") }, true},
		{"a pot that was not found", func(s *story) *tracker.Event { return s.at("18:42").accessioned("C") }, true},
		{"a pot that was found and not packed", func(s *story) *tracker.Event { return s.at("18:42").accessioned("D") }, true},
		{"one of them beside one that is plain", func(s *story) *tracker.Event {
			return s.at("18:42").record(&tracker.LabAccessioned{Number: "T26-1"}, "A", "C")
		}, true},
		{"packed again since", func(s *story) *tracker.Event {
			s.at("18:30").packed("B")
			return s.at("18:42").accessioned("A")
		}, true},
		{"packed by another clock when it was unpacked", func(s *story) *tracker.Event {
			s.at("17:39").by("nurse.osei", "room-2").packed("B")
			return s.at("18:42").lab().accessioned("A")
		}, true},
		{"unpacked twice", func(s *story) *tracker.Event {
			s.at("17:45").unpacked("D")
			return s.at("18:42").accessioned("A")
		}, true},
		{"something of the bag is struck", func(s *story) *tracker.Event {
			s.at("17:45").struck(s.packings()[0])
			return s.at("18:42").accessioned("A")
		}, true},
		{"something of the case is struck", func(s *story) *tracker.Event {
			s.at("17:45").struck(s.events[1])
			return s.at("18:42").accessioned("A")
		}, true},
		{"its own scan came between", func(s *story) *tracker.Event {
			s.at("17:00").porter().handed("hatch", "A")
			return s.at("18:42").lab().accessioned("A")
		}, true},
		{"another pot's own scan came between", func(s *story) *tracker.Event {
			s.at("17:00").porter().handed("hatch", "B")
			return s.at("18:42").lab().accessioned("A")
		}, false},
		{"its own scan came before it was packed", func(s *story) *tracker.Event {
			s.at("15:57:59").porter().handed("hatch", "A")
			return s.at("18:42").lab().accessioned("A")
		}, false},
		{"its own scan came when it was packed, as far as clocks tell", func(s *story) *tracker.Event {
			s.at("15:58").porter().handed("hatch", "A")
			return s.at("18:42").lab().accessioned("A")
		}, true},
		{"another bag is said to have had it", func(s *story) *tracker.Event {
			s.at("17:00").record(&tracker.BagPacked{Pots: s.names("A")}, "MBY-26-00013-Z")
			return s.at("18:42").accessioned("A")
		}, true},
		{"another bag takes it on from there", func(s *story) *tracker.Event {
			s.at("18:00").record(&tracker.BagPacked{Pots: s.names("A")}, "MBY-26-00013-Z")
			return s.at("18:42").accessioned("A")
		}, false},
		{"a label stands for it", func(s *story) *tracker.Event {
			s.at("15:57").bound("MBY-26-00900-A", "A")
			return s.at("18:42").lab().accessioned("A")
		}, true},
		{"scanned by a label that stands for it", func(s *story) *tracker.Event {
			s.at("15:57").bound("MBY-26-00900-A", "A")
			return s.at("18:42").lab().accessioned("MBY-26-00900-A")
		}, true},
		{"it is filled again", func(s *story) *tracker.Event { return s.at("18:42").filled("A", "saline") }, true},
		{"it is given another label", func(s *story) *tracker.Event {
			return s.at("18:42").record(&tracker.PotRelabelled{New: s.thing("B").Name, Why: "mixed up", Witness: "dr.vale"}, "A")
		}, true},
		{"the request is amended", func(s *story) *tracker.Event {
			return s.at("18:42").amended(tracker.CaseAmended{Pots: []tracker.PlannedPot{plan("A", "saline", "culture")}})
		}, true},
		{"an event of its case is struck", func(s *story) *tracker.Event { return s.at("18:42").struck(s.events[1]) }, true},
		{"another bag is packed with what was in this one", func(s *story) *tracker.Event {
			return s.at("18:42").record(&tracker.BagPacked{Pots: s.names("A")}, "MBY-26-00013-Z")
		}, true},
		{"the packing of another bag is struck", func(s *story) *tracker.Event {
			e := s.at("18:00").record(&tracker.BagPacked{Pots: s.names("A")}, "MBY-26-00013-Z")
			return s.at("18:42").struck(e)
		}, true},
		{"another bag that it was in changes hands", func(s *story) *tracker.Event {
			s.at("18:00").record(&tracker.BagPacked{Pots: s.names("A")}, "MBY-26-00013-Z")
			return s.at("18:42").handed("van", "MBY-26-00013-Z")
		}, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			s.opened(plan("A", "formalin", "histology"), plan("B", "formalin", "histology"), plan("C", "formalin", "histology"))
			s.at("15:42").taken("A01", "B01", "C01", "D01")
			s.at("16:00").packed("A", "B", "C")
			s.at("16:30").porter().handed("van", "bag")
			s.at("17:40").lab().unpacked("A", "B", "D")
			require.Equal(t, tt.want, s.judgesBag(tt.tell(s)))
		})
	}
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("16:00").packed("A")
	require.True(t, s.judgesBag(s.at("17:40").lab().accessioned("A")), "still in it")
}

// What cannot be read is told, wherever it comes up.
func TestABagWhosePotsCannotBeReadIsNotJudged(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("16:00").packed("A")
	s.at("16:10").record(&tracker.BagPacked{Pots: s.names("A")}, "MBY-26-00013-Z")
	e := s.at("16:20").porter().handed("hatch", "A")
	broken := errors.New("the page is damaged")
	for _, name := range []tracker.Name{s.name, s.bag, "MBY-26-00013-Z"} {
		load := func(n tracker.Name) ([]*tracker.Event, error) {
			if n == name {
				return nil, broken
			}
			return loadFrom(s.events)(n)
		}
		_, err := tracker.Gather(s.bag, load)
		require.ErrorIs(t, err, broken, name)
		_, err = tracker.Touched(e, load)
		require.ErrorIs(t, err, broken, name)
		_, err = tracker.Touched(&tracker.Event{Kind: tracker.KindEventStruck, Items: []tracker.Item{{Name: s.bag}}, Data: &tracker.EventStruck{}}, load)
		require.ErrorIs(t, err, broken, name)
	}
}
