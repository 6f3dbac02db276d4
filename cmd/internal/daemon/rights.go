package daemon

import (
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// vouching is what intake needs to know of sign-in.
type vouching interface {
	// InForce reports whether people sign in.
	InForce() bool
	// Known reports whether somebody is set up.
	Known(staff string) (bool, error)
	// WasSignedIn reports whether somebody was signed in at a station at an instant.
	WasSignedIn(staff, station string, at time.Time) (bool, error)
	// noteDoubts writes down what was recorded in a name that nobody vouched for.
	noteDoubts(doubts ...doubt) error
}

// doubt is a physical step that was recorded, as every one is, though nobody vouched for whom it names.
type doubt struct {
	event    *tracker.Event
	actor    ask.Actor
	recorded time.Time
	why      string
}

// inForce reports whether people sign in.
func (s *Service) inForce() bool { return s.vouch != nil && s.vouch.InForce() }

// errSignIn is said where nobody is signed in. It is no refusal: what was sent stays with the sender, to be sent again.
func errSignIn() error {
	return &ask.Error{Kind: ask.Unknown, Code: string(events.CodeNotSignedIn), Text: "Nobody is signed in here: sign in, then it goes by itself or can be done again."}
}

// recording judges what one request records, as far as rights go.
type recording struct {
	s      *Service
	actor  ask.Actor
	strict bool // people sign in
	now    time.Time
	doubts []doubt
}

// recordingOf begins to judge a request. The error says that it comes from nobody, so nothing of it is taken.
func (s *Service) recordingOf(actor ask.Actor, now time.Time) (*recording, error) {
	r := &recording{s: s, actor: actor, strict: s.inForce(), now: now}
	if r.strict && (actor.Way == ask.WayNobody || actor.Way == ask.WayOpen) {
		return nil, errSignIn()
	}
	return r, nil
}

// objection is what stands against an event for want of a right. What has physically happened is recorded in any case: with
// nobody to vouch for whom it names, it is noted as doubtful. All else needs the right that whom it names had when it
// happened, and somebody to vouch for them.
func (r *recording) objection(e *tracker.Event) (*events.Refusal, error) {
	then, err := r.s.ledger.RulesThen(e, r.now)
	if err != nil {
		return nil, err
	}
	if !r.strict && then.ListedRoles() == 0 && r.actor.Way != ask.WayAccount {
		return nil, nil // nobody signs in and nobody is listed: everybody may do everything
	}
	says := voucher{good: true, then: true}
	if r.strict {
		if says, err = r.vouchedFor(e); err != nil {
			return nil, err
		}
	}
	if tracker.Physical(e.Kind) {
		if says.good {
			return nil, nil
		}
		return nil, r.doubt(e, says.why)
	}
	refusal, err := r.lacking(e, then)
	if refusal == nil && err == nil && !says.good {
		refusal = &events.Refusal{Code: events.CodeNotSignedIn, Field: "by", Text: says.why + " What has happened by hand would be recorded all the same; this was not. " +
			"Sign in and do it again."}
	}
	if refusal == nil && err == nil && !says.then {
		refusal, err = r.lacking(e, r.s.rules(e.Clinic))
	}
	if refusal == nil || err != nil {
		return nil, err
	}
	if _, known, err := r.s.ledger.ByID(e.ID); err != nil || known {
		return nil, err // it was recorded, whatever became of the right: sent again it gets its first answer
	}
	return refusal, nil
}

// mayRecord says whether whom an event names may record it, where it is vouched for them already.
func (s *Service) mayRecord(e *tracker.Event) error {
	r := &recording{s: s, strict: s.inForce(), now: time.Now()}
	refusal, err := r.lacking(e, s.rules(e.Clinic))
	if refusal == nil || err != nil {
		return err
	}
	return refusalAsError(refusal)
}

// lacking says which right whom the event names lacks under some rules, or the account that sends it.
func (r *recording) lacking(e *tracker.Event, rules *tracker.Rules) (*events.Refusal, error) {
	needs := []need{{tracker.RecordRight(e.Kind).Doing, rules.Recorders(e)}}
	if d, ok := e.Data.(*tracker.EventStruck); ok {
		struck, known, err := r.s.ledger.ByID(d.Event)
		if err != nil {
			return nil, err
		}
		if known && !tracker.Physical(struck.Kind) {
			needs = append(needs, need{"striking such an event (" + tracker.RecordRight(struck.Kind).Doing + ")", needs[0].may & rules.Recorders(struck)})
		}
	}
	for _, n := range needs {
		if !rules.Permits(e.By, n.may, r.strict) {
			return &events.Refusal{Code: events.CodeRightMissing, Field: "by", Text: rules.Lacks(n.doing, n.may, e.By)}, nil
		}
		if role, _ := tracker.ParseRole(r.actor.Role); r.actor.Way == ask.WayAccount && role&n.may == 0 { // it has its role from the day it is let in
			return &events.Refusal{Code: events.CodeRightMissing, Field: "by", Text: accountLacks(r.actor, n, rules)}, nil
		}
	}
	return nil, nil
}

// need is a right that something needs.
type need struct {
	doing string
	may   tracker.Roles
}

// accountLacks is what is said to an account of the broker whose role has not the right.
func accountLacks(a ask.Actor, n need, rules *tracker.Rules) string {
	return "This account stands for the role " + or(a.Role, "of nobody") + ", and " + n.doing + " is for " + n.may.String() + ". " + rules.WhomToAsk(n.may)
}

// voucher says whether it is vouched for whom an event names, and for when.
type voucher struct {
	good bool
	then bool   // for when it happened, not for now alone: a time that is sent is easily made up
	why  string // a sentence, when nobody vouches
}

// vouchedFor asks whether whoever sends an event vouches for whom it names. The owner of the data folder does for anybody who
// is set up; a session for its own person; a session and a station, for whoever was signed in at that station when it
// happened, since a queue outlives a sign-in; an account for what those of its role do by hand, and else for anybody who is set up.
func (r *recording) vouchedFor(e *tracker.Event) (voucher, error) {
	switch role, _ := tracker.ParseRole(r.actor.Role); {
	case r.actor.Way == ask.WayAccount && tracker.Physical(e.Kind):
		n := need{tracker.RecordRight(e.Kind).Doing, r.s.rules(e.Clinic).Recorders(e)}
		if role&n.may != 0 {
			return voucher{good: true, then: true}, nil
		}
		return voucher{why: accountLacks(r.actor, n, r.s.rules(e.Clinic))}, nil
	case r.actor.Way == ask.WayOwner, r.actor.Way == ask.WayAccount:
		known, err := r.s.vouch.Known(e.By)
		if err != nil || known {
			return voucher{good: true, then: true}, err
		}
		return voucher{why: "Nobody is set up as " + e.By + "."}, nil
	}
	if e.Station != r.actor.Station {
		return voucher{why: "This comes from the station " + r.actor.Station + ", and says that it was entered at " + e.Station + "."}, nil
	}
	when := e.At
	if when.After(r.now) {
		when = r.now
	}
	was, err := r.s.vouch.WasSignedIn(e.By, e.Station, when)
	switch {
	case err != nil:
		return voucher{}, err
	case was:
		return voucher{good: true, then: true}, nil
	case r.actor.Way == ask.WaySession && e.By == r.actor.Staff:
		return voucher{good: true}, nil
	}
	return voucher{why: e.By + " was not signed in at " + e.Station + " when this happened."}, nil
}

// doubt notes that nobody vouches for whom an event names. Sent again it is not doubted anew.
func (r *recording) doubt(e *tracker.Event, why string) error {
	if _, known, err := r.s.ledger.ByID(e.ID); err != nil || known {
		return err
	}
	r.doubts = append(r.doubts, doubt{event: e, actor: r.actor, recorded: r.now, why: why})
	return nil
}

// note writes the doubts down before what they are about is recorded. That they cannot be is no reason to lose a scan.
func (r *recording) note() {
	if len(r.doubts) == 0 {
		return
	}
	if err := r.s.vouch.noteDoubts(r.doubts...); err != nil {
		r.s.log.Error("doubts about who did what could not be noted; the events are recorded", "doubts", len(r.doubts), "error", err.Error())
	}
	r.doubts = nil
}
