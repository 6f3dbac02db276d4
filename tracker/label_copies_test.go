package tracker_test

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/tracker"
)

// account is a room's own book of the labels of one pot, kept beside the program's.
type account struct {
	printed  map[tracker.Copy]time.Time
	replaces map[tracker.Copy]tracker.Copy
	spoiled  map[tracker.Copy]time.Time // the last time
	gone     map[tracker.Copy]time.Time // the first time
	used     map[tracker.Copy]bool
	scans    []struct {
		copy tracker.Copy
		when time.Time
	}
	cleared []time.Time
	instant []time.Time // of each entry
}

// replaced says whether a copy's place was taken as of an instant: by a copy that was not destroyed by then, or whose own
// place was taken.
func (a *account) replaced(c tracker.Copy, at time.Time) bool {
	for by, old := range a.replaces {
		if old != c || a.printed[by].After(at) {
			continue
		}
		if gone, ok := a.gone[by]; !ok || gone.After(at) || a.replaced(by, at) {
			return true
		}
	}
	return false
}

// about lists the copies that are neither destroyed nor replaced as of an instant.
func (a *account) about(at time.Time) []tracker.Copy {
	var about []tracker.Copy
	for c, when := range a.printed {
		if gone, ok := a.gone[c]; !when.After(at) && (!ok || gone.After(at)) && !a.replaced(c, at) {
			about = append(about, c)
		}
	}
	slices.Sort(about)
	return about
}

// The five states that a copy can be in, and no sixth.
const (
	isSpoiled  = "spoiled"
	isReplaced = "replaced"
	isUsed     = "used"
	isLeftOver = "left over"
	isWaiting  = "waiting"
)

// state is where a copy is as of an instant after all entries.
func (a *account) state(c tracker.Copy, now time.Time) string {
	limit := a.printed[c].Add(2 * time.Hour)
	for _, t := range a.cleared {
		if !t.Before(a.printed[c]) && t.Before(limit) {
			limit = t
		}
	}
	_, spoiled := a.spoiled[c]
	switch {
	case spoiled:
		return isSpoiled
	case a.used[c] && a.replaced(c, now):
		return isReplaced
	case a.used[c]:
		return isUsed
	case !now.Before(limit):
		return isLeftOver
	}
	return isWaiting
}

// oldScanned says whether a copy was scanned that was on record as destroyed, or replaced from the scan on, and is not
// destroyed since.
func (a *account) oldScanned(now time.Time) bool {
	return slices.ContainsFunc(a.scans, func(s struct {
		copy tracker.Copy
		when time.Time
	}) bool {
		if gone, ok := a.spoiled[s.copy]; ok {
			return s.when.After(gone)
		}
		if !a.replaced(s.copy, s.when) || !a.replaced(s.copy, now) {
			return false
		}
		return !slices.ContainsFunc(a.instant, func(t time.Time) bool { return t.After(s.when) && !a.replaced(s.copy, t) })
	})
}

// Over any history of prints, reprints, scans and destroyed labels each copy is in exactly one place: used, waiting, left
// over and flagged, destroyed, or replaced; and the program's book agrees with the room's.
func TestLawEveryLabelIsAccountedFor(t *testing.T) {
	seen := map[string]int{}
	rapid.Check(t, func(rt *rapid.T) {
		s := newStory(t)
		s.opened(plan("A", "formalin", "histology"))
		s.at("09:30").checked()
		a := &account{printed: map[tracker.Copy]time.Time{}, replaces: map[tracker.Copy]tracker.Copy{}, spoiled: map[tracker.Copy]time.Time{}, gone: map[tracker.Copy]time.Time{}, used: map[tracker.Copy]bool{}}
		copies := func() []tracker.Copy { return slices.Sorted(maps.Keys(a.printed)) }
		for range rapid.IntRange(1, 12).Draw(rt, "entries") {
			s.clock = s.clock.Add(time.Duration(rapid.IntRange(1, 50).Draw(rt, "minutes")) * time.Minute)
			a.instant = append(a.instant, s.clock)
			about := a.about(s.clock)
			switch what := rapid.SampledFrom([]string{"print", "print", "scan", "scan", "spoil", "clear"}).Draw(rt, "entry"); {
			case what == "print" || len(a.printed) == 0:
				copy := tracker.Copy("123456789ABC"[len(a.printed)])
				var replaces tracker.Copy
				if len(about) > 0 && rapid.Bool().Draw(rt, "replaces") {
					replaces = rapid.SampledFrom(about).Draw(rt, "which")
				}
				s.reprinted("A", copy, replaces)
				a.printed[copy], a.replaces[copy] = s.clock, replaces
			case what == "scan":
				copy := rapid.SampledFrom(copies()).Draw(rt, "which")
				s.filled("A/"+copy.String(), "formalin")
				a.used[copy] = true
				a.scans = append(a.scans, struct {
					copy tracker.Copy
					when time.Time
				}{copy, s.clock})
			case what == "spoil":
				copy := rapid.SampledFrom(copies()).Draw(rt, "which")
				s.spoiled("A", copy)
				a.spoiled[copy] = s.clock
				if _, already := a.gone[copy]; !already {
					a.gone[copy] = s.clock
				}
			default:
				s.cleared()
				a.cleared = append(a.cleared, s.clock)
			}
		}
		now := s.clock.Add(time.Duration(rapid.IntRange(0, 200).Draw(rt, "later")) * time.Minute)

		states := map[tracker.Copy]string{}
		var over []string
		for _, c := range copies() {
			states[c] = a.state(c, now)
			seen[states[c]]++
			if states[c] == isLeftOver {
				over = append(over, c.String())
			}
		}
		folded := tracker.Fold(s.name, s.events)
		var about []tracker.Copy
		for _, l := range tracker.Copies(folded.Labels, s.thing("A").Name) {
			about = append(about, l.Copy)
		}
		require.Equal(rt, a.about(now), about, "which copies are about: %v", states)
		for _, l := range folded.Labels {
			by, _ := tracker.Replacement(folded.Labels, l)
			require.Equal(rt, a.replaced(l.Copy, now), by != nil, "copy %s is replaced: %v", l.Copy, states)
		}

		found := tracker.Judge(s.name, s.events, s.rules, now).Findings
		flagged := func(kind tracker.FlagKind) string {
			for _, f := range found.Flags {
				if f.Kind == kind {
					return f.Text
				}
			}
			return ""
		}
		text := flagged(tracker.FlagLabelLeftOver)
		switch len(over) {
		case 0:
			require.Empty(rt, text, "%v", states)
		case 1:
			require.Contains(rt, text, "Copy "+over[0]+" of the label of pot A", "%v", states)
		default:
			require.Contains(rt, text, fmt.Sprintf("Copies %s and %s of the label of pot A", strings.Join(over[:len(over)-1], ", "), over[len(over)-1]), "%v", states)
		}
		require.Equal(rt, a.oldScanned(now), flagged(tracker.FlagLabelSuperseded) != "", "%v %s", states, flagged(tracker.FlagLabelSuperseded))
	})
	for _, state := range []string{isSpoiled, isReplaced, isUsed, isLeftOver, isWaiting} {
		require.Positive(t, seen[state], "no copy was ever %s: the law shows nothing", state)
	}
}

// What a room prints for a case at once: what has no label yet, in the order in which the hand needs it.
func TestTheLabelsThatACaseNeeds(t *testing.T) {
	carried := func(letter, carrier string, pieces int) tracker.PlannedPot {
		p := plan(letter, "formalin", "histology")
		p.Carrier, p.Pieces = carrier, pieces
		return p
	}
	labeled := func(carrier string) bool { return carrier != "loose" && carrier != "foam" }
	for name, tt := range map[string]struct {
		tell func(s *story)
		want string
	}{
		"at first, all: loose cores and those on foam have none": {func(*story) {}, "A A01 A02 B C D D01 case"},
		"what is printed is not needed":                          {func(s *story) { s.printed("A", "A02", "case") }, "A01 B C D D01"},
		"what was destroyed is needed again":                     {func(s *story) { s.printed("A", "A01"); s.spoiled("A", '1') }, "A A02 B C D D01 case"},
		"a replacement that was destroyed gives the place back": {func(s *story) {
			s.printed("A")
			s.reprinted("A", '2', '1')
			s.spoiled("A", '2')
		}, "A01 A02 B C D D01 case"},
		"a core more than was planned":              {func(s *story) { s.taken("A03") }, "A A01 A02 A03 B C D D01 case"},
		"a core that came loose is its pot's":       {func(s *story) { s.taken("B01") }, "A A01 A02 B C D D01 case"},
		"a pot that nobody planned has its own":     {func(s *story) { s.taken("E01") }, "A A01 A02 B C D D01 E case"},
		"a pot that was thrown away needs none":     {func(s *story) { s.discarded("C") }, "A A01 A02 B D D01 case"},
		"when it has ended, what is empty does not": {func(s *story) { s.taken("A01"); s.ended("done") }, "A A01 case"},
		"what is said to be unused does not":        {func(s *story) { s.taken("A01", "D01"); s.ended("done", "D") }, "A A01 case"},
		"a label of a roll stands for its pot": {func(s *story) {
			s.record(&tracker.LabelPrinted{Copy: '1', Layout: tracker.LayoutDowntime}, "MBY-26-00900-C")
			s.bound("MBY-26-00900-C", "A")
		}, "A01 A02 B C D D01 case"},
		"one that was destroyed does not": {func(s *story) {
			s.bound("MBY-26-00900-C", "A")
			s.record(&tracker.LabelSpoiled{Copy: '1', Why: "torn"}, "MBY-26-00900-C")
		}, "A A01 A02 B C D D01 case"},
		"that of a whole case stands for what is on the roll": {func(s *story) {
			s.record(&tracker.LabelPrinted{Copy: '1', Layout: tracker.LayoutDowntime}, "MBY-26-00900", "MBY-26-00900-A", "MBY-26-00900-A01")
			s.bound("MBY-26-00900", "case")
		}, "A02 B C D D01"},
	} {
		t.Run(name, func(t *testing.T) {
			s := newStory(t)
			s.opened(carried("A", "cassette", 2), carried("B", "loose", 3), carried("C", "foam", 2), carried("D", "", 1))
			s.at("10:00")
			tt.tell(s)
			var got []string
			for _, n := range s.folded().LabelsNeeded(labeled) {
				got = append(got, s.short(n))
			}
			require.Equal(t, tt.want, strings.Join(got, " "))
		})
	}
}

// Copies that make no sense are taken as they stand: one that replaces itself or a later one replaces nothing, and one that
// was scanned and never printed is not about.
func TestOddCopiesReplaceNothing(t *testing.T) {
	about := func(tell func(s *story)) string {
		s := newStory(t)
		s.opened(plan("A", "formalin", "histology"))
		s.at("10:00")
		tell(s)
		text := ""
		for _, l := range tracker.Copies(s.folded().Labels, s.thing("A").Name) {
			text += l.Copy.String()
		}
		return text
	}
	require.Equal(t, "12", about(func(s *story) { s.reprinted("A", '1', 0); s.reprinted("A", '2', '2') }))
	require.Equal(t, "12", about(func(s *story) { s.reprinted("A", '1', '2'); s.reprinted("A", '2', 0) }))
	require.Equal(t, "2", about(func(s *story) { s.reprinted("A", '1', '2'); s.reprinted("A", '2', '1') }))
	require.Equal(t, "1", about(func(s *story) { s.reprinted("A", '1', 0); s.filled("A/3", "formalin") }))
	require.Equal(t, "9A", about(func(s *story) { s.reprinted("A", '9', 0); s.reprinted("A", 'A', 0); s.printed("A01") }), "letters come after figures")
	require.Equal(t, "1", about(func(s *story) { s.reprinted("A", '1', 0); s.reprinted("A", '2', '1'); s.spoiled("A", '2') }))
}

// Two copies were printed by stations of which one's clock is behind: the earlier limit counts for both.
func TestCopiesLeftOverAreDueWithTheFirst(t *testing.T) {
	s := newStory(t)
	s.opened(plan("A", "formalin", "histology"))
	s.at("09:30").checked()
	s.at("09:51").reprinted("A", '1', 0)
	s.at("09:50").reprinted("A", '2', 0).Record.Recorded = s.instant("09:52")
	f := s.flag(tracker.FlagLabelLeftOver, "A", "12:00")
	require.Equal(t, s.instant("11:50"), f.Since.In(london))
	require.Contains(t, f.Text, "Copies 1 and 2 of the label of pot A, the first printed Fri 6 Mar 09:50")
}

// A pot has 99 pieces at most, whatever the plan says.
func TestAPlanOfTooManyPiecesNamesThoseThereCanBe(t *testing.T) {
	s := newStory(t)
	many := plan("A", "formalin", "histology")
	many.Pieces = 120
	s.opened(many)
	needed := s.folded().LabelsNeeded(func(string) bool { return true })
	require.Len(t, needed, 1+99+1)
	require.NotContains(t, needed, tracker.Name(""))
}
