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
	RecordFlow(now func() time.Time, first []store.Intake, next func(hurry <-chan struct{}) []store.Intake) ([]store.Intake, []events.Verdict, error)
}

// intake gathers what is waiting and hands it to the ledger as one batch; while one commit is on its way to the disk,
// the next batch forms. There is no artificial delay: a lone event goes at once.
type intake struct {
	ledger recorder
	broken func(error) // called once, with what makes recording impossible
	queue  chan *waiting
	// recorded is told of each batch that is on disk, after its verdicts have gone back; it must not wait. Nil: nobody is.
	recorded atomic.Pointer[func([]store.Intake, []events.Verdict)]

	running sync.WaitGroup
	dead    atomic.Bool // recording has become impossible
	damaged atomic.Bool // since the ledger is damaged: nothing was recorded, and nothing will be

	gate   sync.RWMutex // held for writing while the queue is closed
	closed bool
}

// hands is how many goroutines talk to the ledger: one batch is prepared while the other is on its way to the disk.
const hands = 2

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
	Text: "not confirmed, scan again when the daemon is back: the disk failed while recording, and it is not known whether this is on it. The same scan, sent with the same id, is recorded once"}

// errDamaged is said while the ledger can only be read.
var errDamaged = &ask.Error{Kind: ask.Unavailable, Code: string(events.CodeLedgerDamaged),
	Text: "not recorded: the ledger is damaged and can only be read; write it down on paper with its time, keep what was sent, and send it again with the same id when the ledger is mended"}

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
	switch {
	case in.closed:
		return errStopping
	case in.damaged.Load():
		return errDamaged
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
	for first := range in.queue {
		if in.dead.Load() {
			answer([]*waiting{first}, nil, in.deadly())
			continue
		}
		in.commit(first)
	}
}

// commit records one batch, which grows while the one before is on its way to the disk, and tells everybody.
func (in *intake) commit(first *waiting) {
	group := []*waiting{first}
	batch, verdicts, err := in.ledger.RecordFlow(time.Now, first.batch, func(hurry <-chan struct{}) []store.Intake {
		w := in.next(hurry)
		if w == nil {
			return nil
		}
		group = append(group, w)
		return w.batch
	})
	switch {
	case err == nil, errors.Is(err, store.ErrNoSpace) && len(verdicts) == len(batch):
		answer(group, verdicts, nil)
		if recorded := in.recorded.Load(); recorded != nil {
			(*recorded)(batch, verdicts)
		}
	default:
		if errors.Is(err, store.ErrDamaged) && !errors.Is(err, store.ErrFatal) {
			in.damaged.Store(true)
		}
		dead := in.dead.Swap(true)
		answer(group, nil, in.deadly())
		if !dead {
			in.broken(err)
		}
	}
}

// deadly says what is known of what could not be recorded any more.
func (in *intake) deadly() error {
	if in.damaged.Load() {
		return errDamaged
	}
	return errUnknown
}

// refuse has nothing recorded from now on, since the ledger is damaged.
func (in *intake) refuse() { in.damaged.Store(true) }

// next is the next request, waited for until there is hurry; nil when there is none, or no more will come.
func (in *intake) next(hurry <-chan struct{}) *waiting {
	select {
	case w := <-in.queue:
		return w
	case <-hurry:
	}
	select {
	case w := <-in.queue:
		return w
	default:
		return nil
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
