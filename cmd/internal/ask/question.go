package ask

import (
	"context"
	"time"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// Service answers every question about the record, and takes events in.
type Service interface {
	// Record takes one event, an array of them or lines of them, and judges each alone. The verdicts are in the order
	// of the input, and a verdict that says recorded means on disk. An error means that nothing at all can be said.
	Record(ctx context.Context, r Recording) (Recorded, error)
	// Case is what is known of a case or a bag, with its trail.
	Case(ctx context.Context, r Request) (*CaseAnswer, error)
	// Pot is what is known of one pot or piece, with its trail.
	Pot(ctx context.Context, r Request) (*PotAnswer, error)
	// Flags is what is wrong now, and what is held back.
	Flags(ctx context.Context, r Request) (*FlagsAnswer, error)
	// Chase is the chase list.
	Chase(ctx context.Context, r Request) (*ChaseAnswer, error)
	// Codes is what a code or name stands for, and which copies of its label are about.
	Codes(ctx context.Context, r Request) (*CodesAnswer, error)
	// Proof shows that the events of a thing are in the log of the node that recorded them.
	Proof(ctx context.Context, r Request) (*ProofAnswer, error)
	// Events is the ledger from a position on, or one origin's log.
	Events(ctx context.Context, r Request) (*EventsAnswer, error)
}

// Recording is a request to record.
type Recording struct {
	Data   []byte
	Clinic string    // the clinic in the subject; "" when the way in names none
	SentAt time.Time // sender's clock at sending; zero when not said
}

// Recorded is the answer to a recording: a verdict for each event, in order.
type Recorded struct {
	Shape    events.Shape // how the request was written: the answer is written the same way
	Verdicts []events.Verdict
}

// Request is a question's name and filters. A question takes those that [Question] lists; others are refused.
type Request struct {
	Name     string           `json:"name,omitzero"`     // code or name of a thing
	Clinic   string           `json:"clinic,omitzero"`   // only this clinic's
	Kind     string           `json:"kind,omitzero"`     // only flags of this kind
	Severity tracker.Severity `json:"severity,omitzero"` // only flags of this severity
	Held     string           `json:"held,omitzero"`     // "no": leave out what is held back; "only": nothing else
	Origin   string           `json:"origin,omitzero"`   // only what was first recorded at this node, by its own positions
	From     uint64           `json:"from,omitzero"`     // first position wanted
	Limit    int              `json:"limit,omitzero"`    // most events in one answer
	Since    time.Time        `json:"since,omitzero"`    // only what happened at or after
	Until    time.Time        `json:"until,omitzero"`    // only what happened before
	Older    uint64           `json:"older,omitzero"`    // lead back to the state of the record with so many entries
	Under    bool             `json:"under,omitzero"`    // say under which protocol each flag was raised
}

// Question is one row of the list of questions.
type Question struct {
	What    string   // the word in the NATS subject
	Path    string   // in the HTTP API, with {name} where a name is asked for
	Named   bool     // a name is needed
	Filters []string // the other fields of Request that it takes, by their JSON names
	Command string   // the command that asks it
	Ask     func(Service, context.Context, Request) (any, error)
}

// Questions lists every question, by its word.
func Questions() []Question {
	return []Question{
		{What: "case", Path: "/v1/case/{name}", Named: true, Command: "trail",
			Ask: func(s Service, ctx context.Context, r Request) (any, error) { return answer(s.Case(ctx, r)) }},
		{What: "pot", Path: "/v1/pot/{name}", Named: true, Command: "trail",
			Ask: func(s Service, ctx context.Context, r Request) (any, error) { return answer(s.Pot(ctx, r)) }},
		{What: "flags", Path: "/v1/flags", Filters: []string{"name", "clinic", "kind", "severity", "held", "under"}, Command: "flags",
			Ask: func(s Service, ctx context.Context, r Request) (any, error) { return answer(s.Flags(ctx, r)) }},
		{What: "chase", Path: "/v1/chase", Filters: []string{"clinic"}, Command: "chase",
			Ask: func(s Service, ctx context.Context, r Request) (any, error) { return answer(s.Chase(ctx, r)) }},
		{What: "codes", Path: "/v1/codes/{name}", Named: true, Command: "scan",
			Ask: func(s Service, ctx context.Context, r Request) (any, error) { return answer(s.Codes(ctx, r)) }},
		{What: "proof", Path: "/v1/proof/{name}", Named: true, Filters: []string{"older", "origin"}, Command: "prove",
			Ask: func(s Service, ctx context.Context, r Request) (any, error) { return answer(s.Proof(ctx, r)) }},
		{What: "events", Path: "/v1/events", Filters: []string{"clinic", "origin", "from", "limit", "since", "until"}, Command: "export",
			Ask: func(s Service, ctx context.Context, r Request) (any, error) { return answer(s.Events(ctx, r)) }},
	}
}

// answer keeps a nil pointer from becoming an answer.
func answer[T any](a *T, err error) (any, error) {
	if err != nil {
		return nil, err
	}
	return a, nil
}
