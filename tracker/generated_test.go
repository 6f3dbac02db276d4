package tracker_test

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// generated is one of a series of drawn histories: always the same for a number. Two of three have their times drawn
// together, so that much happens in the same second, where it matters whether a rule says "before" or "not after".
func generated(number int) history {
	h := rapid.Custom(func(t *rapid.T) history { return drawHistory(t) }).Example(number)
	together := []time.Duration{0, 30 * time.Minute, 24 * time.Hour}[number%3]
	for _, e := range h.events {
		if together > 0 {
			e.At = e.At.Truncate(together)
			if !e.Record.Recorded.IsZero() {
				e.Record.Recorded = e.Record.Recorded.Truncate(together)
			}
		}
	}
	return h
}

// TestGeneratedHistoriesKeepTheirCourse pins the whole course of 120 generated histories by a sum each: state, findings and
// sentences at every event and wake. It says nothing about what is right, that is for the other tests; it notices that
// something changed where nothing should have. -update writes the sums anew.
func TestGeneratedHistoriesKeepTheirCourse(t *testing.T) {
	own := changedRules(t, func(p *protocol.Protocol) {
		p.TargetSet = "european-breast-2006"
		for key, w := range map[string]protocol.Window{"histology": {Min: hours(2)}, "stains": {Min: hours(1), Max: hours(20)}, "cytology": {Max: hours(30)}} {
			s := p.Studies[key]
			w.Source = "invented"
			s.Window = &w
			p.Studies[key] = s
		}
		p.Rounds = map[string]protocol.Round{
			"noon":  {From: "hatch", To: "lab-reception", Days: []string{"mon", "tue", "wed", "thu", "fri"}, Departs: []string{"10:00", "12:00"}},
			"night": {From: "room-2", To: "lab-reception", Days: []string{"sat", "fri"}, Departs: []string{"11:00"}, Daily: true},
		}
		p.Staff = map[string][]string{"operator": {"nurse.osei"}, "porter": {"porter.lund"}, "clinician": {"dr.varga"}}
	})
	standard, forecasting := defaultRules(t), rulesWithVans(t, vans)
	var lines []string
	for number := range 120 {
		h := generated(number)
		rules := []*tracker.Rules{standard, own, forecasting}[number/3%3]
		sentences := map[string]bool{}
		filed := tracker.File(h.events)
		sum := sha256.New()
		changes := 0
		for _, watched := range append(h.watched, "MBY/room-1/"+tracker.Name(start.Format(time.DateOnly)), "MBY/room-2/"+tracker.Name(start.Format(time.DateOnly))) {
			gathered, err := tracker.Gather(watched, func(n tracker.Name) ([]*tracker.Event, error) { return filed[n], nil })
			require.NoError(t, err)
			if len(gathered) == 0 {
				continue
			}
			course := diaryOf(watched, gathered, rules, sentences)
			changes += len(course)
			state, err := json.Marshal([]any{tracker.Judge(watched, gathered, rules, start.AddDate(0, 0, 3)), tracker.Fold(watched, gathered), tracker.FoldBag(watched, gathered), course})
			require.NoError(t, err)
			sum.Write(state)
		}
		all, err := json.Marshal(sentences)
		require.NoError(t, err)
		sum.Write(all)
		lines = append(lines, fmt.Sprintf("%d\t%d changes\t%x", number, changes, sum.Sum(nil)[:8]))
	}
	const name = "testdata/diary/generated.tsv"
	text := strings.Join(lines, "\n") + "\n"
	if *update {
		require.NoError(t, os.WriteFile(name, []byte(text), 0o644))
	}
	want, err := os.ReadFile(name)
	require.NoError(t, err)
	if string(want) != text {
		t.Errorf("%s: %s\n\tgo test -run TestGeneratedHistoriesKeepTheirCourse -update writes it anew, if the change is meant", name, firstDifference(string(want), text))
	}
}
