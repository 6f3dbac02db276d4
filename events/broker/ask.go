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
	a.working.Go(func() {
		defer func() { <-a.places }()
		if err := a.answer(what, request); err != nil {
			a.log.Warn("an answer could not be sent", "subject", request.Subject(), "error", err)
		}
	})
}

func (a *Answerer) answer(what string, request micro.Request) error {
	clinic := events.SubjectClinic(request.Subject())
	if err := tracker.CheckClinic(clinic); err != nil {
		return a.refuse(request, &AskError{Status: 400, Code: string(tracker.ReasonClinic), Field: "subject", Text: "The subject names no clinic: " + err.Error() + "."})
	}
	answer, err := a.handle(a.ctx, Question{Clinic: clinic, What: what, Request: request.Data()})
	var told *AskError
	switch {
	case errors.As(err, &told):
		return a.refuse(request, told)
	case err != nil:
		a.log.Error("a question failed", "subject", request.Subject(), "error", err)
		return a.refuse(request, &AskError{Status: 500, Code: "internal", Text: "pottrail failed at this; its log says more."})
	case int64(len(answer)) > a.conn.MaxPayload():
		return a.refuse(request, &AskError{Status: 413, Code: string(events.CodeTooLarge), Text: "The answer is too long for one message; ask for less with the filters."})
	}
	return a.send(request, &nats.Msg{Data: answer})
}

// refuse sends the same JSON as HTTP does, and the error headers of micro services.
func (a *Answerer) refuse(request micro.Request, e *AskError) error {
	body, err := json.Marshal(map[string]*AskError{"error": e})
	if err != nil {
		return err
	}
	return a.send(request, &nats.Msg{Data: body, Header: nats.Header{
		micro.ErrorCodeHeader: []string{strconv.Itoa(e.Status)},
		micro.ErrorHeader:     []string{e.Text},
	}})
}

// send answers over the connection and not through the request: the service looks at its request once the handler has
// returned, which is before ours has answered.
func (a *Answerer) send(request micro.Request, msg *nats.Msg) error {
	msg.Subject = request.Reply()
	if msg.Subject == "" {
		return nil // nobody waits for it
	}
	return a.conn.PublishMsg(msg)
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
