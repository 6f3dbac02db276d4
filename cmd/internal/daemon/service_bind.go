package daemon

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/say"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/tracker"
)

// Bind lists what a label of a downtime roll may stand for, or records it; see [ask.Local]. What makes no sense is refused
// here, before there is an event: a binding that was recorded is never turned away.
func (s *Service) Bind(ctx context.Context, r ask.BindRequest) (*ask.BindAnswer, error) {
	now := time.Now()
	label, err := tracker.ParseItem(r.Label)
	if err != nil {
		return nil, ask.CodeFault("label", err)
	}
	if r.To != "" {
		s.binding.Lock()
		defer s.binding.Unlock()
	}
	rolled, err := s.fromRoll(label.Name)
	if err != nil {
		return nil, err
	}
	answer := &ask.BindAnswer{Zone: s.rules(label.Name.Clinic()).Zone().String(), Label: label.Name, Candidates: []ask.BindCandidate{},
		Raised: []events.Brief{}, Cleared: []events.Brief{}}
	answer.Scans, answer.First = rolled.scans()
	if r.To == "" {
		if answer.Candidates, answer.More, err = s.candidates(rolled, now); err != nil {
			return nil, err
		}
		names := make([]tracker.Name, len(answer.Candidates))
		for i, c := range answer.Candidates {
			names[i] = c.Name
		}
		return answer, s.noteReadsOf(now, ask.Read{By: r.By, Station: r.Station, How: readForBind}, names)
	}
	to, err := tracker.ParseItem(r.To)
	if err != nil {
		return nil, ask.CodeFault("to", err)
	}
	if answer.Note, err = s.mayStandFor(label.Name, to.Name); err != nil {
		return nil, err
	}
	answer.Note = strings.TrimSpace(answer.Note + " " + rolled.alsoToBind())
	verdict, err := s.recordBinding(ctx, r, label, to.Name, now)
	if err != nil {
		return nil, err
	}
	answer.To, answer.Event, answer.Raised, answer.Cleared = to.Name, tracker.EventID(verdict.ID), verdict.Raised, verdict.Cleared
	return answer, nil
}

// rollLabel is a label of a downtime roll, and all that counts for its case.
type rollLabel struct {
	name     tracker.Name
	gathered []*tracker.Event
	struck   map[tracker.EventID]tracker.EventID
	medium   string // what was filled into the pot under it, "" when nobody said
}

// standing goes through the events that were not struck.
func (l *rollLabel) standing(visit func(e *tracker.Event)) {
	for _, e := range l.gathered {
		if _, out := l.struck[e.ID]; !out {
			visit(e)
		}
	}
}

// scans counts the steps that name the label, and says when the first of them was.
func (l *rollLabel) scans() (n int, first time.Time) {
	l.standing(func(e *tracker.Event) {
		switch e.Kind {
		case tracker.KindLabelPrinted, tracker.KindLabelSpoiled, tracker.KindLabelBound, tracker.KindEventStruck, tracker.KindNoteAdded:
			return
		}
		if slices.ContainsFunc(e.Items, func(i tracker.Item) bool { return i.Name == l.name }) {
			if n++; n == 1 {
				first = e.When()
			}
		}
	})
	return n, first
}

// alsoToBind says that something was scanned on the label of the roll's case, which the binding of a pot or piece does not
// take along; "" when nothing was, or it is bound.
func (l *rollLabel) alsoToBind() string {
	whole := &rollLabel{name: l.name.Case(), gathered: l.gathered, struck: l.struck}
	n, _ := whole.scans()
	if n == 0 || whole.name == l.name || tracker.StandsFor(l.gathered)(whole.name) != whole.name {
		return ""
	}
	return "What was scanned on " + whole.name.Printed() + " itself, as an identity check or the cleared room, counts once that label is bound too."
}

// boundCases lists the cases for whose things other labels of the same case of the roll stand.
func (l *rollLabel) boundCases() []tracker.Name {
	var cases []tracker.Name
	l.standing(func(e *tracker.Event) {
		if f, ok := e.Data.(*tracker.LabelBound); ok {
			cases = append(cases, f.To.Case())
		}
	})
	return cases
}

// fromRoll finds a label that may be bound: one of a downtime roll that is not destroyed and stands for nothing yet.
func (s *Service) fromRoll(name tracker.Name) (*rollLabel, error) {
	refuse := func(code, format string, args ...any) (*rollLabel, error) {
		return nil, &ask.Error{Kind: ask.Invalid, Code: code, Field: "label", Text: fmt.Sprintf(format, args...)}
	}
	if name.Thing() == tracker.ThingBag {
		return refuse("not-of-a-roll", "%s is a bag: a bag's label stands for nothing but its bag", name.Printed())
	}
	gathered, err := s.ledger.Events(name)
	if err != nil {
		return nil, err
	}
	l := &rollLabel{name: name, gathered: gathered, struck: tracker.Struck(gathered)}
	zone := s.rules(name.Clinic()).Zone()
	var bound *tracker.Event
	l.standing(func(e *tracker.Event) {
		if e.Kind == tracker.KindLabelBound && slices.ContainsFunc(e.Items, func(i tracker.Item) bool { return i.Name == name }) {
			bound = e
		}
	})
	if bound != nil {
		to := bound.Data.(*tracker.LabelBound).To
		return refuse("bound", "%s stands for %s already: %s said so %s. If that is wrong, strike it first: pottrail scan --step event.struck --facts '{\"event\":%q,\"why\":\"bound to the wrong one\"}' %s",
			name.Printed(), to.Printed(), bound.By, say.Instant(bound.When(), zone, time.Time{}), bound.ID, name)
	}
	printed, destroyed := false, time.Time{}
	roll := tracker.Fold(name.Case(), gathered)
	if p := roll.Pot(name); p != nil && len(p.Fillings) > 0 {
		l.medium = p.Fillings[len(p.Fillings)-1].Medium
	}
	for _, label := range roll.Labels {
		if label.Thing != name || !label.Downtime {
			continue
		}
		printed = true
		if label.Spoiled != nil {
			destroyed = label.Spoiled.When
		}
	}
	switch {
	case !printed:
		return refuse("not-of-a-roll", "%s is not of a downtime roll, so it stands for itself alone. What was recorded under a wrong name is struck and recorded again; a pot under a wrong name is relabelled (pot.relabelled)", name.Printed())
	case !destroyed.IsZero():
		return refuse("destroyed", "%s is on record as destroyed %s: if it is on something all the same, strike that record first", name.Printed(), say.Instant(destroyed, zone, time.Time{}))
	}
	return l, nil
}

// mayStandFor refuses a target that a label cannot stand for; the note says what is odd about one that it can.
func (s *Service) mayStandFor(label, to tracker.Name) (note string, err error) {
	refuse := func(code, format string, args ...any) (string, error) {
		return "", &ask.Error{Kind: ask.Invalid, Code: code, Field: "to", Text: fmt.Sprintf(format, args...)}
	}
	switch {
	case to == label:
		return refuse("itself", "%s would stand for itself: say which thing of an open case it is on", label.Printed())
	case to.Clinic() != label.Clinic():
		return refuse("other-clinic", "%s is of clinic %s and %s of %s: a label stands for its own clinic's things", label.Printed(), label.Clinic(), to.Printed(), to.Clinic())
	case to.Thing() != label.Thing():
		return refuse("other-sort", "%s is the label of a %s and %s is a %s: scan the label of the same sort", label.Printed(), label.Thing(), to.Printed(), to.Thing())
	}
	gathered, err := s.ledger.Events(to)
	if err != nil {
		return "", err
	}
	c := tracker.Fold(to.Case(), gathered)
	if len(c.Openings) == 0 {
		return refuse("not-opened", "%s was never opened here: open the case first, so that the label stands for somebody's", to.Case().Printed())
	}
	if to.Thing() != tracker.ThingCase && c.Pot(to.Pot()) == nil {
		letters := make([]string, len(c.Pots))
		for i, p := range c.Pots {
			letters[i] = p.Name.Letter()
		}
		return refuse("no-such-pot", "%s has no pot %s: its pots are %s. Amend the request if there is one more", to.Case().Printed(), to.Letter(), strings.Join(letters, ", "))
	}
	if other := c.StandIn(to); other == label {
		return refuse("bound", "%s stands for %s already, since its case's label was bound", label.Printed(), to.Printed())
	} else if other != "" {
		return refuse("taken", "%s stands for %s already: two labels for one thing would mix what was scanned on them. Strike that binding first if it is wrong", other.Printed(), to.Printed())
	}
	for _, l := range c.Labels {
		if l.Thing == to && l.Used {
			note = fmt.Sprintf("Its own label, copy %s, is in use too: look whether both are on the same %s.", l.Copy, to.Thing())
		}
	}
	return note, nil
}

func (s *Service) recordBinding(ctx context.Context, r ask.BindRequest, label tracker.Item, to tracker.Name, now time.Time) (events.Verdict, error) {
	entered := tracker.EnteredScan
	if label.Copy == 0 {
		entered = tracker.EnteredTyped
	}
	e, err := events.Decode(events.Encode(&tracker.Event{ID: tracker.EventID(uuid.Must(uuid.NewV7()).String()), Kind: tracker.KindLabelBound,
		Clinic: label.Name.Clinic(), At: now, By: r.By, Station: r.Station, Items: []tracker.Item{label}, Data: &tracker.LabelBound{To: to}, Entered: entered}))
	if err != nil {
		return events.Verdict{}, refusalAsError(events.AsRefusal(err))
	}
	verdicts, err := s.intake.submit(ctx, []store.Intake{{Event: e, SentAt: now}})
	if err != nil {
		return events.Verdict{}, err
	}
	s.counts.verdict(e.Kind, verdicts[0])
	if v := verdicts[0]; !v.OK {
		return events.Verdict{}, refusalAsError(v.Error)
	}
	return verdicts[0], nil
}
