package tracker

import "time"

// FlagKind names what is wrong; [FlagCatalog] explains each.
type FlagKind string

// Severity says how soon something must be done.
type Severity string

// The severities, worst first. Now: it can still be put right and minutes or hours count. Watch: it will become one of
// the others if nothing changes.
const (
	Now   Severity = "now"
	Today Severity = "today"
	Watch Severity = "watch"
)

// Rank orders severities: 0 for Now, 1 for Today, 2 for Watch.
func (s Severity) Rank() int {
	switch s {
	case Now:
		return 0
	case Today:
		return 1
	}
	return 2
}

// Flag is one thing that is wrong, what to do about it, and by which rule. Texts name instants and limits, never ages,
// so that a flag does not change by itself.
type Flag struct {
	Kind     FlagKind  `json:"kind"`
	Case     Name      `json:"case,omitzero"` // absent for a bag or an unknown thing
	Item     Name      `json:"item"`          // the smallest thing that is wrong
	Severity Severity  `json:"severity"`
	Since    time.Time `json:"since"`        // when it became true
	Due      time.Time `json:"due,omitzero"` // when it gets worse or becomes irreparable
	Text     string    `json:"text"`         // what is wrong, with its numbers
	Remedy   string    `json:"remedy"`       // what to do, and whom to ring
	Who      string    `json:"who"`          // whose it is to act: a role, or two
	Basis    string    `json:"basis"`        // the protocol line and its published source
}

// HeldFlag is a flag that another one explains, so it is not raised.
type HeldFlag struct {
	Flag
	By string `json:"by"` // a flag kind, or "clock.paused"
}

// Findings is the answer of [Check].
type Findings struct {
	Flags []Flag     `json:"flags"`         // in a fixed order: severity, then due, then kind and item
	Held  []HeldFlag `json:"held"`          // likewise
	Wake  time.Time  `json:"wake,omitzero"` // later than now; zero when time alone changes nothing
}
