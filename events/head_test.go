package events_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events"
)

// TestHeadOf reads the heads of all kinds, and of nothing else.
func TestHeadOf(t *testing.T) {
	_, all := samples()
	for _, pair := range all {
		for _, e := range pair {
			want := events.Head{ID: e.ID, Kind: e.Kind, Clinic: e.Clinic}
			head, ok := events.HeadOf(events.EncodeRecorded(e))
			require.True(t, ok)
			require.Equal(t, want, head)
		}
	}
	for _, line := range []string{``, `{}`, `{"id":""}`, ` ` + good, `{"id":"x","clinic":"MBY"`, `{"id":"x","kind":"y","clinic":"MBY`} {
		_, ok := events.HeadOf([]byte(line))
		require.False(t, ok, line)
	}
}
