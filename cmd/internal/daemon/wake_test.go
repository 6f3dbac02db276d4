package daemon

import (
	"context"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
)

// dueList is a ledger of instants, for use inside one bubble of synctest.
type dueList struct {
	mu      sync.Mutex
	at      []time.Time
	changed chan struct{}
	checked []time.Time
	asked   int
}

func (d *dueList) Due() (time.Time, bool, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.asked++
	if len(d.at) == 0 {
		return time.Time{}, false, nil
	}
	return d.at[0], true, nil
}

func (d *dueList) Recheck(_ context.Context, now time.Time, limit int) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	n := 0
	for len(d.at) > 0 && !d.at[0].After(now) && n < limit {
		d.at, n = d.at[1:], n+1
	}
	d.checked = append(d.checked, now)
	return nil
}

func (d *dueList) Changed() <-chan struct{} {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.changed
}

func (d *dueList) Moved() <-chan struct{} { return nil }

func (d *dueList) add(at time.Time) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.at = append(d.at, at)
	slices.SortFunc(d.at, time.Time.Compare)
	close(d.changed)
	d.changed = make(chan struct{})
}

// In a quiet month the daemon wakes as often as something is due, and not once more: whatever polls fails here.
func TestAQuietMonthWakesOnlyForWhatIsDue(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		start := time.Now()
		d := &dueList{changed: make(chan struct{}), at: []time.Time{start.Add(3 * 24 * time.Hour), start.Add(17 * 24 * time.Hour)}}
		wakes := 0
		ctx, stop := context.WithCancel(t.Context())
		done := make(chan error)
		go func() { done <- keepTime(ctx, d, clock{now: time.Now}, func() { wakes++ }) }()
		pass(31 * 24 * time.Hour)
		synctest.Wait()
		require.Equal(t, 2, wakes)
		require.LessOrEqual(t, d.asked, 6, "the index is asked only when something changed or was due")
		require.Equal(t, []time.Time{start.Add(3 * 24 * time.Hour), start.Add(17 * 24 * time.Hour)}, d.checked, "at the very instant")
		stop()
		require.NoError(t, <-done)
	})
}

func TestAnEarlierInstantMovesTheTimer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		start := time.Now()
		d := &dueList{changed: make(chan struct{}), at: []time.Time{start.Add(time.Hour)}}
		ctx, stop := context.WithCancel(t.Context())
		done := make(chan error)
		go func() { done <- keepTime(ctx, d, clock{now: time.Now}, func() {}) }()
		pass(10 * time.Minute)
		synctest.Wait()
		d.add(start.Add(20 * time.Minute))
		pass(2 * time.Hour)
		synctest.Wait()
		require.Equal(t, []time.Time{start.Add(20 * time.Minute), start.Add(time.Hour)}, d.checked)
		stop()
		require.NoError(t, <-done)
	})
}

func TestMuchThatIsDueIsDoneInSmallSteps(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := &dueList{changed: make(chan struct{})}
		for range 5*recheckStep + 1 {
			d.at = append(d.at, time.Now())
		}
		ctx, stop := context.WithCancel(t.Context())
		done := make(chan error)
		go func() { done <- keepTime(ctx, d, clock{now: time.Now}, func() {}) }()
		synctest.Wait()
		require.Len(t, d.checked, 6)
		require.Empty(t, d.at)
		stop()
		require.NoError(t, <-done)
	})
}

// pass lets time go by; inside a bubble of synctest it takes none.
func pass(d time.Duration) { <-time.After(d) }
