package daemon

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// Labels that nobody ever scans, spares and those of empty pots, do not gather for years.
func TestLabelsThatNobodyScansAreForgottenInTheEnd(t *testing.T) {
	s := newScans()
	name := func(i int) tracker.Name {
		n, err := tracker.CaseName("MBY", 26, 1+i)
		require.NoError(t, err)
		return n
	}
	for i := range 2*mostAwaited + 500 {
		s.await(name(i), '1')
	}
	require.Len(t, s.open, mostAwaited)
	s.note(printedLabel{name(0), '1'})
	seen, _ := s.take()
	require.Empty(t, seen, "it was given too long ago")
	last := printedLabel{name(2*mostAwaited + 499), '1'}
	s.note(last)
	seen, _ = s.take()
	require.Equal(t, []printedLabel{last}, seen)

	for i := range 5 * mostAwaited { // each is scanned at once
		s.await(name(i), '2')
		s.note(printedLabel{name(i), '2'})
		s.take()
	}
	require.LessOrEqual(t, len(s.given), 2*mostAwaited)
	require.Len(t, s.open, mostAwaited-1, "those of before still are")
	require.EqualValues(t, len(s.open), s.many.Load())
}
