package store_test

import (
	"math/rand/v2"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
	"github.com/pottrail/pottrail/tracker/demo"
)

// BenchmarkGrowth lets the invented network live in a ledger as it would in a clinic, one to three events a commit and
// everything judged again when it is due, and reports how large the file becomes:
//
//	B/event         of the file, free pages and all
//	x-events        file over the stored bytes of the events alone
//	leaf-B/event    of the events alone
//	free-%          of the file's pages
//	entries-%, …    of the file, by bucket
//
// Four weeks of three clinics; with POTTRAIL_LONG=1 half a year, which is as many events as one clinic records in a year.
func BenchmarkGrowth(b *testing.B) {
	zone, err := time.LoadLocation("Europe/London")
	require.NoError(b, err)
	weeks := demo.LeastWeeks
	if long() {
		weeks = demo.MostWeeks
	}
	network, err := demo.Generate(demo.Options{Seed: 12, Now: time.Date(2026, 6, 30, 15, 0, 0, 0, zone), Zone: zone, Weeks: weeks})
	require.NoError(b, err)
	for b.Loop() {
		l, err := store.Open(storetest.Path(b), store.Options{})
		require.NoError(b, err)
		r := rand.New(rand.NewPCG(1, 5))
		leaves, count := 0, 0
		for list := network.Events; len(list) > 0; {
			n := min(1+r.IntN(3), len(list))
			live(b, l, list[n-1].At)
			_, err := l.Record(list[n-1].At, storetest.Intakes(list[:n]...))
			require.NoError(b, err)
			count, list = count+n, list[n:]
		}
		for from := uint64(1); ; {
			page, err := l.EventsFrom(from, 0)
			require.NoError(b, err)
			if len(page) == 0 {
				break
			}
			for _, entry := range page {
				leaves += len(entry.Leaf)
			}
			from += uint64(len(page))
		}
		size := l.Stats().FileBytes
		b.ReportMetric(float64(count), "events")
		b.ReportMetric(float64(size)/float64(count), "B/event")
		b.ReportMetric(float64(leaves)/float64(count), "leaf-B/event")
		b.ReportMetric(float64(size)/float64(leaves), "x-events")
		b.ReportMetric(100*float64(l.FreePages()*os.Getpagesize())/float64(size), "free-%")
		taken, used, err := l.Shares()
		require.NoError(b, err)
		all, full := 0, 0
		for name, bytes := range taken {
			all, full = all+bytes, full+used[name]
			if share := 100 * float64(bytes) / float64(size); share >= 1 {
				b.ReportMetric(share, name+"-%")
			}
		}
		b.ReportMetric(100*float64(full)/float64(all), "filled-%")
		b.ReportMetric(0, "ns/op")
		require.NoError(b, l.Close())
	}
}

// live judges again what becomes due until an instant, when it does.
func live(b *testing.B, l *store.Ledger, until time.Time) {
	for {
		at, ok, err := l.Due()
		require.NoError(b, err)
		if !ok || at.After(until) {
			return
		}
		_, err = l.Recheck(at, 64)
		require.NoError(b, err)
	}
}
