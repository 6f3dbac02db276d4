package daemon

import (
	"context"
	"fmt"
	"time"
)

// due is what the timer stands on: the ledger's index of instants at which time alone changes a flag.
type due interface {
	// Due is the earliest instant; ok is false when nothing waits for time.
	Due() (at time.Time, ok bool, err error)
	// Recheck judges at most limit of the things that are due at now again.
	Recheck(ctx context.Context, now time.Time, limit int) error
	// Changed gives a channel that is closed at the next change of the ledger.
	Changed() <-chan struct{}
}

// recheckStep is how many things are judged again between two batches of events, so that nobody who records waits for
// all that became due in a night.
const recheckStep = 64

// keepTime sleeps until the earliest due instant, judges again what is due, in small steps, and sleeps again. A change
// of the ledger moves the timer. Woke is called before each step.
//
// The timer runs on the monotonic clock, so a machine that was suspended wakes late by that much, or at the next event.
func keepTime(ctx context.Context, d due, woke func()) error {
	timer := time.NewTimer(0)
	defer timer.Stop()
	for {
		changed := d.Changed() // before asking, so that a change in between is not missed
		at, ok, err := d.Due()
		if err != nil {
			return fmt.Errorf("what is due: %w", err)
		}
		now := time.Now()
		if ok && !at.After(now) {
			woke()
			if err := d.Recheck(ctx, now, recheckStep); err != nil {
				return fmt.Errorf("judge again what is due: %w", err)
			}
			if ctx.Err() != nil {
				return nil
			}
			continue
		}
		timer.Stop()
		var ring <-chan time.Time
		if ok {
			timer.Reset(at.Sub(now))
			ring = timer.C
		}
		select {
		case <-ctx.Done():
			return nil
		case <-changed:
		case <-ring:
		}
	}
}
