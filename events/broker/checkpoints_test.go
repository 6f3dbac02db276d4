package broker_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/events/broker"
)

func TestCheckpointsReachEveryClinicOnce(t *testing.T) {
	ctx, dir, l := within(t), t.TempDir(), newLedger("mby-1")
	for range 2 {
		s, err := broker.Start(broker.Options{StoreDir: dir, MaxStore: 64 << 20})
		require.NoError(t, err)
		l.sign(2)
		p, stop := publishing(t, s, l, broker.PublisherOptions{})
		require.NoError(t, p.Flush(ctx))
		require.Zero(t, p.Stats().Restarts)
		stop()
		s.Stop(ctx)
	}
	s := started(t, dir)
	var got []string
	for _, msg := range messages(ctx, t, s, broker.StreamCheckpoints) {
		got = append(got, msg.Subject+" "+msg.Header.Get(events.HeaderCSeq)+" "+string(msg.Data))
		require.NotEmpty(t, msg.Header.Get(events.HeaderMade))
	}
	require.Equal(t, []string{
		"trail.v1.HCX.checkpoint.mby-1 1 1/2 checkpoint 1", "trail.v1.MBY.checkpoint.mby-1 1 2/2 checkpoint 1",
		"trail.v1.HCX.checkpoint.mby-1 2 1/2 checkpoint 2", "trail.v1.MBY.checkpoint.mby-1 2 2/2 checkpoint 2",
		"trail.v1.HCX.checkpoint.mby-1 3 1/2 checkpoint 3", "trail.v1.MBY.checkpoint.mby-1 3 2/2 checkpoint 3",
		"trail.v1.HCX.checkpoint.mby-1 4 1/2 checkpoint 4", "trail.v1.MBY.checkpoint.mby-1 4 2/2 checkpoint 4",
	}, got)

	// An older ledger is put in its place: what it no longer knows stays on the stream, and what is new goes behind it.
	older := newLedger("mby-1")
	older.sign(1)
	p, _ := publishing(t, s, older, broker.PublisherOptions{})
	require.NoError(t, p.Flush(ctx))
	older.sign(1)
	require.NoError(t, p.Flush(ctx))
	left := messages(ctx, t, s, broker.StreamCheckpoints)
	require.Len(t, left, len(got)+2)
	require.Equal(t, "checkpoint 2", string(left[len(left)-1].Data))
}
