package web

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// However long or short the stretches, the drawing keeps its order and its measures, and words have room.
func TestTheTimeAxisShowsMinutesAndWeeks(t *testing.T) {
	noon := time.Date(2026, 3, 6, 12, 0, 0, 0, time.UTC)
	at := []time.Time{noon.Add(21 * 24 * time.Hour), noon, noon.Add(time.Minute), noon.Add(2 * time.Minute), noon.Add(2 * time.Hour), noon}
	a := newAxis(at)
	require.Len(t, a.at, 5, "each instant once")
	require.Equal(t, drawnLeft, a.x(noon))
	require.Equal(t, drawnWidth-drawnRight, a.x(noon.Add(21*24*time.Hour)))
	for i := 1; i < len(a.to); i++ {
		require.Greater(t, a.to[i]-a.to[i-1], 40, "even a minute shows")
	}
	ticks := a.ticks(time.UTC)
	require.Equal(t, "Fri 6 Mar 12:00", ticks[0].Text)
	for i := 1; i < len(ticks); i++ {
		require.GreaterOrEqual(t, ticks[i].X-ticks[i-1].X, clockSpace)
	}
	one := newAxis([]time.Time{noon})
	require.Equal(t, drawnLeft, one.x(noon), "a single instant has its place")
}
