package broker_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events/broker"
)

// BenchmarkPublish puts events of a ledger in memory into TRAIL, acknowledged; the time is that of one event.
func BenchmarkPublish(b *testing.B) {
	s, err := broker.Start(broker.Options{StoreDir: b.TempDir()})
	require.NoError(b, err)
	defer s.Stop(context.Background())
	l := newLedger("mby-1")
	p, err := broker.NewPublisher(s, l, broker.PublisherOptions{})
	require.NoError(b, err)
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	go p.Run(ctx)
	require.NoError(b, p.Flush(ctx))
	b.ResetTimer()
	l.record(b.N, today)
	require.NoError(b, p.Flush(ctx))
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "events/s")
}
