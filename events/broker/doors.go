package broker

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"sync"
	"sync/atomic"

	"github.com/nats-io/nats.go"

	"github.com/pottrail/pottrail/events"
)

// What one account may have under way. Ours: a hatch has one, a laboratory's program some tens; with more, the others
// would wait for it.
const (
	accountRecording = 16      // requests to record that are with the handler
	accountAsking    = 4       // questions that are with the handler
	accountWaiting   = 256     // requests of either sort, with the handler or waiting for it
	accountBytes     = 8 << 20 // of all of these together
)

// Doors takes in what accounts send: each has a door of its own, so that one that sends more than can be recorded keeps
// nobody else waiting. What does not fit through a door is answered at once: nothing of it was recorded, send it again.
type Doors struct {
	conn   *nats.Conn
	record RecordHandler
	ask    AskHandler
	log    *slog.Logger
	ctx    context.Context
	cancel context.CancelFunc

	working sync.WaitGroup

	mu     sync.Mutex
	open   map[Sender]*door
	closed bool
}

// ServeAccounts answers accounts once [Doors.Set] has said which there are. The log may be nil.
func ServeAccounts(conn *nats.Conn, record RecordHandler, ask AskHandler, log *slog.Logger) *Doors {
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	d := &Doors{conn: conn, record: record, ask: ask, log: log, open: map[Sender]*door{}}
	d.ctx, d.cancel = context.WithCancel(context.Background())
	return d
}

// door is where one account is heard.
type door struct {
	*Doors
	from      Sender
	subs      []*nats.Subscription
	recording chan struct{} // places with the handler
	asking    chan struct{}
	waiting   atomic.Int64 // requests
	bytes     atomic.Int64 // of them
}

// Set opens doors for accounts that have none, and closes those of accounts that are not among these. Requests under way
// get their answers.
func (d *Doors) Set(accounts []Account) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.closed {
		return errors.New("NATS: accounts are no longer answered")
	}
	return d.set(accounts)
}

func (d *Doors) set(accounts []Account) error {
	wanted := map[Sender]bool{}
	for _, a := range accounts {
		from := a.sender()
		wanted[from] = true
		if d.open[from] != nil {
			continue
		}
		opened, err := d.hear(from)
		if err != nil {
			return err
		}
		d.open[from] = opened
	}
	var errs []error
	for from, gone := range d.open {
		if !wanted[from] {
			errs = append(errs, gone.shut())
			delete(d.open, from)
		}
	}
	// The subscriptions are at the server before this returns.
	return errors.Join(append(errs, d.conn.Flush())...)
}

func (d *Doors) hear(from Sender) (*door, error) {
	o := &door{Doors: d, from: from, recording: make(chan struct{}, accountRecording), asking: make(chan struct{}, accountAsking)}
	for subject, take := range map[string]nats.MsgHandler{events.SubjectRecords: o.takeRecord, events.SubjectAsks: o.takeQuestion} {
		sub, err := d.conn.QueueSubscribe(from.prefix()+subject, group, take)
		if err == nil {
			o.subs = append(o.subs, sub)
			const requests, bytes = 1 << 14, 64 << 20 // each is taken at once: these are never reached
			err = sub.SetPendingLimits(requests, bytes)
		}
		if err != nil {
			return nil, errors.Join(fmt.Errorf("NATS: listening to account %s: %w", from.Name, err), o.shut())
		}
	}
	return o, nil
}

// shut hears nothing more; what was heard is answered.
func (o *door) shut() error {
	var errs []error
	for _, sub := range o.subs {
		o.working.Add(1) // until the subscription has handed over what it has
		heard := sync.OnceFunc(o.working.Done)
		sub.SetClosedHandler(func(string) { heard() })
		if err := sub.Drain(); err != nil {
			heard() // closed already: nothing more comes in
			if !errors.Is(err, nats.ErrConnectionClosed) && !errors.Is(err, nats.ErrBadSubscription) {
				errs = append(errs, fmt.Errorf("NATS: account %s: %w", o.from.Name, err))
			}
		}
	}
	return errors.Join(errs...)
}

// take does the work of a request, behind those of the same account that wait for a place; false when there is no room for
// it even to wait.
func (o *door) take(msg *nats.Msg, places chan struct{}, work func()) bool {
	size := int64(len(msg.Data))
	leave := func() { o.waiting.Add(-1); o.bytes.Add(-size) }
	requests, bytes := o.waiting.Add(1), o.bytes.Add(size)
	if requests > accountWaiting || bytes > accountBytes {
		leave()
		return false
	}
	o.working.Go(func() {
		defer leave()
		places <- struct{}{}
		defer func() { <-places }()
		work()
	})
	return true
}

func (o *door) takeRecord(msg *nats.Msg) {
	if o.take(msg, o.recording, func() { respond(o.log, msg, verdicts(o.ctx, o.record, o.from, msg)) }) {
		return
	}
	o.log.Warn("an account sends more than can be recorded; it is told to send again", "account", o.from.Name)
	respond(o.log, msg, events.AppendVerdict(nil, events.Refused(events.FindID(msg.Data), &events.Refusal{Code: events.CodeBusy,
		Text: "Nothing of this was recorded: too many requests of this client wait already. Send it again with the same ids when some of them are answered."})))
}

func (o *door) takeQuestion(msg *nats.Msg) {
	subject := o.from.subject(msg.Subject)
	asked := asked{Question: Question{Clinic: events.SubjectClinic(subject), What: subject[strings.LastIndexByte(subject, '.')+1:], Request: msg.Data, From: o.from},
		subject: msg.Subject, reply: msg.Reply}
	if o.take(msg, o.asking, func() { asked.answer(o.ctx, o.conn, o.ask, o.log) }) {
		return
	}
	asked.answer(o.ctx, o.conn, func(context.Context, Question) ([]byte, error) {
		return nil, &AskError{Status: 429, Code: string(events.CodeBusy), Text: "Too many questions of this client wait already: ask again when some of them are answered."}
	}, o.log)
}

// Stop hears nothing more and waits until what was heard is answered, as long as the context allows; after that the handlers'
// context ends.
func (d *Doors) Stop(ctx context.Context) {
	defer d.cancel()
	d.mu.Lock()
	d.closed = true
	err := d.set(nil)
	d.mu.Unlock()
	if err != nil {
		d.log.Warn("accounts were not closed well", "error", err.Error())
	}
	done := make(chan struct{})
	go func() {
		d.working.Wait()
		close(done)
	}()
	select {
	case <-done:
	case <-ctx.Done():
	}
}
