package broker

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync/atomic"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
)

// feed keeps one stream equal to what its source has, within the stream's limits. Each message is published on the
// condition that it follows the one before it, so the stream holds them in order, once, and without gaps, or the feed
// hears of it and begins again from the stream's own last message.
type feed struct {
	server *Server
	conn   *nats.Conn
	js     jetstream.JetStream
	config jetstream.StreamConfig
	source spring
	window int // messages under way at once
	log    *slog.Logger

	flush    chan chan struct{}
	waiting  []chan struct{} // flushes that the next pause answers
	lostIn   uint64          // epoch in which the stream's folder was found gone, 0 when it was not
	position atomic.Uint64   // of the last message that the stream has acknowledged
	restarts atomic.Uint64
}

// spring is where a feed's messages come from.
type spring interface {
	// resume looks at what the stream holds and sets the position to go on from, or says that the stream must be made
	// anew. It is called again for the new, empty stream.
	resume(ctx context.Context, stream jetstream.Stream) (again bool, err error)
	// next gives what follows, oldest first; none means that the source is exhausted for now.
	next(limit int) ([]outgoing, error)
	// changed gives a channel that is closed when there may be more.
	changed() <-chan struct{}
}

// outgoing is one message and its place in the source.
type outgoing struct {
	msg      *nats.Msg
	position uint64
}

// Reasons for a feed to begin again.
var (
	errStoreLost   = errors.New("the folder of the streams was deleted")
	errDeleted     = errors.New("the stream was deleted")
	errOutOfOrder  = errors.New("the stream holds something else than was published")
	errForgotten   = errors.New("the log of flags no longer reaches back to the stream's last message")
	errAcknowledge = errors.New("a message was not acknowledged")
)

// Waits between two tries, doubling. The first is short, since a stream that was deleted should not be missed.
const (
	firstWait = 50 * time.Millisecond
	worstWait = 5 * time.Second
)

// run feeds the stream until the context ends. Nothing that goes wrong ends it.
func (f *feed) run(ctx context.Context) {
	deleted := make(chan *nats.Msg, 8)
	// The server tells of streams that are deleted, so an idle feed notices without looking.
	sub, err := f.conn.ChanSubscribe("$JS.EVENT.ADVISORY.STREAM.DELETED."+f.config.Name, deleted)
	if err == nil {
		defer func() { _ = sub.Unsubscribe() }() // fails only on a closed connection
	} else {
		f.log.Warn("stream deletions go unnoticed until the next event", "stream", f.config.Name, "error", err)
	}
	wait := firstWait
	for ctx.Err() == nil {
		before := f.position.Load()
		err := f.session(ctx, deleted)
		if ctx.Err() != nil {
			return
		}
		if f.position.Load() != before {
			wait = firstWait
		}
		f.restarts.Add(1)
		f.log.Warn("publishing begins again from the stream's last message", "stream", f.config.Name, "error", err)
		select {
		case <-ctx.Done():
		case <-time.After(wait):
		}
		wait = min(2*wait, worstWait)
	}
}

// session resumes and publishes until something is wrong with the stream; it never returns nil.
func (f *feed) session(ctx context.Context, deleted <-chan *nats.Msg) error {
	now, err := f.server.heal(f.log, f.lostIn)
	if err != nil {
		return err
	}
	f.lostIn = 0
	last, err := f.begin(ctx)
	if err != nil {
		return err
	}
	drain(deleted) // of what begin did itself, and of what it has repaired
	dir := seen(f.server.streamDir(f.config.Name))
	w := window{js: f.js, last: last, max: f.window, acknowledged: &f.position}
	for {
		changed := f.source.changed()
		batch, err := f.source.next(f.window)
		if err != nil {
			return err
		}
		// Whoever waits for a flush is not told that all is there when it has just been deleted.
		if (len(batch) > 0 || len(f.waiting) > 0) && (now.top.lost() || dir.lost()) {
			f.lostIn = now.number
			return errStoreLost
		}
		if len(batch) == 0 {
			if err := f.idle(ctx, &w, changed, deleted, now.over); err != nil {
				return err
			}
			continue
		}
		for _, out := range batch {
			if err := w.send(ctx, out); err != nil {
				return err
			}
		}
	}
}

// begin makes the stream if need be, resumes, and gives the sequence number of the stream's last message.
func (f *feed) begin(ctx context.Context) (last uint64, err error) {
	stream, err := ensure(ctx, f.js, f.config)
	if err != nil {
		return 0, err
	}
	again, err := f.source.resume(ctx, stream)
	if err != nil {
		return 0, err
	}
	if again {
		f.log.Warn("a stream is made anew from the ledger", "stream", f.config.Name)
		if stream, err = recreate(ctx, f.js, f.config); err != nil {
			return 0, err
		}
		if again, err = f.source.resume(ctx, stream); err != nil || again {
			return 0, fmt.Errorf("stream %s: %w", f.config.Name, errors.Join(errOutOfOrder, err))
		}
	}
	return stream.CachedInfo().State.LastSeq, nil
}

// idle waits until everything is acknowledged and then for more to publish. Whoever waited for a flush before the
// source was last asked has what it wanted by then.
func (f *feed) idle(ctx context.Context, w *window, changed <-chan struct{}, deleted <-chan *nats.Msg, over <-chan struct{}) error {
	if err := w.settle(ctx, 0); err != nil {
		return err
	}
	for _, done := range f.waiting {
		close(done)
	}
	f.waiting = nil
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-changed:
	case <-deleted:
		return errDeleted
	case <-over:
		return errStoreLost
	case done := <-f.flush:
		f.waiting = append(f.waiting, done) // asks the source once more
	}
	return nil
}

func drain(messages <-chan *nats.Msg) {
	for {
		select {
		case <-messages:
		default:
			return
		}
	}
}

// window is the messages under way: published and not yet acknowledged, oldest first.
type window struct {
	js           jetstream.JetStream
	last         uint64 // sequence number of the message before the next
	max          int
	under        []underWay
	acknowledged *atomic.Uint64
}

type underWay struct {
	future   jetstream.PubAckFuture
	sequence uint64
	position uint64
}

// send publishes one message, and waits for the oldest when too many are under way.
func (w *window) send(ctx context.Context, out outgoing) error {
	if err := w.settle(ctx, w.max-1); err != nil {
		return err
	}
	future, err := w.js.PublishMsgAsync(out.msg, jetstream.WithExpectLastSequence(w.last), jetstream.WithRetryAttempts(0))
	if err != nil {
		return fmt.Errorf("%w: %w", errAcknowledge, err)
	}
	w.last++
	w.under = append(w.under, underWay{future: future, sequence: w.last, position: out.position})
	return nil
}

// settle waits until at most so many are under way.
func (w *window) settle(ctx context.Context, most int) error {
	for len(w.under) > most {
		oldest := w.under[0]
		select {
		case ack := <-oldest.future.Ok():
			// A duplicate was not stored: the server remembers an id whose message the stream may have lost.
			if ack.Duplicate || ack.Sequence != oldest.sequence {
				return errOutOfOrder
			}
		case err := <-oldest.future.Err():
			return fmt.Errorf("%w: %w", errAcknowledge, err)
		case <-ctx.Done():
			return ctx.Err()
		}
		w.acknowledged.Store(oldest.position)
		w.under = w.under[1:]
	}
	return nil
}
