package store

import (
	"errors"
	"iter"
	"time"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

var errLater = errors.New("not yet")

// Ledger is an open ledger. It is safe for concurrent use.
type Ledger struct{}

// Open opens the ledger at path, and makes it when there is none.
func Open(path string, o Options) (*Ledger, error) { return nil, errLater }

// Close waits for what is being written and closes the file.
func (l *Ledger) Close() error { return errLater }

// Origin is the name of this node's log.
func (l *Ledger) Origin() string { return "" }

// Record appends a batch in one transaction (in parts, when it touches over 500 cases and bags) and judges what it
// touches at now, by the protocol in force. The verdicts, one an intake, are good only when it returns: all are on disk.
// Two calls at once overlap: one is prepared while the other is on its way to the disk, so use two goroutines.
//
// With [ErrNoSpace] there are verdicts too: those not recorded say no-space. With any other error nothing may be
// answered as recorded.
func (l *Ledger) Record(now time.Time, batch []Intake) ([]events.Verdict, error) {
	return nil, errLater
}

// Due is when something must be judged again; ok is false when nothing waits. The past means now.
func (l *Ledger) Due() (at time.Time, ok bool, err error) { return time.Time{}, false, errLater }

// Recheck judges what is due at now, at most limit cases and bags, in one transaction.
func (l *Ledger) Recheck(now time.Time, limit int) (Rechecked, error) { return Rechecked{}, errLater }

// Snapshot is what was last judged of the case or bag that a name belongs to; ok is false when nothing is known of it.
func (l *Ledger) Snapshot(name tracker.Name) (s Snapshot, ok bool, err error) {
	return Snapshot{}, false, errLater
}

// Filter says which snapshots are wanted.
type Filter struct {
	Clinic  string // "" for all
	Open    bool   // only what is not settled: not closed, flagged, or waiting for its time
	Flagged bool   // only what has flags, worst first; else by name
}

// Snapshots ranges over snapshots, read in short transactions. An error ends the range and comes with a zero Snapshot.
func (l *Ledger) Snapshots(f Filter) iter.Seq2[Snapshot, error] { return nil }

// OpenFlags is every flag that is raised, worst first.
func (l *Ledger) OpenFlags() ([]tracker.Flag, error) { return nil, errLater }

// FlagChanges is the log of flags from a position on, at most limit rows; what is older than [Options.FlagLog] is gone.
func (l *Ledger) FlagChanges(from uint64, limit int) ([]FlagChange, error) { return nil, errLater }

// Events is everything that counts for the case or bag that a name belongs to, in the order it is folded.
func (l *Ledger) Events(name tracker.Name) ([]*tracker.Event, error) { return nil, errLater }

// EventsFrom is the ledger from a position on, at most limit entries and about a MiB.
func (l *Ledger) EventsFrom(seq uint64, limit int) ([]Entry, error) { return nil, errLater }

// ByOrigin is one origin's log from a position on, at most limit entries and about a MiB.
func (l *Ledger) ByOrigin(origin string, from uint64, limit int) ([]Entry, error) {
	return nil, errLater
}

// Last is the position of the last entry and when it was recorded; zero for an empty ledger.
func (l *Ledger) Last() (seq uint64, recorded time.Time) { return 0, time.Time{} }

// Adopted is the protocol in force for a clinic; ok is false when it adopted none and the default holds.
func (l *Ledger) Adopted(clinic string) (r *tracker.Rules, ok bool) { return nil, false }

// Changed gives a channel that is closed at the next commit.
func (l *Ledger) Changed() <-chan struct{} { return nil }

// Stats are figures for metrics.
func (l *Ledger) Stats() Stats { return Stats{} }

// TakeSerials hands out n serials in a row for cases and bags of a clinic in a year (its last two digits), and gives
// the first. They are on disk before it returns, never given twice, and none is the serial of something known.
func (l *Ledger) TakeSerials(clinic string, year, n int) (first int, err error) { return 0, errLater }

// NextCopy is the copy for the next label of a thing.
func (l *Ledger) NextCopy(name tracker.Name) (tracker.Copy, error) { return 0, errLater }

// Known is what the ledger knows of a code or name.
type Known struct {
	Name   tracker.Name     `json:"name"`
	Known  bool             `json:"known"` // a request, printed label, reserved roll or bag stands behind it
	Labels []*tracker.Label `json:"labels"`
	For    tracker.Name     `json:"for,omitzero"` // what it stands for, when its label was bound or its pot relabelled
	Seen   []tracker.Copy   `json:"seen"`         // copies scanned, in the order of their first scan
	Events int              `json:"events"`       // how many name it
}

// Codes says what is known of a name.
func (l *Ledger) Codes(name tracker.Name) (Known, error) { return Known{}, errLater }

// Checkpoint is the state of one origin's tree.
type Checkpoint struct {
	Origin string `json:"origin"`
	Size   uint64 `json:"size"` // leaves
	Root   string `json:"root"` // RFC 6962, SHA-256, hexadecimal
}

// Root is the checkpoint of an origin; "" is this node's own.
func (l *Ledger) Root(origin string) (Checkpoint, error) { return Checkpoint{}, errLater }

// Inclusion shows that one leaf is in a tree.
type Inclusion struct {
	Index uint64   `json:"index"` // of the leaf, from 0
	Leaf  string   `json:"leaf"`  // the stored bytes
	Path  []string `json:"path"`  // hashes, hexadecimal, leaf to root
}

// Proof shows which events of a thing are in the ledger.
type Proof struct {
	Name        tracker.Name `json:"name"`
	Checkpoints []Checkpoint `json:"checkpoints"`
	Events      []Inclusion  `json:"events"`
}

// Proof shows that the events of the case or bag that a name belongs to are in the ledger.
func (l *Ledger) Proof(name tracker.Name) (Proof, error) { return Proof{}, errLater }

// HalfBuilt reports whether a rebuild did not finish.
func (l *Ledger) HalfBuilt() bool { return false }

// Rebuild throws away everything derived and makes it again from the entries, judged at now.
func (l *Ledger) Rebuild(now time.Time, progress func(done, total uint64)) error { return errLater }

// Check recomputes every hash, index and snapshot and says what does not fit.
func (l *Ledger) Check() error { return errLater }
