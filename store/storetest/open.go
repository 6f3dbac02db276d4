package storetest

import (
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/tracker"
)

// Origin is what the ledgers of these tests are called.
const Origin = "test-origin"

// Path is where a test may have its ledger.
func Path(t testing.TB) string { return filepath.Join(t.TempDir(), "ledger.db") }

// Open opens a ledger that is checked from end to end and closed when the test is over.
func Open(t testing.TB, path string, o store.Options) *store.Ledger {
	t.Helper()
	if o.Origin == "" {
		o.Origin = Origin
	}
	l, err := store.Open(path, o)
	require.NoError(t, err)
	t.Cleanup(func() { Close(t, l) })
	return l
}

// Close checks a ledger and closes it; on one that is closed it does nothing.
func Close(t testing.TB, l *store.Ledger) {
	t.Helper()
	if err := l.Check(); err != nil && !isClosed(err) {
		t.Errorf("after the test: %v", err)
	}
	require.NoError(t, l.Close())
}

// Intakes makes a batch of events.
func Intakes(list ...*tracker.Event) []store.Intake {
	batch := make([]store.Intake, len(list))
	for i, e := range list {
		batch[i] = store.Intake{Event: e}
	}
	return batch
}

// Record records events at an instant, and each must be recorded.
func Record(t testing.TB, l *store.Ledger, now time.Time, list ...*tracker.Event) []events.Verdict {
	t.Helper()
	verdicts, err := l.Record(now, Intakes(list...))
	require.NoError(t, err)
	require.Len(t, verdicts, len(list))
	for i, v := range verdicts {
		require.True(t, v.OK, "event %d, %s: %+v", i, list[i].Kind, v.Error)
		require.Equal(t, string(list[i].ID), v.ID)
		require.NotNil(t, v.Raised)
		require.NotNil(t, v.Cleared)
	}
	return verdicts
}

// CatchUp judges again all that is due at an instant.
func CatchUp(t testing.TB, l *store.Ledger, now time.Time) (changes []store.FlagChange) {
	t.Helper()
	for {
		done, err := l.Recheck(now, 100)
		require.NoError(t, err)
		changes = append(changes, done.Changes...)
		at, ok, err := l.Due()
		require.NoError(t, err)
		if !ok || at.After(now) {
			require.False(t, done.More)
			return changes
		}
	}
}

// Sample is how much memory is in use after so many events.
type Sample struct{ Events, Bytes float64 }

// Slope is the growth of memory in bytes an event, by least squares over the last two thirds of samples: before that caches
// fill.
func Slope(samples []Sample) float64 {
	late := samples[len(samples)/3:]
	var x, y, xx, xy float64
	for _, s := range late {
		x, y, xx, xy = x+s.Events, y+s.Bytes, xx+s.Events*s.Events, xy+s.Events*s.Bytes
	}
	n := float64(len(late))
	return (n*xy - x*y) / (n*xx - x*x)
}

// InUse is how many bytes of the heap are in use, after collecting what is not.
func InUse() float64 {
	runtime.GC()
	runtime.GC() // what the first let go by finalizers
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return float64(m.HeapAlloc)
}
