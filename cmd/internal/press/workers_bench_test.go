package press_test

import (
	"bytes"
	"context"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/press"
	"github.com/pottrail/pottrail/labels/printers"
	"github.com/pottrail/pottrail/store/prints"
	"github.com/pottrail/pottrail/tracker"
)

// firstByte is a printer that says when it is handed something.
type firstByte chan time.Time

func (c firstByte) Send(context.Context, printers.Job) error {
	c <- time.Now()
	return nil
}

func (firstByte) Look(context.Context) (string, error) { return "", nil }

// BenchmarkFirstByte is how long a drawn label takes from being put on disk until its printer is handed it: prepared,
// queued, taken. Recording its print in the ledger comes between the first two and is measured there.
func BenchmarkFirstByte(b *testing.B) {
	q, err := prints.Open(filepath.Join(b.TempDir(), "prints.db"), bytes.Repeat([]byte{1}, 32))
	require.NoError(b, err)
	ctx, stop := context.WithCancel(b.Context())
	out := make(firstByte)
	w, err := press.Start(ctx, press.Options{Queue: q, Printers: []press.Printer{{Name: "room", Sender: out}},
		Recorded: func(tracker.EventID) (bool, error) { return true, nil }, Settled: func(prints.Job) error { return nil }})
	require.NoError(b, err)
	body := bytes.Repeat([]byte{0x5a}, 50*8/8*25*8)
	var took []time.Duration
	for b.Loop() {
		start := time.Now()
		j, err := w.Prepare(prints.Job{Printer: "room", Title: "calibration", Layout: "calibration", By: "nurse.osei", Station: "room-2"}, body)
		require.NoError(b, err)
		require.NoError(b, w.Queue(j))
		took = append(took, (<-out).Sub(start))
	}
	slices.Sort(took)
	b.ReportMetric(float64(took[len(took)/2])/float64(time.Millisecond), "ms-median")
	b.ReportMetric(float64(took[len(took)*99/100])/float64(time.Millisecond), "ms-99th")
	b.ReportMetric(0, "ns/op")
	stop()
	w.Wait()
	require.NoError(b, q.Close())
}
