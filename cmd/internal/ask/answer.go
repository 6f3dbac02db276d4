package ask

import (
	"slices"
	"time"

	"github.com/go-json-experiment/json/jsontext"

	"github.com/pottrail/pottrail/tracker"
)

// FlagsAnswer is what is wrong at an instant: the shape of `check --json` and `flags --json`.
type FlagsAnswer struct {
	At    time.Time          `json:"at"`
	Flags []tracker.Flag     `json:"flags"` // worst first, `watch` too
	Held  []tracker.HeldFlag `json:"held"`
	Wake  time.Time          `json:"wake,omitzero"`  // the next instant at which time alone can change the answer
	Under []Under            `json:"under,omitzero"` // if asked for: the protocol under which each flag was raised, in their order
}

// Under is the protocol under which a flag was raised.
type Under struct {
	Kind    tracker.FlagKind `json:"kind"`
	Item    tracker.Name     `json:"item"`
	Title   string           `json:"title"`
	SHA256  string           `json:"sha256"`
	Adopted time.Time        `json:"adopted,omitzero"` // absent for the one inside the program
	By      string           `json:"by,omitzero"`
}

// UnderOf is what is said of a flag and its protocol.
func UnderOf(f tracker.Flag, a tracker.Adoption) Under {
	u := Under{Kind: f.Kind, Item: f.Item, Adopted: a.When, By: a.By}
	if a.Rules != nil {
		u.Title, u.SHA256 = a.Rules.Protocol().Title, a.Rules.Protocol().SHA256
	}
	return u
}

// CaseAnswer is a case or a bag: where it stands, what is wrong, and everything that happened to it.
type CaseAnswer struct {
	At      time.Time          `json:"at"`
	Zone    string             `json:"zone"` // the clinic's
	Summary tracker.Summary    `json:"summary"`
	Flags   []tracker.Flag     `json:"flags"`
	Held    []tracker.HeldFlag `json:"held"`
	Wake    time.Time          `json:"wake,omitzero"`
	Trail   []TrailEvent       `json:"trail"` // in the order of what happened, struck events too
}

// PotAnswer is one pot or piece.
type PotAnswer struct {
	At    time.Time           `json:"at"`
	Zone  string              `json:"zone"`
	Name  tracker.Name        `json:"name"`
	Case  tracker.Name        `json:"case"`
	Pot   *tracker.PotSummary `json:"pot,omitzero"` // absent when nobody planned or used it
	Flags []tracker.Flag      `json:"flags"`
	Held  []tracker.HeldFlag  `json:"held"`
	Trail []TrailEvent        `json:"trail"`
}

// TrailEvent is an event as the ledger has it, and whether it still counts.
type TrailEvent struct {
	Event  jsontext.Value `json:"event"` // a line of `export`
	Struck bool           `json:"struck,omitzero"`
}

// ChaseAnswer is the chase list.
type ChaseAnswer struct {
	At   time.Time          `json:"at"`
	Rows []tracker.ChaseRow `json:"rows"`
}

// CodesAnswer is what a code or name stands for.
type CodesAnswer struct {
	Name       tracker.Name     `json:"name"`
	Thing      string           `json:"thing"` // "case", "pot", "piece" or "bag"
	Printed    string           `json:"printed"`
	Case       tracker.Name     `json:"case,omitzero"`
	Known      bool             `json:"known"`                // its case was opened, a label printed, or its roll reserved
	For        tracker.Name     `json:"for,omitzero"`         // what it stands for, when its label was bound or its pot relabelled
	Roll       bool             `json:"roll,omitzero"`        // a label of a downtime roll
	Copy       string           `json:"copy,omitzero"`        // of the code that was asked for
	Copies     []string         `json:"copies"`               // printed so far, in order
	Seen       []string         `json:"seen"`                 // copies that were scanned
	Next       string           `json:"next,omitzero"`        // the copy that a reprint would be
	Superseded bool             `json:"superseded,omitzero"`  // the copy asked for has been replaced by a later one
	ReplacedBy string           `json:"replaced_by,omitzero"` // which
	Destroyed  bool             `json:"destroyed,omitzero"`   // the copy asked for is on record as destroyed
	Unprinted  bool             `json:"unprinted,omitzero"`   // that the copy asked for was printed is not on record
	PutBack    time.Time        `json:"put_back,omitzero"`    // the record is from a backup of then, and this label may be from after it
	Step       tracker.Step     `json:"step,omitzero"`        // how far its case has come
	Place      string           `json:"place,omitzero"`
	Holder     string           `json:"holder,omitzero"`
	Since      time.Time        `json:"since,omitzero"`
	Worst      tracker.Severity `json:"worst,omitzero"` // of the flags open on it
}

// EventsAnswer is a stretch of the ledger.
type EventsAnswer struct {
	Events []jsontext.Value `json:"events"`        // lines of `export`, in ledger order
	Next   uint64           `json:"next"`          // position to ask from for what follows
	More   bool             `json:"more,omitzero"` // there is something there already
}

// Add adds what was found about one thing.
func (a *FlagsAnswer) Add(f tracker.Findings) {
	a.Flags = append(a.Flags, f.Flags...)
	a.Held = append(a.Held, f.Held...)
	if !f.Wake.IsZero() && (a.Wake.IsZero() || f.Wake.Before(a.Wake)) {
		a.Wake = f.Wake
	}
}

// Sort puts flags and what is held back into their order, worst first, and makes empty lists of missing ones.
func (a *FlagsAnswer) Sort() {
	if a.Flags == nil {
		a.Flags = []tracker.Flag{}
	}
	if a.Held == nil {
		a.Held = []tracker.HeldFlag{}
	}
	slices.SortStableFunc(a.Flags, tracker.CompareFlags)
	slices.SortStableFunc(a.Held, func(x, y tracker.HeldFlag) int { return tracker.CompareFlags(x.Flag, y.Flag) })
}
