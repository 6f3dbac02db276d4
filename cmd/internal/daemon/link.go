package daemon

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net/url"
	"sync"

	"github.com/go-json-experiment/json"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/events/broker"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/tracker"
)

// link is everything about NATS: the server inside, the publisher, and what clients may send and ask.
type link struct {
	address   string // for clients outside; empty when nothing listens
	log       *slog.Logger
	server    *broker.Server
	recorder  *broker.Recorder
	answerer  *broker.Answerer
	doors     *broker.Doors
	publisher *broker.Publisher
	source    source
	lastWords func() // before the publisher catches up for the last time

	cancel     context.CancelFunc // of the publisher
	publishing sync.WaitGroup
}

// openLink starts the server and whatever stands on it. After an error nothing of it runs.
// Without publish nothing goes out on the streams.
func openLink(f folder, o config.NATS, secure *tls.Config, reachable func(string) string, s *Service, version string, publish bool, log *slog.Logger) (l *link, err error) {
	made := &link{log: log, source: source{s.ledger}, cancel: func() {}}
	l = made
	defer func() {
		if err != nil {
			made.stop()
		}
	}()
	secret, err := f.credentials()
	if err != nil {
		return nil, err
	}
	known, err := f.clients()
	if err != nil {
		return nil, err
	}
	l.server, err = broker.Start(broker.Options{StoreDir: f.path(folderNATS), Listen: o.Listen, User: secret.User, Password: secret.Password, TLS: secure,
		Accounts: accounts(known), MaxStore: o.MaxStore, Log: log})
	if errors.Is(err, broker.ErrAccount) {
		return nil, fmt.Errorf("%s: %w: put a good copy in its place, or remove it and add the clients again", f.path(fileClients), err)
	}
	if err != nil {
		return nil, fmt.Errorf("the NATS server: %w", err)
	}
	l.address = l.server.URL()
	if u, err := url.Parse(l.address); err == nil && secure != nil {
		u.Host = reachable(u.Host) // clients look for the name in the certificate
		l.address = u.String()
	}
	if secret.URL = l.address; secret.URL != "" || o.Listen == "" {
		if err := f.keepCredentials(secret); err != nil {
			return nil, err
		}
	}
	conn, err := l.server.ConnectToAnswer("pottrail daemon")
	if err != nil {
		return nil, fmt.Errorf("the NATS server: %w", err)
	}
	if publish {
		if l.publisher, err = broker.NewPublisher(l.server, l.source, broker.PublisherOptions{Log: log}); err != nil {
			return nil, err
		}
		ctx, cancel := context.WithCancel(context.Background())
		l.cancel = cancel
		l.publishing.Go(func() { l.publisher.Run(ctx) })
	}
	if l.recorder, err = broker.ServeRecord(conn, s.recordOverNATS, log); err != nil {
		return nil, err
	}
	l.doors = broker.ServeAccounts(conn, s.recordOverNATS, s.askOverNATS, log)
	if err := l.doors.Set(accounts(known)); err != nil {
		return nil, err
	}
	s.clients = &clients{folder: f, server: l.server, doors: l.doors, all: known}
	var whats []string
	for _, q := range ask.Questions() {
		whats = append(whats, q.What)
	}
	l.answerer, err = broker.ServeQuestions(conn, serviceVersion(version), whats, s.askOverNATS, log)
	return l, err
}

// serviceVersion is the program's version as NATS wants a service's: three numbers.
func serviceVersion(version string) string {
	if len(version) > 1 && version[0] == 'v' {
		return version[1:]
	}
	return "0.0.0"
}

// close takes no more requests; those under way get their answers.
func (l *link) close() {
	ctx, cancel := context.WithTimeout(context.Background(), drainTime)
	defer cancel()
	if l.recorder != nil {
		l.recorder.Stop(ctx)
		l.recorder = nil
	}
	if l.doors != nil {
		l.doors.Stop(ctx)
		l.doors = nil
	}
	if l.answerer != nil {
		if err := l.answerer.Stop(ctx); err != nil {
			l.log.Warn("questions over NATS did not end well", "error", err.Error())
		}
		l.answerer = nil
	}
}

// stop lets the publisher catch up for a moment, then ends the server. What did not go out goes out after the next
// start.
func (l *link) stop() {
	l.close()
	if l.publisher != nil {
		if l.lastWords != nil {
			l.lastWords()
		}
		ctx, cancel := context.WithTimeout(context.Background(), flushTime)
		if err := l.publisher.Flush(ctx); err != nil {
			l.log.Warn("some events go out after the next start", "waiting", l.lag())
		}
		cancel()
	}
	l.cancel()
	l.publishing.Wait()
	if l.server != nil {
		ctx, cancel := context.WithTimeout(context.Background(), drainTime)
		defer cancel()
		l.server.Stop(ctx)
	}
}

// lag is how many events were recorded and are not on the stream yet.
func (l *link) lag() float64 {
	if l == nil || l.publisher == nil {
		return 0
	}
	out, in := l.publisher.Stats().OSeq, l.source.LastOSeq()
	if out == 0 || out > in {
		return 0 // nothing was published since the start: all of it may be there from before
	}
	return float64(in - out)
}

// longestLag is how far behind the publisher may be before the daemon is not ready.
const longestLag = 10_000

// err says what keeps events from going out.
func (l *link) err() error {
	if lag := l.lag(); lag > longestLag {
		return fmt.Errorf("%.0f events wait", lag)
	}
	return nil
}

// source is the ledger as the publisher sees it.
type source struct{ *store.Ledger }

// Events gives this node's own log.
func (s source) Events(from uint64, limit int) ([]broker.Stored, error) {
	entries, err := s.ByOrigin("", from, limit)
	if err != nil {
		return nil, err
	}
	out := make([]broker.Stored, len(entries))
	for i, e := range entries {
		out[i] = broker.Stored{OSeq: e.OSeq, Leaf: e.Leaf}
	}
	return out, nil
}

// OpenFlags gives what is open, and the position in the log of flags as of which it is, at the latest. A change that
// comes in between is told twice, never missed.
func (s source) OpenFlags() ([]tracker.Flag, uint64, error) {
	position := s.LastFlagChange()
	flags, err := s.Ledger.OpenFlags()
	return flags, position, err
}

// FlagChanges gives the log of flags. While a change of rules is being worked through it gives nothing, so that what that
// changes goes out together.
func (s source) FlagChanges(from uint64, limit int) ([]broker.FlagEntry, error) {
	if s.Ledger.Sweeping() {
		return nil, nil
	}
	rows, err := s.Ledger.FlagChanges(from, limit)
	if err != nil {
		return nil, err
	}
	out := make([]broker.FlagEntry, len(rows))
	for i, row := range rows {
		out[i] = broker.FlagEntry{Seq: row.Seq, Change: row.FlagChange}
	}
	return out, nil
}

// sentBy is who asks over NATS. Whoever has the user and the password of nats.json can read the data folder, as whoever uses
// its socket: its owner. All others have an account of their own.
func sentBy(from broker.Sender) ask.Actor {
	if from == (broker.Sender{}) {
		return ask.Actor{Way: ask.WayOwner}
	}
	return ask.Actor{Way: ask.WayAccount, Role: from.Role, Account: from.Name}
}

// recordOverNATS answers a request to record.
func (s *Service) recordOverNATS(ctx context.Context, r broker.RecordRequest) []byte {
	recorded, err := s.Record(ask.WithActor(ctx, sentBy(r.From)), ask.Recording{Data: r.Data, Clinic: r.Clinic, SentAt: r.SentAt})
	if err != nil {
		e := ask.As(err)
		recorded = ask.Recorded{Shape: events.ShapeOne, Verdicts: []events.Verdict{events.Refused(events.FindID(r.Data),
			&events.Refusal{Code: events.Code(e.Code), Field: e.Field, Text: e.Text})}}
	}
	return events.AppendAnswer(nil, recorded.Shape, recorded.Verdicts)
}

// statusOf is the HTTP status of an error's kind, which NATS questions use too.
var statusOf = map[ask.Kind]int{ask.Invalid: 400, ask.NotFound: 404, ask.Conflict: 409, ask.Unavailable: 503, ask.NoSpace: 507,
	ask.Unknown: 401, ask.Forbidden: 403, ask.TooMany: 429}

// askOverNATS answers a question about the clinic in the subject, and no other.
func (s *Service) askOverNATS(ctx context.Context, q broker.Question) ([]byte, error) {
	answer, err := s.answerNATS(ask.WithActor(ctx, sentBy(q.From)), q)
	if err != nil {
		var e *ask.Error
		if !errors.As(err, &e) || e.Kind == ask.Internal {
			return nil, err
		}
		return nil, &broker.AskError{Status: statusOf[e.Kind], Code: e.Code, Field: e.Field, Text: e.Text}
	}
	return json.Marshal(answer, json.Deterministic(true))
}

func (s *Service) answerNATS(ctx context.Context, asked broker.Question) (any, error) {
	for _, q := range ask.Questions() {
		if q.What != asked.What {
			continue
		}
		request, err := q.ReadJSON(asked.Request)
		if err != nil {
			return nil, err
		}
		elsewhere := &ask.Error{Kind: ask.Invalid, Code: string(events.CodeWrongClinic), Field: "clinic",
			Text: "the subject is of " + asked.Clinic + ": ask about its own things there"}
		if request.Name != "" {
			item, err := request.Thing()
			if err != nil {
				return nil, err
			}
			if item.Name.Clinic() != asked.Clinic {
				return nil, elsewhere
			}
		}
		if q.Takes("clinic") {
			if request.Clinic != "" && request.Clinic != asked.Clinic {
				return nil, elsewhere
			}
			request.Clinic = asked.Clinic
		}
		return q.Ask(guarded{s}, ctx, request)
	}
	return nil, &ask.Error{Kind: ask.NotFound, Code: "no-such-question", Text: "there is no such question: " + asked.What}
}

// Checkpoints gives signed checkpoints, each told to all clinics that the record has something of.
func (s source) Checkpoints(from uint64, limit int) ([]broker.CheckpointEntry, error) {
	list, err := s.Ledger.Checkpoints(from, limit)
	if err != nil || len(list) == 0 {
		return nil, err
	}
	clinics, err := s.Clinics()
	if err != nil {
		return nil, err
	}
	out := make([]broker.CheckpointEntry, len(list))
	for i, c := range list {
		out[i] = broker.CheckpointEntry{Position: c.Position, Made: c.At, Origin: c.Origin, Note: c.Note, Clinics: clinics}
	}
	return out, nil
}
