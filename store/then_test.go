package store_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
	"github.com/pottrail/pottrail/tracker"
)

// TestWhichRulesWereInForceThen asks for the rules at each side of each adoption; of several at one instant the id decides,
// as in everything else.
func TestWhichRulesWereInForceThen(t *testing.T) {
	path := storetest.Path(t)
	l := storetest.Open(t, path, store.Options{})
	morning := storetest.Morning()
	now := morning.Add(24 * time.Hour)
	title := func(at time.Time, id, clinic string) string {
		e := &tracker.Event{ID: tracker.EventID(id), Kind: tracker.KindNoteAdded, Clinic: clinic, At: at, By: "desk.moor", Station: "desk", Data: &tracker.NoteAdded{Text: "x"}}
		rules, err := l.RulesThen(e, now)
		require.NoError(t, err)
		return rules.Protocol().Title
	}
	const low, high = "018f0000-0000-7000-8000-000000000000", "018f0000-0000-7000-8000-0000000000ff"
	standard := title(morning, low, "MBY")
	for i, at := range []time.Duration{1, 2, 2, 3} {
		storetest.Record(t, l, now, adoption(tracker.EventID(fmt.Sprintf("018f0000-0000-7000-8000-00000000000%d", i+1)), morning.Add(at*time.Hour), "MBY", stricter(t, fmt.Sprint("protocol ", i+1))))
	}
	look := func() {
		for range 2 { // the second time from what is kept ready
			require.Equal(t, standard, title(morning.Add(time.Hour), low, "MBY"), "before the first, by its id")
			require.Equal(t, "protocol 1", title(morning.Add(time.Hour), high, "MBY"))
			require.Equal(t, "protocol 1", title(morning.Add(2*time.Hour-time.Nanosecond), high, "MBY"))
			require.Equal(t, "protocol 1", title(morning.Add(2*time.Hour), low, "MBY"))
			require.Equal(t, "protocol 1", title(morning.Add(2*time.Hour), "018f0000-0000-7000-8000-000000000002", "MBY"), "an adoption is judged by what was before it")
			require.Equal(t, "protocol 2", title(morning.Add(2*time.Hour), "018f0000-0000-7000-8000-000000000003", "MBY"))
			require.Equal(t, "protocol 3", title(morning.Add(2*time.Hour), high, "MBY"))
			require.Equal(t, "protocol 4", title(morning.Add(3*time.Hour), high, "MBY"))
			require.Equal(t, "protocol 4", title(now.Add(24*time.Hour), low, "MBY"), "ahead of now is now")
			require.Equal(t, standard, title(now, high, "HCX"), "a clinic's own")
			require.Equal(t, standard, title(now, high, "MBX"), "of a clinic before it in order")
			require.Equal(t, "protocol 4", title(now, "no id", "MBY"))
		}
	}
	look()
	require.NoError(t, l.Close())
	l = storetest.Open(t, path, store.Options{})
	look()
}

// TestAnEventByItsID: whatever is recorded is found by its id, and nothing else is.
func TestAnEventByItsID(t *testing.T) {
	l := storetest.Open(t, storetest.Path(t), store.Options{})
	list := storetest.Life(3, 2)
	storetest.Record(t, l, list[len(list)-1].At.Add(time.Hour), list...)
	for _, e := range list {
		got, ok, err := l.ByID(e.ID)
		require.NoError(t, err)
		require.True(t, ok)
		require.Equal(t, e.Kind, got.Kind)
		require.Equal(t, e.ID, got.ID)
	}
	for _, id := range []tracker.EventID{"018f0000-0000-7000-8000-0000000000ff", "", "no id"} {
		_, ok, err := l.ByID(id)
		require.NoError(t, err)
		require.False(t, ok)
	}
}
