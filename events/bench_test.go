package events_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// benchEvent is written in about 430 bytes with its record, the size of a common event.
func benchEvent() *tracker.Event {
	_, all := samples()
	return all["piece.taken"][0]
}

// BenchmarkDecode reads one stored event.
func BenchmarkDecode(b *testing.B) {
	stored := events.EncodeRecorded(benchEvent())
	_, err := events.DecodeRecorded(stored)
	require.NoError(b, err)
	b.SetBytes(int64(len(stored)))
	b.ReportAllocs()
	for b.Loop() {
		_, _ = events.DecodeRecorded(stored)
	}
}

// BenchmarkEncode writes one stored event.
func BenchmarkEncode(b *testing.B) {
	e := benchEvent()
	b.ReportAllocs()
	var buffer []byte
	for b.Loop() {
		buffer = events.AppendStored(buffer[:0], e)
	}
}
