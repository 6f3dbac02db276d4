package broker

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strconv"
	"sync"

	"github.com/go-json-experiment/json"
	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/micro"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// ServiceName is the name under which questions are answered. Source: contract page 2.
const ServiceName = "trail"

// Question is one request to the service.
type Question struct {
	Clinic  string // in the subject
	What    string // the last word of the subject: "case", "pot", …
	Request []byte // a JSON object, perhaps empty
	From    Sender // the account that asks; empty for the owner's user
}

// AskHandler answers a question with JSON. It is called from many goroutines at once. An [*AskError] tells the asker
// what is wrong; any other error is logged and told as a fault of ours, without its text.
type AskHandler func(ctx context.Context, q Question) ([]byte, error)

// AskError is an answer that is none, in the words of HTTP.
type AskError struct {
	Status int    `json:"-"` // as over HTTP: 400, 404, 409, 503
	Code   string `json:"code"`
	Field  string `json:"field"`
	Text   string `json:"text"`
}

// Error is the sentence.
func (e *AskError) Error() string { return e.Text }

// asking is how many questions may be with the handler at once. Ours.
const asking = 64

// Answerer is the running micro service.
type Answerer struct {
	conn    *nats.Conn
	service micro.Service
	handle  AskHandler
	log     *slog.Logger
	ctx     context.Context
	cancel  context.CancelFunc
	places  chan struct{}
	working sync.WaitGroup
}

// ServeQuestions runs the service with one endpoint for each sort of question. Version is that of the program, as
// "1.2.3". The log may be nil.
func ServeQuestions(conn *nats.Conn, version string, whats []string, handle AskHandler, log *slog.Logger) (*Answerer, error) {
	a := &Answerer{conn: conn, handle: handle, log: log, places: make(chan struct{}, asking)}
	if a.log == nil {
		a.log = slog.New(slog.DiscardHandler)
	}
	a.ctx, a.cancel = context.WithCancel(context.Background())
	var err error
	a.service, err = micro.AddService(conn, micro.Config{Name: ServiceName, Version: version, QueueGroup: group,
		Description: "answers questions about recorded events; the contract is on subject " + events.SubjectAsks})
	if err != nil {
		return nil, fmt.Errorf("NATS: service %s: %w", ServiceName, err)
	}
	for _, what := range whats {
		take := func(request micro.Request) { a.take(what, request) }
		if err := a.service.AddEndpoint(what, micro.HandlerFunc(take), micro.WithEndpointSubject(events.AskSubject("*", what))); err != nil {
			return nil, errors.Join(fmt.Errorf("NATS: service %s: question %s: %w", ServiceName, what, err), a.service.Stop())
		}
	}
	if err := conn.Flush(); err != nil {
		return nil, errors.Join(fmt.Errorf("NATS: service %s: %w", ServiceName, err), a.service.Stop())
	}
	return a, nil
}

func (a *Answerer) take(what string, request micro.Request) {
	a.places <- struct{}{}
	// The service looks at its request once the handler has returned, which is before ours has answered.
	asked := asked{Question: Question{Clinic: events.SubjectClinic(request.Subject()), What: what, Request: request.Data()},
		subject: request.Subject(), reply: request.Reply()}
	a.working.Go(func() {
		defer func() { <-a.places }()
		asked.answer(a.ctx, a.conn, a.handle, a.log)
	})
}

// asked is a question with where its answer goes.
type asked struct {
	Question
	subject, reply string
}

// answer asks the handler and sends what it says.
func (q asked) answer(ctx context.Context, conn *nats.Conn, handle AskHandler, log *slog.Logger) {
	msg, err := q.outcome(ctx, conn.MaxPayload(), handle, log)
	if err == nil && q.reply != "" { // else nobody waits for it
		msg.Subject = q.reply
		err = conn.PublishMsg(msg)
	}
	if err != nil {
		log.Warn("an answer could not be sent", "subject", q.subject, "error", err)
	}
}

func (q asked) outcome(ctx context.Context, most int64, handle AskHandler, log *slog.Logger) (*nats.Msg, error) {
	if err := tracker.CheckClinic(q.Clinic); err != nil {
		return (&AskError{Status: 400, Code: string(tracker.ReasonClinic), Field: "subject", Text: "The subject names no clinic: " + err.Error() + "."}).message()
	}
	answer, err := handle(ctx, q.Question)
	var told *AskError
	switch {
	case errors.As(err, &told):
		return told.message()
	case err != nil:
		log.Error("a question failed", "subject", q.subject, "error", err)
		return (&AskError{Status: 500, Code: "internal", Text: "pottrail failed at this; its log says more."}).message()
	case int64(len(answer)) > most:
		return (&AskError{Status: 413, Code: string(events.CodeTooLarge), Text: "The answer is too long for one message; ask for less with the filters."}).message()
	}
	return &nats.Msg{Data: answer}, nil
}

// message is the same JSON as over HTTP, with the error headers of micro services.
func (e *AskError) message() (*nats.Msg, error) {
	body, err := json.Marshal(map[string]*AskError{"error": e})
	if err != nil {
		return nil, err
	}
	return &nats.Msg{Data: body, Header: nats.Header{
		micro.ErrorCodeHeader: []string{strconv.Itoa(e.Status)},
		micro.ErrorHeader:     []string{e.Text},
	}}, nil
}

// Stop takes no more questions and waits for those under way, as long as the context allows; after that the handlers'
// context ends.
func (a *Answerer) Stop(ctx context.Context) error {
	defer a.cancel()
	err := a.service.Stop()
	done := make(chan struct{})
	go func() {
		a.working.Wait()
		close(done)
	}()
	select {
	case <-done:
	case <-ctx.Done():
	}
	return err
}
