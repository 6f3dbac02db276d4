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
	// Moved gives a channel that receives when what is due has moved otherwise.
	Moved() <-chan struct{}
}

// recheckStep is how many things are judged again between two batches of events, so that nobody who records waits for
// all that became due in a night.
const recheckStep = 64

// clock is the machine's clock as the timer sees it.
type clock struct {
	now func() time.Time
	// stepped is told when the clock was set, or the machine slept. Nil where the system does not tell.
	stepped <-chan struct{}
}

// keepTime sleeps until the earliest due instant, judges again what is due, in small steps, and sleeps again. A change
// of the ledger moves the timer. Woke is called before each step.
//
// The timer itself runs on the monotonic clock, which knows nothing of a clock that is set and stands still while a
// machine sleeps. So a step of the clock moves it too; after one that goes back the ledger judges again what it judged in
// the time that did not come.
func keepTime(ctx context.Context, d due, c clock, woke func()) error {
	timer := time.NewTimer(0)
	defer timer.Stop()
	for {
		changed := d.Changed() // before asking, so that a change in between is not missed
		at, ok, err := d.Due()
		if err != nil {
			return fmt.Errorf("what is due: %w", err)
		}
		now := c.now()
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
		case <-d.Moved():
		case <-ring:
		case <-c.stepped:
			if err := d.Recheck(ctx, c.now(), recheckStep); err != nil {
				return fmt.Errorf("judge again after the clock was set: %w", err)
			}
		}
	}
}
