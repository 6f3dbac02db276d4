package store

import (
	"errors"
	"fmt"
	"runtime"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/events"
)

// mostFlow is how many intakes one batch of a flow takes; what touches many cases and bags ends it earlier.
const mostFlow = 500

// RecordFlow is [Ledger.Record] for whoever keeps a queue. It takes first and then, as long as the batch before is on
// its way to the disk, whatever next gives, and judges it meanwhile; so a batch is ready the moment that the disk is, and
// there is no other delay. Next gives what is waiting; with nothing waiting it gives nil when hurry is closed, else it
// waits for either. It is called by one goroutine at a time, and nothing is asked of it after nil to a closed hurry.
//
// The batch that comes back is all that was taken, in order, with a verdict for each; errors are those of Record, and
// with [ErrNoSpace] and others the batch comes back too, since all of it must be answered. Use two goroutines.
func (l *Ledger) RecordFlow(now func() time.Time, first []Intake, next func(hurry <-chan struct{}) []Intake) (batch []Intake, verdicts []events.Verdict, err error) {
	batch = append(batch, first...)
	took, flowed := 0, false
	err = l.change(now(), func(d *draft) (err error) {
		if flowed { // prepared again, since the batch before came to nothing: the same, and no more
			next = nil
		}
		flowed = true
		batch, verdicts, took, err = d.flow(batch, now, next)
		return err
	})
	switch {
	case errors.Is(err, ErrNoSpace):
		return batch, noSpace(batch), fmt.Errorf("record: %w", err)
	case err != nil:
		return batch, nil, fmt.Errorf("record: %w", err)
	case took == len(batch):
		return batch, verdicts, nil
	}
	rest, err := l.Record(now(), batch[took:])
	return batch, append(verdicts[:took], rest...), err
}

// flow records a batch that may grow meanwhile, until the transaction is large enough.
func (d *draft) flow(batch []Intake, now func() time.Time, next func(hurry <-chan struct{}) []Intake) (all []Intake, verdicts []events.Verdict, took int, err error) {
	d.ids = make(map[eventKey]noted, len(batch))
	d.hashes = make(map[int64]tlog.Hash, 2*len(batch))
	for d.touched <= mostTouched {
		if took == len(batch) {
			if next == nil || len(batch) >= mostFlow {
				break
			}
			more, err := d.wait(next, took)
			batch = append(batch, more...)
			if err != nil {
				return batch, nil, took, err
			}
			if len(more) == 0 {
				break
			}
			if t := now().Round(0).UTC(); t.After(d.now) { // they came later than the first
				d.now, d.state.now = t, t
			}
		}
		v, err := d.recordOne(batch[took])
		if err != nil {
			return batch, nil, took, err
		}
		verdicts, took = append(verdicts, v), took+1
		if d.busy() {
			if err := d.spell(); err != nil {
				return batch, nil, took, err
			}
		}
	}
	for key, n := range d.ids {
		d.put(inIDs, key[:], idValue(key, n.seq, n.kept))
	}
	return batch, verdicts, took, nil
}

// wait asks for more. While it waits for the batch before, no transaction is open: that one could need to map the file
// anew, which waits for whoever reads.
func (d *draft) wait(next func(hurry <-chan struct{}) []Intake, took int) ([]Intake, error) {
	if !d.busy() { // whatever else waits is judged while this batch is being written
		if took > 1 {
			return nil, nil
		}
		runtime.Gosched() // whoever is about to ask does so now
		return next(always), nil
	}
	if more := next(always); len(more) > 0 {
		return more, nil
	}
	if err := d.tx.Rollback(); err != nil {
		return nil, fmt.Errorf("read ledger: %w", err)
	}
	more := next(d.after)
	tx, err := d.l.db.Begin(false)
	if err != nil {
		return more, fmt.Errorf("read ledger: %w", err)
	}
	d.tx = tx
	return more, nil
}

// always is a hurry that has come.
var always = func() chan struct{} {
	c := make(chan struct{})
	close(c)
	return c
}()

func noSpace(batch []Intake) []events.Verdict {
	verdicts := make([]events.Verdict, len(batch))
	for i, in := range batch {
		verdicts[i] = events.Refused(idText(in.Event), &events.Refusal{Code: events.CodeNoSpace,
			Text: "There is no space left for the ledger; this was not recorded. Make space, then send it again with the same id."})
	}
	return verdicts
}
