package press

import (
	"fmt"
	"time"
)

// PrinterState is what a printer is about.
type PrinterState string

// The states of printers.
const (
	Ready    PrinterState = "ready"    // nothing waits, or what waits goes at once
	Printing PrinterState = "printing" // a label is being sent
	Waits    PrinterState = "waits"    // labels wait until what ails it has passed
)

// Status is how a printer stands.
type Status struct {
	Printer   string       `json:"printer"`
	State     PrinterState `json:"state"`
	Since     time.Time    `json:"since"`
	Waiting   int          `json:"waiting"`             // labels that are to come out, the one being sent among them
	Unknown   int          `json:"unknown"`             // labels of which somebody must say whether they came out
	Next      time.Time    `json:"next,omitzero"`       // when it is tried again, while it waits
	Trouble   string       `json:"trouble,omitzero"`    // what went wrong since a label last came out: a sentence
	TroubleAt time.Time    `json:"trouble_at,omitzero"` // when
}

// String says it in a sentence, without times: those are shown in the reader's zone.
func (s Status) String() string {
	var text string
	switch s.State {
	case Printing:
		text = "is printing"
		if s.Waiting > 1 {
			text += fmt.Sprintf(", and %s after that", count(s.Waiting-1, "label"))
		}
	case Waits:
		text = fmt.Sprintf("cannot print now; %s", wait(s.Waiting))
	default:
		text = "is ready"
	}
	if s.Unknown > 0 {
		text += fmt.Sprintf("; look whether %s came out, and say so", count(s.Unknown, "label"))
	}
	if s.Trouble != "" {
		text += ". Last trouble: " + s.Trouble
	}
	return text
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

func wait(n int) string {
	if n == 1 {
		return "1 label waits"
	}
	return count(n, "label") + " wait"
}

// State says how a printer stands.
func (w *Workers) State(printer string) (Status, error) {
	one, err := w.worker(printer)
	if err != nil {
		return Status{}, err
	}
	s := one.current()
	tally, err := w.o.Queue.Tally(printer)
	if err != nil {
		return Status{}, err
	}
	s.Waiting, s.Unknown = tally.Waiting, tally.Unknown
	return s, nil
}

// States says how all printers stand, in the order in which they were given.
func (w *Workers) States() ([]Status, error) {
	var all []Status
	for _, name := range w.names {
		s, err := w.State(name)
		if err != nil {
			return nil, err
		}
		all = append(all, s)
	}
	return all, nil
}

// current is how the worker sees it.
func (w *worker) current() Status {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.status
}

// enter notes a state; Since stays while it is the same.
func (w *worker) enter(s PrinterState, next time.Time) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.status.State != s {
		w.status.State, w.status.Since = s, time.Now()
	}
	w.status.Next = next
}

// note keeps what went wrong last; "" when a label came out.
func (w *worker) note(trouble string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.status.Trouble, w.status.TroubleAt = trouble, time.Time{}
	if trouble != "" {
		w.status.TroubleAt = time.Now()
	}
}
