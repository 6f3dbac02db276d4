package daemon

import (
	"context"
	"errors"
	"log/slog"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store/backup"
)

// nights is what the timer stands on in these tests: a ledger in which nothing is due, and nightly backups.
type nights struct {
	dueList
	n     *nightly
	alarm alarm
	asked int
}

func (s *nights) Due() (time.Time, bool, error) {
	s.asked++
	at, ok := s.n.next()
	return at, ok, nil
}
func (s *nights) Recheck(_ context.Context, now time.Time, _ int) error { s.n.ring(now); return nil }
func (s *nights) Moved() <-chan struct{}                                { return s.alarm }

// keepNights runs the timer over backups that take a while, in a bubble; the returned function ends it.
func keepNights(t *testing.T, last time.Time, once func(ctx context.Context) error) (s *nights, end func()) {
	zone, err := time.LoadLocation("Europe/London")
	require.NoError(t, err)
	s = &nights{alarm: make(alarm, 1)}
	s.changed = make(chan struct{})
	s.n = startNightly(&nightly{log: slog.New(slog.DiscardHandler), moved: s.alarm.tell, once: once,
		schedule: func() backup.Schedule { return backup.Schedule{Hour: 4, Minute: 30, Zone: zone} }}, time.Now(), last)
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error)
	go func() { done <- keepTime(ctx, s, clock{now: time.Now}, func() {}) }()
	return s, func() { cancel(); require.NoError(t, <-done); s.n.stop() }
}

// Each night one, at half past four by the clinic's clock, in summer and in winter; between them the daemon sleeps.
func TestOneBackupANight(t *testing.T) {
	synctest.Test(t, func(t *testing.T) { // it begins at midnight UTC of 1 January 2000
		var made []time.Time
		s, end := keepNights(t, time.Now(), func(context.Context) error {
			made = append(made, time.Now())
			pass(20 * time.Minute)
			return nil
		})
		pass(120 * 24 * time.Hour)
		synctest.Wait()
		require.Len(t, made, 120)
		for i, at := range made {
			hour := 4
			if !at.Before(time.Date(2000, 3, 26, 1, 0, 0, 0, time.UTC)) {
				hour = 3 // British Summer Time
			}
			require.Equal(t, time.Date(2000, 1, 1+i, hour, 30, 0, 0, time.UTC), at.UTC())
		}
		require.LessOrEqual(t, s.asked, 3*120+1, "asked when one is due, begun and done, and not else")
		good, fails := s.n.figures()
		require.Equal(t, made[119], good)
		require.Zero(t, fails)
		require.Empty(t, s.n.trouble())
		end()
	})
}

// A clinic whose machine was off at night gets the missed one when it starts; the first of all is made at once.
func TestAMissedNightIsMadeUpFor(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for _, test := range []struct {
			last time.Duration
			at   time.Duration
		}{{-365 * 24 * time.Hour, 0}, {-20 * time.Hour, 0}, {-19 * time.Hour, 270 * time.Minute}} {
			start := time.Now()
			for start.UTC().Hour() != 0 {
				pass(30 * time.Minute)
				start = time.Now()
			}
			var made []time.Time
			_, end := keepNights(t, start.Add(test.last), func(context.Context) error { made = append(made, time.Now()); return nil })
			pass(23 * time.Hour)
			synctest.Wait()
			require.NotEmpty(t, made)
			require.Equal(t, start.Add(test.at), made[0], "the last one was %s ago", -test.last)
			end()
		}
	})
}

// One that fails is tried again each hour, said on the page and counted; the next good one ends that.
func TestAFailedBackupIsToldAndTriedAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		tries := 0
		start := time.Now()
		s, end := keepNights(t, start, func(context.Context) error {
			if tries++; tries <= 3 {
				return errors.New("/mnt/safe: no such file or directory")
			}
			return nil
		})
		pass(5 * time.Hour)
		synctest.Wait()
		require.Equal(t, 1, tries)
		require.Contains(t, s.n.trouble(), "The nightly backup failed")
		require.Contains(t, s.n.trouble(), "the last good one is of ")
		require.NotContains(t, s.n.trouble(), "/mnt", "the page shows it to everybody")
		pass(3 * time.Hour)
		synctest.Wait()
		require.Equal(t, 4, tries)
		require.Empty(t, s.n.trouble())
		good, fails := s.n.figures()
		require.Equal(t, 3, fails)
		require.Equal(t, start.Add(7*time.Hour+30*time.Minute), good)
		pass(20 * time.Hour)
		synctest.Wait()
		require.Equal(t, 4, tries, "not before the next night")
		end()
	})
}

// One that takes more than a day is not joined by another, and ends when the daemon stops.
func TestNeverTwoAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var under, most, ended atomic.Int32
		_, end := keepNights(t, time.Time{}, func(ctx context.Context) error {
			most.Store(max(most.Load(), under.Add(1)))
			defer under.Add(-1)
			select {
			case <-time.After(30 * time.Hour):
				return nil
			case <-ctx.Done():
				ended.Add(1)
				return ctx.Err()
			}
		})
		pass(40 * time.Hour)
		synctest.Wait()
		require.EqualValues(t, 1, most.Load())
		pass(100 * time.Hour)
		end()
		require.EqualValues(t, 1, most.Load())
		require.LessOrEqual(t, ended.Load(), int32(1))
		require.Zero(t, under.Load())
	})
}
