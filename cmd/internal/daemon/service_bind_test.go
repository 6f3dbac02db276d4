package daemon

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/tracker"
)

// What a downtime label stands for is guessed at by how the list is ordered, and by nothing else.
func TestTheMostLikelyStandsFirst(t *testing.T) {
	named := func(name tracker.Name, l likelihood) likelihood {
		l.candidate = ask.BindCandidate{Name: name}
		return l
	}
	want := []likelihood{
		named("another label of the roll's case stands for one of this case", likelihood{sibling: true, touched: true, away: 9 * time.Hour}),
		named("filled with the same", likelihood{medium: true, away: 3 * time.Hour}),
		named("planned for about then, the same letter", likelihood{away: time.Hour, same: true}),
		named("planned for about then", likelihood{away: time.Hour}),
		named("planned for the day before, the same letter", likelihood{away: 24 * time.Hour, same: true}),
		named("planned for the day before, a", likelihood{away: 24 * time.Hour}),
		named("planned for the day before, b", likelihood{away: 24 * time.Hour}),
		named("something was done to it under its own name", likelihood{touched: true, medium: true, same: true}),
	}
	got := slices.Clone(want)
	slices.Reverse(got)
	slices.SortFunc(got, likelihood.compare)
	require.Equal(t, want, got)
}

// A case of long ago is not read through for the list, unless it was planned for then or went on since.
func TestCasesOfLongAgoAreNotListed(t *testing.T) {
	about := time.Date(2026, 3, 6, 15, 0, 0, 0, time.UTC)
	day := func(n int) time.Time { return about.AddDate(0, 0, n) }
	for name, tt := range map[string]struct {
		summary tracker.Summary
		want    bool
	}{
		"seven days before":                          {tracker.Summary{Last: day(-7)}, false},
		"eight days before":                          {tracker.Summary{Last: day(-8)}, true},
		"eight days before, planned for the day":     {tracker.Summary{Last: day(-8), Planned: day(0)}, false},
		"eight days before, planned for a day after": {tracker.Summary{Last: day(-8), Planned: day(8)}, true},
		"it went on since":                           {tracker.Summary{Last: day(20), Planned: day(-8)}, false},
	} {
		require.Equal(t, tt.want, longAgo(tt.summary, about), name)
	}
}
