package tracker_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// relabelled says that what is in a pot belongs to another name from now on.
func (s *story) relabelled(pot, to string) *tracker.Event {
	s.t.Helper()
	return s.record(&tracker.PotRelabelled{New: s.thing(to).Name, Why: "torn", Witness: "nurse.lund"}, pot)
}

// countsFor is the one thing of the story's case that a scanned name counted for, by what an answer about it is noted on.
func (s *story) countsFor(scanned string) string {
	s.t.Helper()
	s.answered(tracker.FlagClockDoubtful, scanned)
	c := s.folded()
	s.events = s.events[:len(s.events)-1]
	if len(c.Answers) == 0 {
		return ""
	}
	return s.short(c.Answers[0].Item)
}

// A binding of a roll's label carries along what hangs on it: a pot its pieces, a case its pots and pieces. Source: contract
// page on events, label.bound.
func TestWhatALabelOfARollStandsFor(t *testing.T) {
	const roll = "MBY-26-00900"
	tests := []struct {
		name string
		tell func(s *story)
		want map[string]string // scanned → what it counts for
	}{
		{"a pot for a pot", func(s *story) { s.bound(roll+"-A", "B") },
			map[string]string{roll + "-A": "B", roll + "-A03": "B03", roll + "-C": "", roll + "-C03": "", roll: "", "B": "B", "A": "A"}},
		{"a piece for a piece", func(s *story) { s.bound(roll+"-A03", "B01") },
			map[string]string{roll + "-A03": "B01", roll + "-A04": "", roll + "-A": ""}},
		{"a case for a case", func(s *story) { s.bound(roll, "case") },
			map[string]string{roll: "case", roll + "-A": "A", roll + "-A03": "A03"}},
		{"a pot for a whole case: its pieces are nobody's", func(s *story) { s.bound(roll+"-A", "case") },
			map[string]string{roll + "-A": "case", roll + "-A03": ""}},
		{"a case for a pot: its pots are nobody's", func(s *story) { s.bound(roll, "B") },
			map[string]string{roll: "B", roll + "-A": "", roll + "-A03": ""}},
		{"a case for a case, and one of its pots for another", func(s *story) { s.bound(roll, "case"); s.bound(roll+"-A", "C") },
			map[string]string{roll + "-A": "C", roll + "-A03": "C03", roll + "-B": "B"}},
		{"over another roll", func(s *story) { s.bound(roll+"-A", "MBY-26-00901-A"); s.bound("MBY-26-00901-A", "B") },
			map[string]string{roll + "-A": "B", roll + "-A07": "B07"}},
		{"the binding is struck", func(s *story) { s.struck(s.bound(roll+"-A", "B")) }, map[string]string{roll + "-A": ""}},
		{"to itself", func(s *story) { s.bound("B", "B") }, map[string]string{"B": "B"}},
		{"to each other", func(s *story) { s.bound("A", "B"); s.bound("B", "A") }, map[string]string{"A": "A", "B": "B"}},
		{"a pot relabelled", func(s *story) { s.relabelled("A", "B") }, map[string]string{"A": "B", "B": "B", "A01": "A01", "C": "C"}},
		{"relabelled twice", func(s *story) { s.relabelled("A", "B"); s.relabelled("B", "C") }, map[string]string{"A": "C", "B": "C"}},
		{"relabelled back: it goes round and ends", func(s *story) { s.relabelled("A", "B"); s.relabelled("B", "A") }, map[string]string{"A": "A"}},
		{"the relabelling is struck", func(s *story) { s.struck(s.relabelled("A", "B")) }, map[string]string{"A": "A"}},
		{"bound, then relabelled", func(s *story) { s.bound(roll+"-A", "A"); s.relabelled("A", "B") }, map[string]string{roll + "-A": "B"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			s.opened(plan("A", "formalin", "histology"), plan("B", "formalin", "histology"), plan("C", "formalin", "histology"))
			tt.tell(s)
			for scanned, want := range tt.want {
				require.Equal(t, want, s.countsFor(scanned), scanned)
			}
		})
	}
}

// Chains of bindings and relabellings are followed eight steps, so that every chain ends.
func TestChainsOfLabelsAreFollowedEightSteps(t *testing.T) {
	for steps, want := range map[int]string{7: "A", 8: "A", 9: ""} {
		s := newStory(t)
		s.opened(plan("A", "formalin", "histology"))
		name := func(i int) string { return fmt.Sprintf("MBY-26-009%02d-A", i) }
		for i := range steps - 1 {
			s.bound(name(i), name(i+1))
		}
		s.bound(name(steps-1), "A")
		require.Equal(t, want, s.countsFor(name(0)), steps)
	}
	letters := "ABCDEFGHJKLM"
	for steps, want := range map[int]string{8: "J", 9: "J"} {
		s := newStory(t)
		s.opened(plan("A", "formalin", "histology"))
		for i := range steps {
			s.relabelled(letters[i:i+1], letters[i+1:i+2])
		}
		require.Equal(t, want, s.countsFor("A"), steps)
	}
}

// A piece cut from one that was cut from another has the time of the first, eight steps back at most.
func TestPiecesCutFromPiecesKeepTheirTime(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("10:00").taken("A01")
	for i := 2; i <= 11; i++ {
		s.clock = s.clock.Add(time.Minute)
		from, err := tracker.Name(s.name + "-A").WithPiece(i - 1)
		require.NoError(t, err)
		s.record(&tracker.PieceTaken{Lesion: "L1", What: "core", From: from}, fmt.Sprintf("A%02d", i))
	}
	var got []string
	for _, p := range s.folded().Pieces {
		got = append(got, p.Taken.When.In(london).Format("15:04"))
	}
	require.Equal(t, "10:00", got[8], "eight steps back")
	s = newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("10:01").record(&tracker.PieceTaken{Lesion: "L1", What: "core", From: s.name + "-A02"}, "A01")
	s.at("10:02").record(&tracker.PieceTaken{Lesion: "L1", What: "core", From: s.name + "-A01"}, "A02")
	s.at("10:03").record(&tracker.PieceTaken{Lesion: "L1", What: "core", From: s.name + "-A09"}, "A03")
	s.at("10:04").potted("A05")
	s.at("10:05").record(&tracker.PieceTaken{Lesion: "L1", What: "core", From: s.name + "-A05"}, "A04")
	c := s.folded()
	require.Equal(t, s.instant("10:03"), c.Pieces[2].Taken.When, "nobody knows the piece that it was cut from")
	require.Equal(t, s.instant("10:05"), c.Pieces[3].Taken.When, "nobody knows when that one was taken")
}

// What a protocol holds that no rule can be made of is told with its line.
func TestAProtocolThatCannotBeUsedIsToldWhere(t *testing.T) {
	make := func(change func(p *protocol.Protocol)) error {
		p := protocol.Default()
		change(p)
		_, err := tracker.NewRules(p, time.LoadLocation)
		return err
	}
	require.NoError(t, make(func(*protocol.Protocol) {}))
	require.ErrorContains(t, make(func(p *protocol.Protocol) { p.Zone = "Moon/Tranquillity" }), `zone "Moon/Tranquillity" of the protocol, line `)
	require.ErrorContains(t, make(func(p *protocol.Protocol) {
		c := p.Calendars["england-wales"]
		c.Region = "atlantis"
		p.Calendars["england-wales"] = c
	}), `calendar "england-wales" of the protocol, line `)
	require.ErrorContains(t, make(func(p *protocol.Protocol) {
		p.Rounds = map[string]protocol.Round{"noon": {From: "hatch", To: "lab-reception", Departs: []string{"noon"}}}
	}), `round "noon" of the protocol, line `)
}

// Of several rounds the first departure counts, whatever the order in the file: from the pot's own room, else from the hatch or
// a fridge, else from another room.
func TestTheFirstDepartureOfAnyRoundCounts(t *testing.T) {
	round := func(name, from, departs string) string {
		return fmt.Sprintf("[rounds.%s]\nfrom = %q\nto = \"lab-reception\"\ndays = [\"mon\", \"tue\", \"wed\", \"thu\", \"fri\"]\ndeparts = [%q]\ntakes = \"35m\"\nsource = \"invented\"\n", name, from, departs)
	}
	tests := []struct{ name, rounds, want string }{
		{"the earlier of two", round("a", "hatch", "17:00") + round("b", "fridge", "16:30"), "Fri 6 Mar 17:00:00 today A"},
		{"the earlier of two, told first", round("a", "hatch", "16:30") + round("b", "fridge", "17:00"), "Fri 6 Mar 17:00:00 today A"},
		{"its own room's though later", round("a", "hatch", "16:30") + round("b", "room-2", "17:00"), "Fri 6 Mar 17:30:00 today A"},
		{"another room's if there is no other", round("a", "room-1", "16:30"), "Fri 6 Mar 17:00:00 today A"},
		{"not another room's if one starts at the hatch", round("a", "room-1", "16:30") + round("b", "hatch", "17:00"), "Fri 6 Mar 17:30:00 today A"},
		{"one from the laboratory is none", round("a", "lab-processor", "16:30"), "Fri 6 Mar 19:50:00 today A"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := roomDone(t).under(tt.rounds)
			require.Equal(t, []string{tt.want}, s.course(tracker.FlagCollectionLate))
		})
	}
}

// A word that the protocol lacks is said as it was scanned; whom to ring is said with the number if there is one.
func TestWordsThatTheProtocolLacks(t *testing.T) {
	s := roomDone(t)
	s.at("16:30").porter().handed("moon-base", "A")
	require.Contains(t, s.flag(tracker.FlagNotAtLab, "A", "2026-03-10 09:00").Remedy, "Ring moon-base: porter.hale had it last")
	s.rules = changedRules(t, func(p *protocol.Protocol) {
		p.Places["moon-base"] = protocol.Place{Role: "hatch", Contact: "01-440 220"}
		p.Contacts = map[string]string{"laboratory": "01-440 221"}
	})
	require.Contains(t, s.flag(tracker.FlagNotAtLab, "A", "2026-03-10 09:00").Remedy, "Ring moon-base (01-440 220): porter.hale had it last")
	s = inTheRoom(t)
	s.rules = changedRules(t, func(p *protocol.Protocol) { p.Contacts = map[string]string{"laboratory": "01-440 221"} })
	s.at("17:00").potted("A01")
	require.Contains(t, s.flag(tracker.FlagColdIschaemiaLong, "A01", "17:00").Remedy, "Tell the laboratory (01-440 221)")

	s = newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("15:42").record(&tracker.PieceTaken{Lesion: "L1"}, "A07")
	s.at("16:50").potted("A07")
	require.Contains(t, s.flag(tracker.FlagColdIschaemiaLong, "A07", "16:50").Text, "Piece 07 of pot A left")
	s.at("15:43").record(&tracker.PieceTaken{Lesion: "L1", What: "slide"}, "A12")
	s.at("16:51").potted("A12")
	require.Contains(t, s.flag(tracker.FlagColdIschaemiaLong, "A12", "16:51").Text, "Slide 12 of pot A left")
}
