package storetest

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/tracker"
)

func isClosed(err error) bool { return errors.Is(err, store.ErrClosed) }

// Run is what every ledger must do. New opens an empty one for a test; it is checked when the test is over.
func Run(t *testing.T, fresh func(t testing.TB) *store.Ledger) {
	noon := Morning().Add(4 * time.Hour)
	tests := []struct {
		name string
		test func(t *testing.T, l *store.Ledger)
	}{
		{"positions are gapless and the bytes are kept", func(t *testing.T, l *store.Ledger) {
			list := Life(1, 3)
			for i, v := range Record(t, l, noon, list...) {
				require.EqualValues(t, i+1, v.Seq)
			}
			entries, err := l.EventsFrom(1, 0)
			require.NoError(t, err)
			require.Len(t, entries, len(list))
			for i, entry := range entries {
				e, err := entry.Event()
				require.NoError(t, err)
				require.True(t, events.Same(e, list[i]), "entry %d", i+1)
				require.Equal(t, tracker.Record{Seq: uint64(i + 1), OSeq: uint64(i + 1), Origin: l.Origin(), Recorded: noon}, e.Record)
				require.Equal(t, entry.OSeq, e.Record.OSeq)
				require.Equal(t, entry.Origin, e.Record.Origin)
			}
			seq, recorded := l.Last()
			require.EqualValues(t, len(list), seq)
			require.Equal(t, noon, recorded)
		}},
		{"the same event again changes nothing and gets the first answer", func(t *testing.T, l *store.Ledger) {
			list := Life(2, 4)
			now := list[len(list)-1].At.Add(time.Hour)
			first := Record(t, l, now, list...)
			before := Dump(t, l)
			again := Record(t, l, now.Add(time.Hour), list...)
			require.Equal(t, first, again, "warnings included")
			require.Equal(t, before, Dump(t, l))
		}},
		{"twice in one batch counts once", func(t *testing.T, l *store.Ledger) {
			e := Life(3, 1)[0]
			verdicts := Record(t, l, noon, e, e, e)
			require.Equal(t, verdicts[0], verdicts[1])
			require.Equal(t, verdicts[0], verdicts[2])
			seq, _ := l.Last()
			require.EqualValues(t, 1, seq)
		}},
		{"an id used for something else is refused", func(t *testing.T, l *store.Ledger) {
			e := Life(4, 1)[0]
			Record(t, l, noon, e)
			other := *e
			other.By = "somebody.else"
			same := *e
			same.Entered = tracker.EnteredScan
			verdicts, err := l.Record(noon, Intakes(&other, &same))
			require.NoError(t, err)
			require.False(t, verdicts[0].OK)
			require.Equal(t, events.CodeDifferentContent, verdicts[0].Error.Code)
			require.Equal(t, "id", verdicts[0].Error.Field)
			require.True(t, verdicts[1].OK, "the default spelled out says the same")
		}},
		{"the recorder's time never goes back, and skew is measured", func(t *testing.T, l *store.Ledger) {
			list := Life(5, 1)
			Record(t, l, noon, list[0])
			verdicts, err := l.Record(noon.Add(-time.Hour), []store.Intake{{Event: list[1], SentAt: noon.Add(-time.Hour - 3*time.Second)}})
			require.NoError(t, err)
			require.True(t, verdicts[0].OK)
			entries, err := l.ByOrigin("", 2, 1)
			require.NoError(t, err)
			e, err := entries[0].Event()
			require.NoError(t, err)
			require.Equal(t, noon, e.Record.Recorded)
			require.Equal(t, 3*time.Second, e.Record.Skew)
		}},
		{"a verdict tells what the event raised and cleared", func(t *testing.T, l *store.Ledger) {
			list := Life(6, 1)
			opened := list[0]
			piece := must(must(opened.Items[0].Name.WithPot("A")).WithPiece(1))
			taken := newEvent(noon, "018f0000-0000-7000-8000-000000000001", &tracker.PieceTaken{Lesion: "1", What: "core"}, piece)
			late := noon.Add(2 * time.Hour)
			v := Record(t, l, late, opened, taken)[1]
			require.Contains(t, kinds(v.Raised), tracker.FlagColdIschaemiaLong, "out for two hours when it is told: %+v", v)
			potted := newEvent(noon.Add(90*time.Minute), "018f0000-0000-7000-8000-000000000002", &tracker.PiecePotted{}, piece)
			v = Record(t, l, late, potted)[0]
			require.Empty(t, v.Raised, "it was too long before, and is so still")
			struck := newEvent(late, "018f0000-0000-7000-8000-000000000003", &tracker.EventStruck{Event: potted.ID, Why: "typing error"}, piece)
			right := newEvent(noon.Add(10*time.Minute), "018f0000-0000-7000-8000-000000000004", &tracker.PiecePotted{}, piece)
			vs := Record(t, l, late, struck, right)
			require.Contains(t, kinds(vs[1].Cleared), tracker.FlagColdIschaemiaLong)
			flags, err := l.OpenFlags()
			require.NoError(t, err)
			for _, f := range flags {
				require.NotEqual(t, tracker.FlagColdIschaemiaLong, f.Kind)
			}
		}},
		{"time alone raises flags", func(t *testing.T, l *store.Ledger) {
			list := Life(7, 1)
			opened := list[0]
			piece := must(must(opened.Items[0].Name.WithPot("A")).WithPiece(1))
			Record(t, l, noon, opened, newEvent(noon, "018f0000-0000-7000-8000-000000000001", &tracker.PieceTaken{Lesion: "1", What: "core"}, piece))
			at, ok, err := l.Due()
			require.NoError(t, err)
			require.True(t, ok)
			require.Equal(t, noon.Add(10*time.Minute), at.UTC(), "10 minutes without a time into fixative")
			require.Empty(t, CatchUp(t, l, at.Add(-1)), "a nanosecond before nothing is due")
			changes := CatchUp(t, l, at)
			require.Len(t, changes, 1)
			require.Equal(t, tracker.FlagFixativeTimeMissing, changes[0].Flag.Kind)
			require.Equal(t, events.ChangeRaised, changes[0].Change)
			logged, err := l.FlagChanges(changes[0].Seq, 10)
			require.NoError(t, err)
			require.Len(t, logged, 1)
			require.Equal(t, at.UTC(), logged[0].At)
		}},
		{"proofs hold, and only for what is there", proofsHold},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			l := fresh(t)
			t.Cleanup(func() { Close(t, l) })
			test.test(t, l)
		})
	}
}

func newEvent(at time.Time, id tracker.EventID, fact tracker.Fact, n tracker.Name) *tracker.Event {
	return &tracker.Event{ID: id, Kind: fact.Kind(), Clinic: n.Clinic(), At: at, By: "nurse.osei", Station: "room-1", Items: []tracker.Item{Item(n)}, Data: fact}
}

func kinds(list []events.Brief) []tracker.FlagKind {
	var out []tracker.FlagKind
	for _, b := range list {
		out = append(out, b.Kind)
	}
	return out
}
