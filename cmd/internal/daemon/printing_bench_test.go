package daemon

import (
	"io"
	"net"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/labels/printers"
)

// labelsFromTheRoom asks for so many pots' labels, one after another, and says for each how long it took until its first
// byte and its last arrived at a printer behind a socket on this machine: read, drawn, put on disk, recorded in the ledger,
// let go, taken, sent.
func labelsFromTheRoom(tb testing.TB, many int) (toFirst, toLast []time.Duration) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(tb, err)
	defer func() { require.NoError(tb, listener.Close()) }()
	first, last := make(chan time.Time, 1), make(chan time.Time, 1)
	go func() {
		for {
			conn, err := listener.Accept()
			if err != nil {
				return
			}
			if _, err := conn.Read(make([]byte, 1)); err == nil {
				first <- time.Now()
				_, _ = io.Copy(io.Discard, conn)
				last <- time.Now()
			}
			_ = conn.Close()
		}
	}()
	r := &room{}
	r.openWith(tb, tb.TempDir(), 0, printers.WayRaw, listener.Addr().String())
	for range many {
		pot := r.newPot(tb)
		start := time.Now()
		answer, err := r.service.Print(tb.Context(), ask.PrintRequest{LabelsRequest: ask.LabelsRequest{Items: []string{pot}}, By: "nurse.osei", Station: "room-2"})
		require.NoError(tb, err)
		toFirst = append(toFirst, (<-first).Sub(start))
		toLast = append(toLast, (<-last).Sub(start))
		r.outcome(tb, answer.Jobs[0].Job, ask.PrintSent)
	}
	slices.Sort(toFirst)
	slices.Sort(toLast)
	return toFirst, toLast
}

// BenchmarkALabelFromTheRoom is how long a label takes from the request to the printer; see labelsFromTheRoom.
func BenchmarkALabelFromTheRoom(b *testing.B) {
	toFirst, toLast := labelsFromTheRoom(b, b.N)
	for name, took := range map[string][]time.Duration{"first-byte": toFirst, "last-byte": toLast} {
		b.ReportMetric(float64(took[len(took)/2])/float64(time.Millisecond), "ms-to-"+name)
		b.ReportMetric(float64(took[len(took)*99/100])/float64(time.Millisecond), "ms-to-"+name+"-99th")
	}
	b.ReportMetric(0, "ns/op")
}
