package daemon

import (
	"context"
	"log/slog"
	"slices"
	"sync"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/say"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// Service answers every question and takes events in; HTTP, NATS and the commands all come here. It implements
// [ask.Service] and [ask.Local].
type Service struct {
	ledger   *store.Ledger
	people   patients
	intake   *intake
	fallback *tracker.Rules // of clinics that adopted no protocol
	binding  sync.Mutex     // held from looking whether a label may be bound until it is
	log      *slog.Logger
	counts   *metrics
	printing *printing
	notary   *notary
	backups  backupsKept
	lately   lately
	saying   sync.Mutex // held while it is said of destroyed records in their cases
	vouch    vouching   // who is signed in; nil: nobody is set up
	nightly  *nightly   // nil: none are made
	clients  *clients
	staff    *signIn
}

// fallbackRules are those of the protocol inside the program.
func fallbackRules() (*tracker.Rules, error) {
	return tracker.NewRules(protocol.Default(), time.LoadLocation)
}

// rules are those in force for a clinic.
func (s *Service) rules(clinic string) *tracker.Rules {
	if rules, ok := s.ledger.Adopted(clinic); ok {
		return rules
	}
	return s.fallback
}

// Record takes events in; see [ask.Service].
func (s *Service) Record(ctx context.Context, r ask.Recording) (ask.Recorded, error) {
	rights, err := s.recordingOf(ask.ActorOf(ctx), time.Now())
	if err != nil {
		return ask.Recorded{}, err
	}
	out := ask.Recorded{Shape: events.ShapeOf(r.Data)}
	results, err := events.DecodeBatch(r.Data)
	if err != nil {
		s.refused("", r.Data, events.AsRefusal(err))
		return ask.Recorded{Shape: events.ShapeOne, Verdicts: []events.Verdict{events.Refused("", err)}}, nil
	}
	out.Verdicts = make([]events.Verdict, len(results))
	batch := sending{s: s, ctx: ctx, out: out.Verdicts, rights: rights}
	known := map[tracker.Name]string{}
	for i, result := range results {
		reason := result.Refusal
		if reason == nil {
			// Rights hang on the protocol in force: one that comes before in the same request must be.
			if err := batch.settle(); err != nil {
				return ask.Recorded{}, err
			}
			if reason, err = s.objection(result.Event, r.Clinic, known, rights); err != nil {
				return ask.Recorded{}, err
			}
		}
		if reason != nil {
			out.Verdicts[i] = events.Refused(result.ID, reason)
			s.refused(result.ID, result.Raw, reason)
			continue
		}
		batch.add(i, result, r.SentAt)
	}
	return out, batch.send()
}

// objection is what intake holds against a well-formed event: a subject of another clinic, or free text in which the
// patient's own identifiers are found, or the want of a right. Known gives patients of cases that the same request opens.
func (s *Service) objection(e *tracker.Event, clinic string, known map[tracker.Name]string, rights *recording) (*events.Refusal, error) {
	if clinic != "" && e.Clinic != clinic {
		return &events.Refusal{Code: events.CodeWrongClinic, Field: "clinic", Text: "clinic is " + e.Clinic + ", and the subject is of " + clinic + "; send it to its own clinic's subject."}, nil
	}
	if reason := s.namesPatient(e, known); reason != nil {
		return reason, nil
	}
	return rights.objection(e)
}

// namesPatient is what stands against an event in whose free text the patient's own identifiers are found.
func (s *Service) namesPatient(e *tracker.Event, known map[tracker.Name]string) *events.Refusal {
	switch f := e.Data.(type) {
	case *tracker.CaseOpened:
		known[e.Items[0].Name] = f.Patient
	case *tracker.CaseAmended:
		if f.Patient != nil {
			known[e.Items[0].Name] = *f.Patient
		}
	}
	texts := freeText(e.Data)
	if len(texts) == 0 {
		return nil
	}
	for _, ref := range s.patientsOf(e, known) {
		for _, t := range texts {
			found, err := s.people.mentions(ref, t.text)
			if err != nil {
				s.log.Error("free text was not searched for identifiers", "event", e.ID, "error", err.Error())
				continue
			}
			if found {
				return &events.Refusal{Code: events.CodeIdentifiersInText, Field: t.field,
					Text: t.field + " holds the patient's own name, birth date or number; say it without, the case's code is enough."}
			}
		}
	}
	return nil
}

// patientsOf lists the patient refs of the cases that an event is about.
func (s *Service) patientsOf(e *tracker.Event, known map[tracker.Name]string) []string {
	var refs []string
	for _, item := range e.Items {
		name := item.Name.Case()
		if name == "" {
			continue
		}
		ref := known[name]
		if ref == "" {
			if snapshot, ok, err := s.ledger.Snapshot(name); err == nil && ok {
				ref = snapshot.Summary.Patient
			}
		}
		if ref != "" && !slices.Contains(refs, ref) {
			refs = append(refs, ref)
		}
	}
	return refs
}

// refused counts a refusal and keeps the message.
func (s *Service) refused(id string, raw []byte, reason *events.Refusal) {
	s.counts.refusal(reason.Code)
	s.keepRefused(id, raw, reason)
}

// keepRefused keeps a refused message, sealed. That it cannot be kept is no reason to answer otherwise.
func (s *Service) keepRefused(id string, raw []byte, reason *events.Refusal) {
	if err := s.people.keepRefused(time.Now(), raw, reason); err != nil {
		s.log.Error("a refused message could not be kept", "id", id, "code", reason.Code, "error", err.Error())
	}
}

// judged makes a snapshot as good as new: what is due, or was judged by an earlier protocol, is judged at now. The timer
// does the same a moment later; an answer need not wait for it.
func (s *Service) judged(snapshot store.Snapshot, now time.Time) (tracker.Judgement, error) {
	rules := s.rules(snapshot.Summary.Name.Clinic())
	wake := snapshot.Findings.Wake
	stale := !wake.IsZero() && !wake.After(now) || snapshot.Protocol != protocolMark(rules)
	if !stale {
		return snapshot.Judgement, nil
	}
	gathered, err := s.ledger.Events(snapshot.Summary.Name)
	if err != nil {
		return tracker.Judgement{}, err
	}
	return tracker.Judge(snapshot.Summary.Name, gathered, rules, now), nil
}

// protocolMark is how a snapshot names the protocol that it was judged by.
func protocolMark(r *tracker.Rules) string {
	const digits = 16
	sum := r.Protocol().SHA256
	return sum[:min(digits, len(sum))]
}

// judgements are those of everything that is open, or of one thing.
func (s *Service) judgements(r ask.Request, now time.Time) ([]tracker.Judgement, error) {
	var all []tracker.Judgement
	if r.Name != "" {
		item, err := r.Thing()
		if err != nil {
			return nil, err
		}
		snapshot, ok, err := s.ledger.Snapshot(item.Name)
		if err != nil || !ok {
			return nil, err
		}
		j, err := s.judged(snapshot, now)
		return []tracker.Judgement{j}, err
	}
	for snapshot, err := range s.ledger.Snapshots(store.Filter{Clinic: r.Clinic, Open: true}) {
		if err != nil {
			return nil, err
		}
		j, err := s.judged(snapshot, now)
		if err != nil {
			return nil, err
		}
		all = append(all, j)
	}
	return all, nil
}

// Flags is what is wrong now; see [ask.Service].
func (s *Service) Flags(_ context.Context, r ask.Request) (*ask.FlagsAnswer, error) {
	answer := &ask.FlagsAnswer{At: time.Now()}
	all, err := s.judgements(r, answer.At)
	if err != nil {
		return nil, err
	}
	item, _ := r.Thing() // checked above when it is asked for
	for _, j := range all {
		answer.Add(j.Findings)
	}
	wanted := func(f tracker.Flag) bool {
		return (r.Name == "" || within(f.Item, item.Name)) && (r.Kind == "" || string(f.Kind) == r.Kind) && (r.Severity == "" || f.Severity == r.Severity)
	}
	answer.Flags = slices.DeleteFunc(answer.Flags, func(f tracker.Flag) bool { return !wanted(f) || r.Held == "only" })
	answer.Held = slices.DeleteFunc(answer.Held, func(h tracker.HeldFlag) bool { return !wanted(h.Flag) || r.Held == "no" })
	answer.Sort()
	if r.Under {
		if answer.Under, err = s.under(answer.Flags, all); err != nil {
			return nil, err
		}
	}
	return answer, nil
}

// under says of each flag under which protocol it was raised.
func (s *Service) under(flags []tracker.Flag, all []tracker.Judgement) ([]ask.Under, error) {
	out := make([]ask.Under, 0, len(flags))
	adoptions := map[string][]tracker.Adoption{}
	for _, f := range flags {
		clinic := f.Item.Clinic()
		if adoptions[clinic] == nil {
			list, err := s.ledger.Adoptions(clinic)
			if err != nil {
				return nil, err
			}
			adoptions[clinic] = list
		}
		watched := tracker.Watched(f.Item)
		for _, j := range all {
			if slices.ContainsFunc(j.Findings.Flags, func(g tracker.Flag) bool { return g.Kind == f.Kind && g.Item == f.Item }) {
				watched = j.Summary.Name
			}
		}
		gathered, err := s.ledger.Events(watched)
		if err != nil {
			return nil, err
		}
		out = append(out, ask.UnderOf(f, tracker.RaisedUnder(f, watched, gathered, adoptions[clinic])))
	}
	return out, nil
}

// within reports whether a thing is another, or a part of it.
func within(n, whole tracker.Name) bool {
	return n == whole || n.Case() == whole && whole != "" || n.Pot() == whole && whole.Thing() == tracker.ThingPot
}

// Chase is the chase list; see [ask.Service].
func (s *Service) Chase(_ context.Context, r ask.Request) (*ask.ChaseAnswer, error) {
	now := time.Now()
	all, err := s.judgements(r, now)
	if err != nil {
		return nil, err
	}
	return &ask.ChaseAnswer{At: now, Rows: tracker.Chase(all, now)}, nil
}

// notKnown is said of a thing that nothing is recorded of; and why that may be, if the record was put back from a backup.
func (s *Service) notKnown(n tracker.Name) error {
	text := n.Printed() + ": nothing is recorded of it here"
	for _, back := range slices.Backward(s.ledger.PutBacks()) {
		if back.Passes(n) {
			text += "; the record was put back from a backup of " + say.Instant(back.From, s.rules(n.Clinic()).Zone(), time.Now()) + ", and this may be from after that. What its label is on stays what it is: " +
				"keep it, and enter again from paper what is missing"
			break
		}
	}
	return &ask.Error{Kind: ask.NotFound, Code: "not-known", Field: "name", Text: text}
}

// Events is a stretch of the ledger; see [ask.Service].
func (s *Service) Events(_ context.Context, r ask.Request) (*ask.EventsAnswer, error) {
	limit := r.Limit
	if limit == 0 || limit > batchEvents {
		limit = batchEvents
	}
	from := max(r.From, 1)
	read := func() ([]store.Entry, error) {
		if r.Origin != "" {
			return s.ledger.ByOrigin(r.Origin, from, limit)
		}
		return s.ledger.EventsFrom(from, limit)
	}
	entries, err := read()
	if err != nil {
		return nil, err
	}
	answer := &ask.EventsAnswer{Next: from}
	for _, entry := range entries {
		answer.Next = entry.Seq + 1
		if r.Origin != "" {
			answer.Next = entry.OSeq + 1
		}
		if ok, err := wantedEvent(entry, r); err != nil {
			return nil, err
		} else if ok {
			answer.Events = append(answer.Events, events.AppendExport(nil, entry.Leaf, entry.Seq))
		}
	}
	answer.More = len(entries) > 0
	return answer, nil
}

// wantedEvent applies the filters that need the event itself.
func wantedEvent(entry store.Entry, r ask.Request) (bool, error) {
	if r.Clinic == "" && r.Since.IsZero() && r.Until.IsZero() {
		return true, nil
	}
	e, err := entry.Event()
	if err != nil {
		return false, err
	}
	when := e.When()
	return (r.Clinic == "" || e.Clinic == r.Clinic) && !when.Before(r.Since) && (r.Until.IsZero() || when.Before(r.Until)), nil
}
