package tracker_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// TestAWeekendRunIsLongInFormalin: page 2, lab.loaded: where the laboratory says no time, fixation ends when the protocol says
// that the run leaves formalin. A run over nights counts its midnights from the day that it belongs to. Potted on Friday 6 March
// at 15:43; the limit for receptors is 72 h (ASCO/CAP 2011 clarification, FAQ 3).
func TestAWeekendRunIsLongInFormalin(t *testing.T) {
	const block = "[runs.weekend]\nplace = \"lab-processor\"\ndays = [\"fri\"]\ncutoff = \"%s\"\nload = \"%s\"\nleaves = \"%s\"\nnights = %d\nsource = \"our laboratory\"\n\n[studies.histology]\n"
	for _, tt := range []struct {
		name         string
		load, leaves string
		nights       int
		loaded       string
		ends         string // "": inside the window
	}{
		{"until Monday at 15:43, 72 h to the minute", "18:00", "15:43", 3, "18:05", ""},
		{"until Monday at 15:44", "18:00", "15:44", 3, "18:05", "Mon 9 Mar 15:44"},
		{"loaded early", "18:00", "15:44", 3, "16:10", "Mon 9 Mar 15:44"},
		{"loaded after midnight, as the run of the evening before", "23:30", "15:44", 3, "2026-03-07 00:10", "Mon 9 Mar 15:44"},
		{"a day and a night, to a later hour", "18:00", "19:00", 1, "18:05", ""},
		{"the same, and the next day's", "18:00", "15:44", 4, "18:05", "Tue 10 Mar 15:44"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := newStory(t)
			s.rules = rulesWith(t, "[studies.histology]\n", fmt.Sprintf(block, "16:00", tt.load, tt.leaves, tt.nights))
			s.opened(plan("A", "formalin", "receptors"))
			s.at("15:42").taken("A01")
			s.at("15:43").potted("A01")
			s.at("15:50").sealed("A", "nurse.lund", 1)
			s.at("15:56").cleared()
			s.at("16:00").lab().handed("lab-reception", "A")
			s.at(tt.loaded).record(&tracker.LabLoaded{Run: "weekend"}, "A")
			s.none(tracker.FlagFixationShort, "2026-03-07 01:00")
			if tt.ends == "" {
				s.none(tracker.FlagFixationLong, "2026-03-12 12:00")
				return
			}
			f := s.flag(tracker.FlagFixationLong, "A", "2026-03-12 12:00")
			require.Contains(t, f.Text, tt.ends)
		})
	}
}
