package daemon

import (
	"context"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
	"github.com/pottrail/pottrail/tracker"
)

// machine is a clock that can be set, inside a bubble of synctest.
type machine struct {
	mu      sync.Mutex
	ahead   time.Duration // of the bubble's clock
	stepped chan struct{}
	note    func()
	steps   int
}

// newMachine's clock says start.
func newMachine(start time.Time) *machine {
	m := &machine{ahead: time.Until(start)}
	m.stepped, m.note = noter()
	return m
}

func (m *machine) now() time.Time {
	m.mu.Lock()
	defer m.mu.Unlock()
	return time.Now().Add(m.ahead).Round(0) // as a clock that is set: without a monotonic reading
}

// set moves the clock, and tells of it.
func (m *machine) set(by time.Duration) {
	m.mu.Lock()
	m.ahead += by
	m.steps++
	m.mu.Unlock()
	m.note()
}

// asked counts how often the timer looks at a ledger.
type asked struct {
	timed
	dues, rechecks atomic.Int64
}

func (a *asked) Due() (time.Time, bool, error) {
	a.dues.Add(1)
	return a.timed.Due()
}

func (a *asked) Recheck(ctx context.Context, now time.Time, limit int) error {
	a.rechecks.Add(1)
	return a.timed.Recheck(ctx, now, limit)
}

// year is a clinic's year around the timer.
type year struct {
	t      *testing.T
	ledger *store.Ledger
	m      *machine
	told   map[told]bool // flags that are raised, as the log tells
	row    uint64        // next of the log
	all    []*tracker.Event
	filed  map[tracker.Name][]*tracker.Event
}

type told struct {
	kind tracker.FlagKind
	item tracker.Name
	of   tracker.Name
}

// follow reads on in the log of flags: none is raised that is raised, none cleared that is not.
func (y *year) follow() {
	for {
		rows, err := y.ledger.FlagChanges(y.row, 500)
		require.NoError(y.t, err)
		for _, row := range rows {
			require.Equal(y.t, y.row, row.Seq)
			y.row++
			at := told{row.Flag.Kind, row.Flag.Item, row.Flag.Case}
			switch row.Change {
			case events.ChangeRaised:
				require.False(y.t, y.told[at], "%s on %s is raised twice", at.kind, at.item)
				y.told[at] = true
			case events.ChangeCleared:
				require.True(y.t, y.told[at], "%s on %s is cleared and was not raised", at.kind, at.item)
				delete(y.told, at)
			default:
				require.True(y.t, y.told[at], "%s on %s has changed and was not raised", at.kind, at.item)
			}
		}
		if len(rows) == 0 {
			return
		}
	}
}

// right judges everything anew at this instant: just that is raised.
func (y *year) right() {
	synctest.Wait()
	y.follow()
	for {
		page, err := y.ledger.EventsFrom(uint64(len(y.all)+1), 0)
		require.NoError(y.t, err)
		if len(page) == 0 {
			break
		}
		for _, entry := range page {
			e, err := entry.Event()
			require.NoError(y.t, err)
			y.all = append(y.all, e)
		}
		y.filed = tracker.File(y.all)
	}
	now := y.m.now()
	want := map[told]bool{}
	for n := range y.filed {
		gathered, err := tracker.Gather(n, func(n tracker.Name) ([]*tracker.Event, error) { return y.filed[n], nil })
		require.NoError(y.t, err)
		for _, f := range tracker.Judge(n, gathered, y.ledger.Rules(n.Clinic()), now).Findings.Flags {
			want[told{f.Kind, f.Item, f.Case}] = true
		}
	}
	require.Equal(y.t, want, y.told, "at %s", now)
}

// life is what the clinics record: cases of March, about the day on which clocks go forward, and of October.
func life() []*tracker.Event {
	spring, autumn := storetest.Life(71, 30), storetest.Life(72, 12)
	for i, e := range spring {
		later := *e
		later.At = later.At.AddDate(0, 0, 24)
		spring[i] = &later
	}
	for i, e := range autumn {
		later := *e
		later.At = later.At.AddDate(0, 0, 231)
		autumn[i] = &later
	}
	return append(spring, autumn...)
}

// In a year in which the clock is set forward and back, by seconds, hours and years, nothing that is due is missed or told
// twice, and the timer looks at the ledger only when something is due, recorded, or the clock was set.
func TestAYearOfAClockThatIsSet(t *testing.T) {
	path := storetest.Path(t)
	start := time.Date(2026, 3, 25, 6, 0, 0, 0, time.UTC)
	steps := []struct {
		after, by time.Duration
	}{
		{50 * time.Hour, 3 * time.Hour}, {70 * time.Hour, -3 * time.Hour}, // set wrong for a day
		{91 * time.Hour, time.Hour}, {92 * time.Hour, -time.Hour}, // summer time, put in by hand and taken out again
		{100 * time.Hour, -40 * time.Second}, {101 * time.Hour, 40 * time.Second}, // as a time server does
		{120 * time.Hour, -6 * time.Hour}, {150 * time.Hour, 6 * time.Hour},
		{200 * time.Hour, 10 * 365 * 24 * time.Hour}, {201 * time.Hour, -10 * 365 * 24 * time.Hour}, // an empty battery
		{300 * time.Hour, 26 * time.Hour}, {301 * time.Hour, -26 * time.Hour},
		{5160 * time.Hour, -time.Hour}, {5170 * time.Hour, time.Hour}, // October
		{7000 * time.Hour, 12 * time.Hour},
	}
	synctest.Test(t, func(t *testing.T) {
		l, err := store.Open(path, store.Options{Origin: storetest.Origin})
		require.NoError(t, err)
		m := newMachine(start)
		a := &asked{timed: timed{Ledger: l}}
		y := &year{t: t, ledger: l, m: m, told: map[told]bool{}, row: 1}
		ctx, stop := context.WithCancel(t.Context())
		done := make(chan error)
		wakes := 0
		go func() { done <- keepTime(ctx, a, clock{m.now, m.stepped}, func() { wakes++ }) }()

		began := time.Now()
		list, commits := life(), 0
		for day := range 365 {
			for hour := 0; hour < 24; hour += 2 {
				at := began.Add(time.Duration(24*day+hour) * time.Hour)
				<-time.After(time.Until(at))
				for len(steps) > 0 && !began.Add(steps[0].after).After(at) {
					m.set(steps[0].by)
					steps = steps[1:]
					y.right()
				}
				n := slices.IndexFunc(list, func(e *tracker.Event) bool { return e.At.After(start.Add(at.Sub(began))) })
				if n < 0 {
					n = len(list)
				}
				if n > 0 {
					storetest.Record(t, l, m.now(), list[:n]...)
					list, commits = list[n:], commits+1
				}
				if day < 20 || hour == 0 && day%5 == 0 {
					y.right()
				}
			}
		}
		require.Empty(t, list)
		require.Empty(t, steps)
		require.Greater(t, wakes, 100)
		require.LessOrEqual(t, int(a.rechecks.Load()), wakes+m.steps, "it judges when something is due or the clock was set")
		changes := int(l.Stats().Commits) // each may move the timer
		require.LessOrEqual(t, int(a.dues.Load()), changes+wakes+2*m.steps+10, "and looks no more often than something changes")
		t.Logf("%d events, %d batches, %d steps of the clock, %d changes of flags, %d wakes, index asked %d times",
			len(y.all), commits, m.steps, y.row-1, wakes, a.dues.Load())
		stop()
		require.NoError(t, <-done)
		require.NoError(t, l.Check())
		require.NoError(t, l.Close())
	})
}

// A timer that hears nothing of a step forward is late by what it slept too long: the control of the test above.
func TestAStepThatIsNotToldOfIsLate(t *testing.T) {
	for _, told := range []bool{true, false} {
		synctest.Test(t, func(t *testing.T) {
			m := newMachine(time.Date(2026, 3, 25, 6, 0, 0, 0, time.UTC))
			c := clock{now: m.now}
			if told {
				c.stepped = m.stepped
			}
			begun, due := time.Now(), m.now().Add(8*time.Hour)
			d := &dueList{changed: make(chan struct{}), at: []time.Time{due}}
			ctx, stop := context.WithCancel(t.Context())
			done := make(chan error)
			go func() { done <- keepTime(ctx, d, c, func() {}) }()
			pass(time.Hour)
			m.set(7 * time.Hour) // it is due at once
			pass(12 * time.Hour)
			synctest.Wait()
			require.NotEmpty(t, d.checked)
			late := d.checked[0].Sub(due)
			if told {
				require.Zero(t, late)
			} else {
				require.Equal(t, 7*time.Hour, late)
			}
			require.Less(t, time.Since(begun), 14*time.Hour)
			stop()
			require.NoError(t, <-done)
		})
	}
}

// The watch over the machine's clock tells once at first, counts what the system calls a step, and ends when it is closed.
func TestTheClockIsWatched(t *testing.T) {
	answers := []bool{true, true, false}
	times := 0
	tellSteps(func() bool {
		answer := answers[0]
		answers = answers[1:]
		return answer
	}, func() { times++ })
	require.Equal(t, 2, times)

	notices, note := noter()
	note()
	note() // nobody has looked meanwhile
	<-notices
	require.Empty(t, notices)

	steps, stop, err := clockSteps()
	require.NoError(t, err)
	<-steps
	stop()
	require.Empty(t, steps)
}
