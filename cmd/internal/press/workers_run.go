package press

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"

	"github.com/pottrail/pottrail/labels/printers"
	"github.com/pottrail/pottrail/store/prints"
)

// worker serves one printer.
type worker struct {
	o      *Options
	name   string
	sender printers.Sender
	owe    func()
	wake   chan struct{} // a label was queued, or somebody did something about the printer

	// Of the worker alone.
	troubles  int        // in a row
	lastEnd   time.Time  // of the last try
	notBefore time.Time  // no try before: what was sent may have been cut off
	hurried   bool       // somebody waits beside the printer
	late      chan error // of a sender that did not come back in time

	mu     sync.Mutex // guards what follows
	status Status
}

// run works until the context ends.
func (w *worker) run(ctx context.Context) {
	for ctx.Err() == nil {
		next, err := w.step(ctx)
		if errors.Is(err, prints.ErrFatal) || errors.Is(err, prints.ErrClosed) {
			w.note("the print queue can no longer be written: restart the program")
			w.enter(Waits, time.Time{})
			if errors.Is(err, prints.ErrFatal) {
				w.o.Broken(err)
			}
			return
		}
		if err != nil {
			w.troubles++
			next = time.Now().Add(w.o.wait(w.troubles))
			w.note("the print queue cannot be used: " + err.Error())
			w.enter(Waits, next)
			w.o.Log.Error("the print queue cannot be used", "printer", w.name, "error", err.Error())
		}
		if next.IsZero() || next.After(time.Now()) {
			w.sleep(ctx, next)
		}
	}
}

// sleep waits until an instant (for ever: zero), a wake or the end.
func (w *worker) sleep(ctx context.Context, until time.Time) {
	var ring <-chan time.Time
	if !until.IsZero() {
		timer := time.NewTimer(time.Until(until))
		defer timer.Stop()
		ring = timer.C
	}
	select {
	case <-ctx.Done():
	case <-ring:
	case <-w.wake:
		w.hurried = true
	case err := <-w.late: // nil while none is out: then it is never ready
		w.late = nil
		w.o.Log.Warn("a printer came back after its time was up", "printer", w.name, "error", fmt.Sprint(err))
	}
}

// step does the next thing and says when to come back: zero when nothing waits. It never holds a label back that may go.
func (w *worker) step(ctx context.Context) (next time.Time, err error) {
	if w.late != nil { // two would talk to the printer at once
		w.enter(Waits, time.Time{})
		return time.Time{}, nil
	}
	now := time.Now()
	if w.hurried {
		// Somebody has just asked for a label, or loaded paper: they should not stand there for a minute. But a batch of
		// labels must not become a batch of tries.
		if soon := w.lastEnd.Add(w.o.FirstWait); w.troubles == 0 || !soon.After(now) {
			w.hurried, w.notBefore = false, time.Time{}
			if err := w.o.Queue.Hurry(w.name, now); err != nil {
				return time.Time{}, err
			}
		} else {
			next = soon
		}
	}
	if w.notBefore.After(now) {
		return w.rest(earlier(next, w.notBefore))
	}
	job, body, ok, err := w.o.Queue.Take(w.name, now)
	if err != nil {
		return time.Time{}, err
	}
	w.owe() // Take may have let some go
	if ok {
		return now, w.try(ctx, job, body)
	}
	due, ok, err := w.o.Queue.NextDue(w.name)
	if err != nil {
		return time.Time{}, err
	}
	if !ok {
		w.hurried = false
		w.enter(Ready, time.Time{})
		return time.Time{}, nil
	}
	return w.rest(earlier(next, due))
}

// rest notes that labels wait until an instant.
func (w *worker) rest(next time.Time) (time.Time, error) {
	tally, err := w.o.Queue.Tally(w.name)
	if err != nil {
		return time.Time{}, err
	}
	if tally.Waiting == 0 {
		w.enter(Ready, time.Time{})
	} else {
		w.enter(Waits, next)
	}
	return next, nil
}

// earlier is the earlier of two instants; zero is none.
func earlier(a, b time.Time) time.Time {
	if a.IsZero() || b.Before(a) {
		return b
	}
	return a
}

// try sends one label and notes what became of it.
func (w *worker) try(ctx context.Context, job prints.Job, body []byte) error {
	w.hurried = false
	w.enter(Printing, time.Time{})
	defer w.o.Changed()
	err := w.send(ctx, job, body)
	now := time.Now()
	w.lastEnd = now
	queue := w.o.Queue
	if err == nil {
		w.troubles = 0
		w.note("")
		w.o.Log.Info("a label was printed", "job", job.ID, "printer", w.name, "attempts", job.Attempts)
		return w.write(ctx, func() error { return queue.Sent(job.ID, now) })
	}
	problem := reason(err)
	w.note(problem)
	w.o.Log.Warn("a label was not printed", "job", job.ID, "printer", w.name, "attempts", job.Attempts, "error", err.Error())
	switch known(err) {
	case printers.ErrRefused:
		// The printer answers, and takes no label of this kind: others may do.
		defer w.owe()
		return w.write(ctx, func() error { return queue.Refuse(job.ID, now, problem) })
	case printers.ErrNotSent:
		next := now
		if ctx.Err() == nil {
			w.troubles++
			next = now.Add(w.o.wait(w.troubles))
		}
		return w.write(ctx, func() error { return queue.Again(job.ID, now, next, problem) })
	}
	// The labels behind it go on after a pause. Each has a code of its own, so that going on prints none twice, and holding
	// them would leave the next pot without a label until somebody has found a screen. The pause lets a printer that was cut
	// off in the middle of its commands give up waiting for the rest.
	w.troubles++
	w.notBefore = now.Add(w.o.wait(w.troubles))
	return w.write(ctx, func() error { return queue.Lost(job.ID, now, problem) })
}

// known is what an error says of a label. One that says nothing, or two things, is believed in the worst.
func known(err error) error {
	for _, careful := range []error{printers.ErrUnknown, printers.ErrRefused, printers.ErrNotSent} {
		if errors.Is(err, careful) {
			return careful
		}
	}
	return printers.ErrUnknown
}

// reason is what an error says beside what is known of the label, which the state of the job says: it may stand for longer
// than that is true.
func reason(err error) string {
	text, what := err.Error(), known(err).Error()
	text = strings.TrimPrefix(text, what+": ")
	return strings.TrimSuffix(text, ": "+what)
}

// write notes an outcome on disk. While the disk is full it waits: nothing else can be printed before this is known. When
// the program ends first, the outcome is unknown after the next start.
func (w *worker) write(ctx context.Context, do func() error) error {
	for troubles := 1; ; troubles++ {
		err := do()
		if !errors.Is(err, prints.ErrNoSpace) || ctx.Err() != nil {
			return err
		}
		next := time.Now().Add(w.o.wait(troubles))
		w.note("the disk is full, so that nothing more can be printed: make space")
		w.enter(Waits, next)
		select {
		case <-ctx.Done():
		case <-time.After(time.Until(next)):
		}
	}
}
