package daemon

import (
	"context"
	"errors"
	"sync"
	"sync/atomic"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
)

const (
	// batchEvents is the most events that go to the ledger at once.
	batchEvents = 500
	// queueLength is how many requests may wait before those behind them wait to wait.
	queueLength = 1024
)

// recorder is the ledger as intake sees it.
type recorder interface {
	Record(now time.Time, batch []store.Intake) ([]events.Verdict, error)
}

// intake gathers what is waiting and hands it to the ledger as one batch; while one commit is on its way to the disk,
// the next batch forms. There is no artificial delay: a lone event goes at once.
type intake struct {
	ledger recorder
	broken func(error) // called once, with what makes recording impossible
	queue  chan *waiting

	running sync.WaitGroup
	dead    atomic.Bool // recording has become impossible

	gate   sync.RWMutex // held for writing while the queue is closed
	closed bool
}

// hands is how many goroutines talk to the ledger: one batch is prepared while the other is on its way to the disk.
const hands = 1

// waiting is one request's events on their way.
type waiting struct {
	batch    []store.Intake
	verdicts []events.Verdict
	err      error
	done     chan struct{}
}

// errStopping is said to those who come too late.
var errStopping = &ask.Error{Kind: ask.Unavailable, Code: string(events.CodeStopping), Text: "the daemon is stopping; nothing of this was recorded, send it again"}

// errUnknown is said when the disk failed: what was sent may or may not be on it.
var errUnknown = &ask.Error{Kind: ask.Unavailable, Code: "not-confirmed",
	Text: "the disk failed while recording: it is not known whether this was recorded; send it again with the same ids when the daemon is back"}

func newIntake(ledger recorder, broken func(error)) *intake {
	in := &intake{ledger: ledger, broken: broken, queue: make(chan *waiting, queueLength)}
	for range hands {
		in.running.Go(in.run)
	}
	return in
}

// submit waits for the verdicts of some events, at most batchEvents. The context ends only the waiting for a place in
// the queue: what is in it will be recorded.
func (in *intake) submit(ctx context.Context, batch []store.Intake) ([]events.Verdict, error) {
	w := &waiting{batch: batch, done: make(chan struct{})}
	if err := in.enter(ctx, w); err != nil {
		return nil, err
	}
	<-w.done
	return w.verdicts, w.err
}

func (in *intake) enter(ctx context.Context, w *waiting) error {
	in.gate.RLock()
	defer in.gate.RUnlock()
	if in.closed {
		return errStopping
	}
	select {
	case in.queue <- w:
		return nil
	case <-ctx.Done():
		return errStopping
	}
}

// stop takes nothing more in, and returns when all that waited has its verdict.
func (in *intake) stop() {
	in.gate.Lock()
	if !in.closed {
		in.closed = true
		close(in.queue)
	}
	in.gate.Unlock()
	in.running.Wait()
}

// run takes what is waiting to the ledger, again and again.
func (in *intake) run() {
	var over *waiting // did not fit into the last batch
	for {
		first := over
		if over = nil; first == nil {
			var ok bool
			if first, ok = <-in.queue; !ok {
				return
			}
		}
		group := []*waiting{first}
		group, over = in.gather(group)
		if in.dead.Load() {
			answer(group, nil, errUnknown)
			continue
		}
		in.commit(group)
	}
}

// gather takes what is waiting without waiting for it.
func (in *intake) gather(group []*waiting) (full []*waiting, over *waiting) {
	n := len(group[0].batch)
	for n < batchEvents {
		select {
		case w, ok := <-in.queue:
			if !ok {
				return group, nil
			}
			if n+len(w.batch) > batchEvents {
				return group, w
			}
			group, n = append(group, w), n+len(w.batch)
		default:
			return group, nil
		}
	}
	return group, nil
}

// commit records one batch and tells everybody.
func (in *intake) commit(group []*waiting) {
	batch := group[0].batch
	if len(group) > 1 {
		batch = nil
		for _, w := range group {
			batch = append(batch, w.batch...)
		}
	}
	verdicts, err := in.ledger.Record(time.Now(), batch)
	switch {
	case err == nil, errors.Is(err, store.ErrNoSpace) && len(verdicts) == len(batch):
		answer(group, verdicts, nil)
	case errors.Is(err, store.ErrNoSpace):
		answer(group, noSpace(batch), nil)
	default:
		answer(group, nil, errUnknown)
		if !in.dead.Swap(true) {
			in.broken(err)
		}
	}
}

// answer gives each request its part of the verdicts.
func answer(group []*waiting, verdicts []events.Verdict, err error) {
	for _, w := range group {
		if w.err = err; err == nil {
			w.verdicts, verdicts = verdicts[:len(w.batch)], verdicts[len(w.batch):]
		}
		close(w.done)
	}
}

// noSpace is the verdict on everything that found no space: it is not a refusal.
func noSpace(batch []store.Intake) []events.Verdict {
	reason := &events.Refusal{Code: events.CodeNoSpace, Text: "There is no space left for the ledger; this was not recorded. Make space, then send it again with the same id."}
	verdicts := make([]events.Verdict, len(batch))
	for i, b := range batch {
		verdicts[i] = events.Refused(string(b.Event.ID), reason)
	}
	return verdicts
}
