package broker

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"github.com/nats-io/nats.go"

	"github.com/pottrail/pottrail/events"
)

// RecordRequest is what a client sent to be recorded.
type RecordRequest struct {
	Clinic string    // in the subject; events of another are refused by the handler
	Data   []byte    // one event, or an array, or one a line; perhaps too large
	SentAt time.Time // the sender's clock at sending; zero when it did not say
	From   Sender    // the account that sent it; empty for the owner's user
}

// RecordHandler records and gives the verdicts as they are to be sent ([events.AppendAnswer]). It is called from many
// goroutines at once, so that requests can wait together for one commit. The context ends when recording stops.
type RecordHandler func(ctx context.Context, r RecordRequest) []byte

// group is the queue group of our subscriptions: of several daemons over one network, one answers.
const group = "trail"

// waiting is how many requests may be with the handler at once; more wait in the subscription. Ours.
const waiting = 4096

// Recorder takes events in over NATS until it is stopped.
type Recorder struct {
	sub     *nats.Subscription
	handle  RecordHandler
	log     *slog.Logger
	ctx     context.Context
	cancel  context.CancelFunc
	places  chan struct{}
	working sync.WaitGroup

	stopping sync.Once
	stopped  chan struct{}
}

// ServeRecord subscribes to the record subject of every clinic. The log takes answers that could not be sent; it may be
// nil.
func ServeRecord(conn *nats.Conn, handle RecordHandler, log *slog.Logger) (*Recorder, error) {
	r := &Recorder{handle: handle, log: log, places: make(chan struct{}, waiting), stopped: make(chan struct{})}
	if r.log == nil {
		r.log = slog.New(slog.DiscardHandler)
	}
	r.ctx, r.cancel = context.WithCancel(context.Background())
	sub, err := conn.QueueSubscribe(events.SubjectRecords, group, r.take)
	if err != nil {
		return nil, fmt.Errorf("NATS: subscribing to %s: %w", events.SubjectRecords, err)
	}
	const requests, bytes = 1 << 16, 256 << 20
	if err := sub.SetPendingLimits(requests, bytes); err != nil {
		return nil, fmt.Errorf("NATS: subscribing to %s: %w", events.SubjectRecords, err)
	}
	r.sub = sub
	// The subscription is at the server before this returns: a client that is told of us finds us.
	if err := conn.Flush(); err != nil {
		return nil, fmt.Errorf("NATS: subscribing to %s: %w", events.SubjectRecords, err)
	}
	return r, nil
}

// take gives a request to the handler without waiting for it.
func (r *Recorder) take(msg *nats.Msg) {
	r.places <- struct{}{}
	r.working.Go(func() {
		defer func() { <-r.places }()
		respond(r.log, msg, verdicts(r.ctx, r.handle, Sender{}, msg))
	})
}

// verdicts asks the handler about a request.
func verdicts(ctx context.Context, handle RecordHandler, from Sender, msg *nats.Msg) []byte {
	request := RecordRequest{Clinic: events.SubjectClinic(from.subject(msg.Subject)), Data: msg.Data, From: from}
	if header := msg.Header.Get(events.HeaderSentAt); header != "" {
		at, err := time.Parse(time.RFC3339, header)
		if err != nil {
			return events.AppendVerdict(nil, events.Refused(events.FindID(msg.Data), &events.Refusal{Code: events.CodeBadTime, Field: events.HeaderSentAt,
				Text: events.HeaderSentAt + " is the sender's clock in RFC 3339 with offset, as in 2026-03-06T15:42:10+00:00."}))
		}
		request.SentAt = at
	}
	return handle(ctx, request)
}

// respond sends an answer to a request to record.
func respond(log *slog.Logger, msg *nats.Msg, answer []byte) {
	if msg.Reply == "" {
		return // published without waiting for an answer: recorded all the same
	}
	err := msg.Respond(answer)
	if errors.Is(err, nats.ErrMaxPayload) {
		err = msg.Respond(events.AppendVerdict(nil, events.Refused("", &events.Refusal{Code: events.CodeTooLarge,
			Text: "The verdicts are too long for one message; what was well formed is recorded. Send the same events again in smaller parts to get their verdicts."})))
	}
	if err != nil {
		log.Warn("a verdict could not be sent", "subject", msg.Subject, "error", err)
	}
}

// Stop takes no more requests and waits until those under way are answered, as long as the context allows; after that
// the handlers' context ends.
func (r *Recorder) Stop(ctx context.Context) {
	defer r.cancel()
	r.stopping.Do(r.drain)
	select {
	case <-r.stopped:
	case <-ctx.Done():
	}
}

// drain lets the subscription hand over what it has and counts down the handlers.
func (r *Recorder) drain() {
	closed := make(chan struct{})
	r.sub.SetClosedHandler(func(string) { close(closed) })
	if err := r.sub.Drain(); err != nil {
		r.sub.SetClosedHandler(nil) // the connection is closed: nothing more comes in
		closed = nil
	}
	go func() {
		if closed != nil {
			<-closed
		}
		r.working.Wait()
		close(r.stopped)
	}()
}
