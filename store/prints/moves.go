package prints

import "fmt"

// step is what happens to a job.
type step byte

const (
	recorded   step = iota // its print stands in the ledger: it may go
	taken                  // a worker is about to send its first byte
	sent                   // the printer took all of it
	again                  // nothing left this machine: another try
	lost                   // nobody knows whether a label came out
	refused                // no try will do
	overdue                // nobody wants it any more
	calledOff              // somebody wants it no more
	cameOut                // somebody says that the label is there
	neverCame              // somebody says that the label never came out
	scanned                // its label was scanned
	cutShort               // the program ended while it was being sent
	unreadable             // what was to be sent cannot be unsealed
	stepCount  = iota
)

// String completes "a job that is sent cannot be …".
func (s step) String() string {
	return [stepCount]string{"queued", "taken to be sent", "noted as sent", "put back for another try", "noted as unknown", "refused",
		"let go as overdue", "called off", "settled as come out", "settled as never come out", "confirmed by a scan", "noted as cut short",
		"let go as unreadable"}[s]
}

// moves says for each step where a job goes from each state. A state that a step leads to from itself has had that step
// already, or what is past it: repeating it after a crash, or hearing of it late, changes nothing. A state that a step does
// not name forbids it.
//
// No step leads from Sent, Unknown, Confirmed or NotPrinted to where a job could leave again: only from Sending, and then
// only by a sender that knows that nothing was printed. A scan goes before all else: a label that was scanned exists, so
// wherever its job is, it must not come out a second time.
var moves = [stepCount]map[State]State{
	recorded:   {Prepared: Queued, Queued: Queued, Sending: Sending, Sent: Sent, Unknown: Unknown, Confirmed: Confirmed},
	taken:      {Queued: Sending},
	sent:       {Sending: Sent, Sent: Sent, Confirmed: Confirmed},
	again:      {Sending: Queued, Queued: Queued, Confirmed: Confirmed},
	lost:       {Sending: Unknown, Unknown: Unknown, Confirmed: Confirmed},
	refused:    {Queued: NotPrinted, Sending: NotPrinted, NotPrinted: NotPrinted, Confirmed: Confirmed},
	overdue:    {Queued: NotPrinted},
	calledOff:  {Queued: NotPrinted, NotPrinted: NotPrinted},
	cameOut:    {Sent: Confirmed, Unknown: Confirmed, Confirmed: Confirmed},
	neverCame:  {Sent: NotPrinted, Unknown: NotPrinted, NotPrinted: NotPrinted},
	scanned:    {Prepared: Confirmed, Queued: Confirmed, Sending: Confirmed, Sent: Confirmed, Unknown: Confirmed, Confirmed: Confirmed, NotPrinted: Confirmed},
	cutShort:   {Sending: Unknown},
	unreadable: {Queued: NotPrinted},
}

// after is the state that a step leads to.
func (s State) after(what step, id uint64) (State, error) {
	to, ok := moves[what][s]
	if !ok {
		return "", fmt.Errorf("%w: job %d is %s and cannot be %s%s", ErrState, id, s.words(), what, s.advice(what))
	}
	return to, nil
}

// words completes "a job is …".
func (s State) words() string {
	switch s {
	case Prepared:
		return "prepared and not yet recorded"
	case Queued:
		return "waiting for its printer"
	case Sending:
		return "being sent"
	case Sent:
		return "sent"
	case Unknown:
		return "of unknown outcome"
	case Confirmed:
		return "confirmed to have come out"
	case NotPrinted:
		return "settled as not printed"
	}
	return string(s)
}

// advice says what may be done instead, where somebody may well ask.
func (s State) advice(what step) string {
	switch {
	case what == calledOff && s == Sending:
		return ": wait until it is known what became of it"
	case what == calledOff && (s == Unknown || s == Sent):
		return ": say instead whether its label came out"
	case (what == cameOut || what == neverCame) && (s == Queued || s == Sending):
		return ": its printer is not done with it"
	case what == cameOut && s == NotPrinted:
		return ": scan its label, which shows that it is there"
	}
	return ""
}

// keepsBody reports whether what is to be sent can still be needed.
func (s State) keepsBody() bool { return s == Prepared || s == Queued || s == Sending }

// known reports whether a state is one of ours.
func (s State) known() bool {
	switch s {
	case Prepared, Queued, Sending, Sent, Unknown, Confirmed, NotPrinted:
		return true
	}
	return false
}
