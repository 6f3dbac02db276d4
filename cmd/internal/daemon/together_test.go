package daemon

import (
	"crypto/sha256"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// TestNoticesOfAChangeOfRulesComeTogether: a clinic adopts a protocol that flags each of its open cases; while they are
// judged again in small steps nobody is told of any, then of all.
func TestNoticesOfAChangeOfRulesComeTogether(t *testing.T) {
	l := storetest.Open(t, storetest.Path(t), store.Options{})
	now := storetest.Morning()
	const cases = 7
	id := func() tracker.EventID { return tracker.EventID(uuid.Must(uuid.NewV7()).String()) }
	for i := range cases {
		name, err := tracker.CaseName("MBY", 26, i+1)
		require.NoError(t, err)
		storetest.Record(t, l, now, &tracker.Event{ID: id(), Kind: tracker.KindCaseOpened, Clinic: "MBY", At: now, By: "nurse.osei", Station: "room-2",
			Items: []tracker.Item{{Name: name}}, Data: &tracker.CaseOpened{Patient: "p", Priority: "routine",
				Lesions: []tracker.Lesion{{Key: "L1", Organ: "other"}},
				Pots:    []tracker.PlannedPot{{Pot: "A", Lesion: "L1", Medium: "saline", Studies: []string{"culture"}}}}})
	}
	storetest.CatchUp(t, l, now)
	text := strings.Replace(protocol.Default().Text, `serves = ["culture", "tb", "thyroglobulin"]`, `serves = ["thyroglobulin"]`, 1)
	text = strings.Replace(text, `loss = ["culture", "tb", "crystals"]`, `loss = ["crystals"]`, 1)
	text = strings.Replace(text, `serves = ["flow", "karyotype"]`, `serves = ["flow", "karyotype", "culture", "tb"]`, 1)
	from := source{Ledger: l}
	told := func() []string {
		entries, err := from.FlagChanges(1, 100)
		require.NoError(t, err)
		var kinds []string
		for _, e := range entries {
			require.Equal(t, events.ChangeRaised, e.Change.Change)
			kinds = append(kinds, string(e.Change.Flag.Kind))
		}
		return kinds
	}
	require.Empty(t, told())
	storetest.Record(t, l, now.Add(time.Minute), &tracker.Event{ID: id(), Kind: tracker.KindProtocolAdopted, Clinic: "MBY", At: now.Add(time.Minute), By: "lead.varga",
		Station: "desk", Data: &tracker.ProtocolAdopted{SHA256: fmt.Sprintf("%x", sha256.Sum256([]byte(text))), Text: text}})
	steps := 0
	for l.Sweeping() {
		require.Empty(t, told(), "step %d", steps)
		_, err := l.Recheck(now.Add(time.Minute), 2)
		require.NoError(t, err)
		steps++
	}
	require.Greater(t, steps, 3)
	require.Len(t, told(), cases)

	all, err := l.Adoptions("MBY")
	require.NoError(t, err)
	require.Len(t, all, 2)
	flags, err := l.OpenFlags()
	require.NoError(t, err)
	gathered, err := l.Events(flags[0].Case)
	require.NoError(t, err)
	under := tracker.RaisedUnder(flags[0], flags[0].Case, gathered, all)
	require.Equal(t, "lead.varga", under.By, "true since before, but by the new rules alone")
}
