package daemon

import (
	"context"
	"fmt"
	"net/http"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store/storetest"
)

// A daemon that runs for years keeps as much in memory as one of an hour: all of it at work, with the publisher behind the
// ledger and pages that are asked for, the heap in use after collecting does not grow with the events that went through.
// The control keeps a hundred bytes of each event, and is noticed.
func TestMemoryDoesNotGrowWithEvents(t *testing.T) {
	// What JetStream keeps of the last messages for those who follow the stream fills up first; a short run is over before
	// that. A kept event would be ten times as much.
	events, limit := 6_000, 400.0
	if long() {
		events, limit = 200_000, 20.0
	}
	w := newWorkload(t)
	d := atWork(t, 64)
	var tellers []*teller
	for i := range 20 {
		tellers = append(tellers, w.newTeller(i))
	}
	var samples, control []storetest.Sample
	var goroutines []int
	var kept [][]byte
	const batch = 20
	every := events / 20
	began := time.Now()
	feed(t, d, tellers, events, batch, func(done int) {
		for range batch {
			kept = append(kept, make([]byte, 100))
		}
		if done%every >= batch {
			return
		}
		for _, path := range []string{"/", "/v1/chase", "/v1/flags", "/metrics"} {
			response, err := http.Get("http://" + d.pages.Addr().String() + path)
			require.NoError(t, err)
			require.NoError(t, response.Body.Close())
		}
		http.DefaultClient.CloseIdleConnections()
		ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
		defer cancel()
		require.NoError(t, d.link.publisher.Flush(ctx))
		with := storetest.InUse()
		control = append(control, storetest.Sample{Events: float64(done), Bytes: with})
		samples = append(samples, storetest.Sample{Events: float64(done), Bytes: with - 100*float64(len(kept)) - 24*float64(cap(kept))})
		goroutines = append(goroutines, runtime.NumGoroutine())
	})
	runtime.KeepAlive(kept)
	slope := storetest.Slope(samples)
	figures := fmt.Sprintf("%d events in %s: heap in use %.1f MiB after a third, %.1f MiB at the end, %.1f bytes an event (control %.1f); %d goroutines, %d at the end",
		events, time.Since(began).Round(time.Second), samples[len(samples)/3].Bytes/(1<<20), samples[len(samples)-1].Bytes/(1<<20), slope, storetest.Slope(control),
		goroutines[1], goroutines[len(goroutines)-1])
	t.Log(figures)
	require.Less(t, slope, limit, figures)
	require.Greater(t, storetest.Slope(control), slope+80, "the control: a hundred bytes kept of each are seen")
	require.LessOrEqual(t, goroutines[len(goroutines)-1], goroutines[1]+5)
}
