package store

import (
	"fmt"
	"strings"

	"github.com/pottrail/pottrail/tracker"
)

// Part says what of a ledger is wrong.
type Part string

// The parts of a ledger that a check recomputes.
const (
	PartFile     Part = "file"     // how the pages of the file hang together
	PartHead     Part = "head"     // what the file says of itself
	PartEntry    Part = "entry"    // an entry: what was recorded
	PartHash     Part = "hash"     // a hash of an origin's tree
	PartID       Part = "id"       // the index of ids
	PartVerdict  Part = "verdict"  // a verdict that was given, kept with its id
	PartStretch  Part = "stretch"  // where the log of each origin lies
	PartFiling   Part = "filing"   // which events concern which case or bag
	PartSnapshot Part = "snapshot" // what was last judged of a case or bag
	PartDue      Part = "due"      // when it must be judged again
	PartOpen     Part = "open"     // the index of what is open
	PartFlagged  Part = "flagged"  // the index of what is flagged
	PartAdoption Part = "adoption" // the index of adopted protocols
	PartSweep    Part = "sweep"    // how far a change of rules was worked through
	PartFlagLog  Part = "flag-log" // the log of flags
	PartSerial   Part = "serial"   // the serials that were handed out
	// PartCheckpoint is a signed checkpoint that the ledger keeps.
	PartCheckpoint Part = "checkpoint"
)

// Finding is one thing that a check found wrong.
type Finding struct {
	Part   Part         `json:"part"`
	Seq    uint64       `json:"seq,omitzero"`    // the entry's position in the ledger; 0 when it is about none
	Origin string       `json:"origin,omitzero"` // the node that first recorded it
	OSeq   uint64       `json:"oseq,omitzero"`   // its position within that node's log
	Kind   tracker.Kind `json:"kind,omitzero"`   // of the event, as far as it can be read
	Item   tracker.Name `json:"item,omitzero"`   // the first thing that it is about, or the case or bag
	Text   string       `json:"text"`            // what is wrong, a sentence
	Remedy string       `json:"remedy"`          // what to do about it
	// Detail is for developers: what stands there and what should.
	Detail string `json:"-"`
}

// Error makes a finding an error.
func (f Finding) Error() string {
	if f.Detail != "" {
		return f.Text + "\n  " + f.Detail
	}
	return f.Text
}

// remedy says what to do, by what is wrong. What is derived can be made again, unless an entry was altered: then that would
// make hashes over what was altered, and hide it. What was recorded or told cannot.
func (p Part) remedy(altered bool) string {
	switch p {
	case PartHash, PartID, PartStretch, PartFiling, PartSnapshot, PartDue, PartOpen, PartFlagged, PartAdoption, PartSweep:
		if altered {
			return "It may follow from what is wrong above. Do not rebuild: that would make hashes over what was altered. Copy the data folder, keep the copy, and put the last backup back."
		}
		return "Copy the data folder first; then `pottrail rebuild` makes this part again from the entries. Look at the disk: what changed this byte will change others."
	case PartFlagLog, PartVerdict:
		return "No entry is touched by this. What was told at the time cannot be made again: copy the data folder, and put the last backup back if that log matters."
	case PartCheckpoint:
		return "Copy the data folder. Hold the record against a checkpoint that somebody else has (`pottrail verify`): if that holds, the record is what was signed; if not, put the last backup back and tell whoever answers for the record."
	case PartSerial, PartHead:
		return "Do not start the daemon over it: numbers could be given out twice. Copy the data folder, and put the last backup back."
	default:
		return "What was recorded cannot be made again from elsewhere in this file: copy the data folder, keep the copy, and put the last backup back."
	}
}

// about is where an entry stands, for a sentence.
func (f Finding) about() string {
	var more []string
	if f.Kind != "" {
		more = append(more, string(f.Kind))
	}
	if f.Item != "" {
		more = append(more, "of "+f.Item.Printed())
	}
	if f.Origin != "" {
		more = append(more, fmt.Sprintf("number %d of %s", f.OSeq, f.Origin))
	}
	if len(more) == 0 {
		return fmt.Sprintf("Entry %d", f.Seq)
	}
	return fmt.Sprintf("Entry %d (%s)", f.Seq, strings.Join(more, ", "))
}

// DamagedProcedure names where it is written down what to do with a damaged ledger.
const DamagedProcedure = `"When the ledger is damaged" in README.md`
