package tracker

import (
	"cmp"
	"time"
)

// Kind names what an event says; [Kinds] lists all of them.
type Kind string

// EventID is a UUID in its canonical lower-case spelling, made where the event happened.
type EventID string

// Entered says how an event came in.
type Entered string

// How an event came in; the zero value counts as EnteredScan.
const (
	EnteredScan    Entered = "scan"
	EnteredTyped   Entered = "typed"
	EnteredPaper   Entered = "paper"
	EnteredMessage Entered = "message"
)

// Event is one fact: what happened, when by the station's clock, who said so and where it was entered.
type Event struct {
	ID      EventID
	Kind    Kind
	Clinic  string    // owner of the items, as in their codes
	At      time.Time // station's clock, with the offset it was sent with
	By      string    // staff key
	Station string    // where it was entered
	Items   []Item
	Data    Fact
	Entered Entered
	Record  Record
}

// Record is what the recorder added. The zero value means the event was never recorded (a hand-written file).
type Record struct {
	Seq      uint64        // position in the ledger that was read; local to it
	Origin   string        // node that first recorded the event
	OSeq     uint64        // gapless position within that origin, from 1
	Recorded time.Time     // that node's clock
	Skew     time.Duration // recorder's clock minus sender's at sending; 0 when not measured
}

// Fact is what an event of one kind says; the concrete types are pointers to the structs of this package.
type Fact interface {
	// Kind is the event kind that the fact belongs to.
	Kind() Kind
}

// When is the instant that orders the event: At, or the recorder's clock if At is later than that.
func (e *Event) When() time.Time {
	if !e.Record.Recorded.IsZero() && e.At.After(e.Record.Recorded) {
		return e.Record.Recorded
	}
	return e.At
}

// Compare orders events as they are folded: by when, then by id.
func (e *Event) Compare(other *Event) int {
	if c := e.When().Compare(other.When()); c != 0 {
		return c
	}
	return cmp.Compare(e.ID, other.ID)
}

// EarlierRecord orders two recordings of one id: the lower (recorded, origin) is the one that counts.
func (e *Event) EarlierRecord(other *Event) int {
	if c := e.Record.Recorded.Compare(other.Record.Recorded); c != 0 {
		return c
	}
	return cmp.Compare(e.Record.Origin, other.Record.Origin)
}

// Concerns lists the names an event is about, items first, then the pots of a bag, the other name of a binding or
// relabelling and the case that another repeats, without repeats. A ledger finds by them whose state the event can touch.
func (e *Event) Concerns() []Name {
	names := make([]Name, 0, len(e.Items)+2)
	add := func(n Name) {
		for _, have := range names {
			if have == n {
				return
			}
		}
		if n != "" {
			names = append(names, n)
		}
	}
	for _, item := range e.Items {
		if len(e.Items) > 8 { // 500 items are refused when repeated, so the check is for small lists only
			names = append(names, item.Name)
			continue
		}
		add(item.Name)
	}
	switch f := e.Data.(type) {
	case *BagPacked:
		names = append(names, f.Pots...)
	case *BagOpened:
		names = append(names, f.Pots...)
	case *LabelBound:
		add(f.To)
	case *PotRelabelled:
		add(f.New)
	case *CaseOpened:
		add(f.RepeatOf)
	case *CaseAmended:
		if f.RepeatOf != nil {
			add(*f.RepeatOf)
		}
	}
	return names
}
