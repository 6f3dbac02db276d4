package store_test

import (
	"iter"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
	"github.com/pottrail/pottrail/tracker"
)

// long reports whether tests of a long life run at full length. In short they take seconds.
func long() bool { return os.Getenv("POTTRAIL_LONG") != "" }

// reader takes a little each time it is asked, as a client on a bad line does.
type reader func(t *testing.T)

// slowReaders are all the ways in which the ledger gives out more than one thing, each stopped in the middle.
func slowReaders(t *testing.T, l *store.Ledger) []reader {
	var all []reader
	for _, f := range []store.Filter{{}, {Clinic: "MBY"}, {Open: true}, {Flagged: true}} {
		next, stop := iter.Pull2(l.Snapshots(f))
		t.Cleanup(func() { stop() })
		all = append(all, func(t *testing.T) {
			s, err, ok := next()
			require.NoError(t, err)
			if !ok { // from the beginning again
				stop()
				next, stop = iter.Pull2(l.Snapshots(f))
				return
			}
			require.NotEmpty(t, s.Summary.Name)
		})
	}
	seq, row := uint64(1), uint64(1)
	return append(all,
		func(t *testing.T) {
			page, err := l.EventsFrom(seq, 3)
			require.NoError(t, err)
			seq += uint64(len(page))
		},
		func(t *testing.T) {
			page, err := l.ByOrigin("", seq, 3)
			require.NoError(t, err)
			require.LessOrEqual(t, len(page), 3)
		},
		func(t *testing.T) {
			rows, err := l.FlagChanges(row, 3)
			require.NoError(t, err)
			row += uint64(len(rows))
		},
	)
}

// lifeOf records events while readers read, and says how large the file is then and how many of its pages hold nothing.
func lifeOf(t *testing.T, events int, readers func(t *testing.T, l *store.Ledger) []reader) (bytes int64, free int) {
	t.Helper()
	l, err := store.Open(storetest.Path(t), store.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, l.Close()) })
	w := newWorkload(events / 14)
	var reading []reader
	const batch = 100
	for done := 0; done < events; done += batch {
		list := make([]*tracker.Event, batch)
		for i := range list {
			list[i] = w.next(t)
		}
		_, err := l.Record(w.now, storetest.Intakes(list...))
		require.NoError(t, err)
		if done == 10*batch && readers != nil {
			reading = readers(t, l)
		}
		for _, read := range reading {
			read(t)
		}
	}
	stats := l.Stats()
	t.Logf("%d events, %.1f MiB, %d pages free, the longest read %s", events, float64(stats.FileBytes)/(1<<20), l.FreePages(), stats.LongestRead.Round(time.Microsecond))
	return stats.FileBytes, l.FreePages()
}

// Whoever reads slowly holds up nothing: while every iterator and list of the ledger stands half read, the file grows as
// it does alone, and no transaction is open. The control holds one transaction open all the while.
func TestASlowReaderDoesNotMakeTheFileGrow(t *testing.T) {
	events := 4_000
	if long() {
		events = 50_000
	}
	alone, aloneFree := lifeOf(t, events, nil)
	slow, slowFree := lifeOf(t, events, func(t *testing.T, l *store.Ledger) []reader {
		return append(slowReaders(t, l), func(t *testing.T) { require.Zero(t, l.OpenReads(), "a reader holds a transaction open") })
	})
	held, _ := lifeOf(t, events, func(t *testing.T, l *store.Ledger) []reader {
		back, err := l.HoldRead()
		require.NoError(t, err)
		t.Cleanup(back)
		return nil
	})
	require.InEpsilon(t, alone, slow, 0.05)
	require.InDelta(t, aloneFree, slowFree, 0.05*float64(alone)/float64(os.Getpagesize()))
	require.Greater(t, held, 2*alone, "the control: a transaction that is held makes it grow")
}
