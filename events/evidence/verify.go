package evidence

import (
	"errors"
	"fmt"
	"slices"

	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// Against is what a proof is held against.
type Against struct {
	// Keys are the public keys that are trusted. Without any the key inside the proof is taken: that shows only that the
	// parts of it fit each other.
	Keys []string
	// Older is an earlier checkpoint, as a signed note; "" for none.
	Older string
	// Paper is an earlier checkpoint as [Checkpoint.Short] prints it, typed from paper; "" for none.
	Paper string
}

// Code names a kind of damage, for programs.
type Code string

// What may not hold, in the order in which it is looked for.
const (
	CodeKey            Code = "key"              // a key that was given cannot be read
	CodeOtherKey       Code = "other-key"        // signed by another key than those that were given
	CodeStatement      Code = "statement"        // the statement was changed, or cannot be read
	CodeName           Code = "name"             // the statement is about something else
	CodeCheckpoint     Code = "checkpoint"       // a checkpoint was changed, is missing or is one too many
	CodeTooOld         Code = "checkpoint-older" // a checkpoint was made before an event
	CodeMissing        Code = "missing"          // an event that is listed is not in the file
	CodeForeign        Code = "foreign"          // an event of something else, or one that is not listed
	CodeOrder          Code = "order"            // events stand in another order, or twice
	CodeChanged        Code = "changed"          // an event's bytes are not those that were recorded
	CodePlace          Code = "place"            // an event says itself that it stands elsewhere in the record
	CodePath           Code = "path"             // a path does not lead to the root
	CodeOlder          Code = "older"            // the earlier checkpoint is not a beginning of this record
	CodeOlderNoProof   Code = "older-missing"    // the proof does not lead back to the earlier checkpoint
	CodeOlderSignature Code = "older-signature"  // the earlier checkpoint is not signed, or by another key
)

// Fault is the first thing of a proof that does not hold.
type Fault struct {
	Code  Code   `json:"code"`
	Event int    `json:"event,omitzero"` // which of the events, from 1; 0 when it is none
	Text  string `json:"text"`           // a sentence
}

// Error is the sentence.
func (f *Fault) Error() string { return f.Text }

func fault(code Code, event int, format string, args ...any) *Fault {
	return &Fault{Code: code, Event: event, Text: fmt.Sprintf(format, args...)}
}

// Verify checks a proof: signatures, the list of what belongs to it, the bytes of each event, its path to the root, and
// the way back to an earlier checkpoint. It gives the first thing that does not hold, or nil.
func Verify(p *Proof, against Against) *Fault {
	v := &verifying{p: p, against: against, keys: against.Keys}
	if len(v.keys) == 0 {
		v.keys = []string{p.Key}
	}
	for _, step := range []func() *Fault{v.keysRead, v.statement, v.checkpoints, v.listed, v.events, v.older} {
		if f := step(); f != nil {
			return f
		}
	}
	return nil
}

type verifying struct {
	p       *Proof
	against Against
	keys    []string
	stated  Statement
}

func (v *verifying) keysRead() *Fault {
	for _, key := range v.keys {
		if err := CheckKey(key); err != nil {
			return fault(CodeKey, 0, "A key cannot be read: %v.", err)
		}
	}
	return nil
}

// signed is nil when a trusted key signed a note; what names it, in a sentence.
func (v *verifying) signed(what, text string, otherwise Code) *Fault {
	switch err := checkSignature(text, v.keys); {
	case err == nil:
		return nil
	case errors.Is(err, ErrUnknownKey):
		code := CodeOtherKey
		if otherwise == CodeOlderSignature {
			code = otherwise
		}
		return fault(code, 0, "%s is signed by %s, and not by the key that was given, %s: the key is another node's, or somebody else made it.", what, signersOf(text), v.keyNames())
	default:
		return fault(otherwise, 0, "%s was changed after it was signed.", what)
	}
}

func (v *verifying) keyNames() string {
	names := ""
	for i, key := range v.keys {
		if i > 0 {
			names += ", "
		}
		names += KeyName(key)
	}
	return names
}

func (v *verifying) statement() *Fault {
	if v.p.Statement == "" {
		return fault(CodeStatement, 0, "The statement of what belongs to %s is missing.", v.p.Name)
	}
	if f := v.signed("The statement of what belongs to "+string(v.p.Name), v.p.Statement, CodeStatement); f != nil {
		return f
	}
	var ok bool
	if v.stated, ok = readStatement(v.p.Statement); !ok {
		return fault(CodeStatement, 0, "The statement of what belongs to %s is signed, and is no such statement: something else was put in its place.", v.p.Name)
	}
	if v.stated.Name != v.p.Name {
		return fault(CodeName, 0, "The file says that it is about %s, and the signed statement in it is about %s.", v.p.Name, v.stated.Name)
	}
	return nil
}

func (v *verifying) checkpoints() *Fault {
	seen := map[string]bool{}
	for _, c := range v.p.Checkpoints {
		if f := v.signed("The checkpoint of "+NodeName(c.Origin), c.Note, CodeCheckpoint); f != nil {
			return f
		}
		// In a file the note is all there is; in an answer as JSON both are there.
		if read, err := ReadCheckpoint(c.Note); err != nil || read.Checkpoint != c.Checkpoint {
			return fault(CodeCheckpoint, 0, "The checkpoint of %s is not what its signed note says.", NodeName(c.Origin))
		}
		if seen[c.Origin] {
			return fault(CodeCheckpoint, 0, "There are two checkpoints of %s.", NodeName(c.Origin))
		}
		seen[c.Origin] = true
	}
	needed := map[string]bool{}
	for i, e := range v.stated.Entries {
		if needed[e.Origin] = true; !seen[e.Origin] {
			return fault(CodeCheckpoint, 0, "The checkpoint of %s is missing, and events of that node are listed.", NodeName(e.Origin))
		}
		if c, _ := v.p.Checkpoint(e.Origin); e.Index >= c.Size {
			return fault(CodeTooOld, i+1, "Event %d of %d is %s, and the checkpoint was made when there were %d: it is older than the event.",
				i+1, len(v.stated.Entries), place{e.Origin, e.Index}, c.Size)
		}
	}
	for _, c := range v.p.Checkpoints {
		if !needed[c.Origin] {
			return fault(CodeCheckpoint, 0, "There is a checkpoint of %s, and no event of that node: it was put in.", NodeName(c.Origin))
		}
	}
	return nil
}

// place is where an entry stands in the record.
type place struct {
	origin string
	index  uint64
}

func (p place) String() string { return fmt.Sprintf("entry %d of %s", p.index+1, NodeName(p.origin)) }

// listed holds the events of the file against the signed list of them.
func (v *verifying) listed() *Fault {
	wanted := make([]place, len(v.stated.Entries))
	there := map[place]int{} // the event of the file, from 1
	for i, e := range v.stated.Entries {
		wanted[i] = place{e.Origin, e.Index}
	}
	total := len(wanted)
	for i, e := range v.p.Events {
		at := place{e.Origin, e.Index}
		if first := there[at]; first != 0 {
			return fault(CodeOrder, i+1, "Event %d of the file is %s, and so is event %d.", i+1, at, first)
		}
		there[at] = i + 1
	}
	for i, at := range wanted {
		if there[at] == 0 {
			if i < len(v.p.Events) && !slices.Contains(wanted, place{v.p.Events[i].Origin, v.p.Events[i].Index}) {
				return v.foreign(i)
			}
			return fault(CodeMissing, i+1, "Event %d of the %d that belong to %s is missing: %s. It was left out of the file.", i+1, total, v.p.Name, at)
		}
	}
	for i, e := range v.p.Events {
		at := place{e.Origin, e.Index}
		if i < total && wanted[i] == at {
			continue
		}
		if !slices.Contains(wanted, at) {
			return v.foreign(i)
		}
		return fault(CodeOrder, i+1, "Event %d of the file is %s, where %s belongs: the events stand in another order.", i+1, at, wanted[i])
	}
	return nil
}

// foreign says what an event is that is not on the list.
func (v *verifying) foreign(i int) *Fault {
	e := v.p.Events[i]
	at := place{e.Origin, e.Index}
	if decoded, err := events.DecodeRecorded([]byte(e.Leaf)); err == nil {
		about := tracker.WatchedBy(decoded)
		if len(about) > 0 && !slices.Contains(about, v.p.Name) {
			return fault(CodeForeign, i+1, "Event %d of the file, %s, is about %s and not about %s: it belongs to something else.", i+1, at, about[0], v.p.Name)
		}
	}
	return fault(CodeForeign, i+1, "Event %d of the file, %s, is not among the %d that belong to %s: it was put in.", i+1, at, len(v.stated.Entries), v.p.Name)
}

// events checks each event's bytes, place and path.
func (v *verifying) events() *Fault {
	for i, e := range v.p.Events {
		n, total := i+1, len(v.p.Events)
		at := place{e.Origin, e.Index}
		leaf := LeafHash([]byte(e.Leaf))
		if leaf != v.stated.Entries[i].Leaf {
			return fault(CodeChanged, n, "Event %d of %d, %s, is not what was recorded: something in it was changed.", n, total, at)
		}
		decoded, err := events.DecodeRecorded([]byte(e.Leaf))
		if err != nil {
			return fault(CodeChanged, n, "Event %d of %d, %s, cannot be read as an event: %v.", n, total, at, err)
		}
		if r := decoded.Record; r.Origin != e.Origin || r.OSeq != e.Index+1 {
			return fault(CodePlace, n, "Event %d of %d says of itself that it is %s, and the file has it as %s.", n, total, place{r.Origin, r.OSeq - 1}, at)
		}
		c, _ := v.p.Checkpoint(e.Origin)
		if err := tlog.CheckRecord(tlogHashes(e.Path), int64(c.Size), tlog.Hash(c.Root), int64(e.Index), tlog.Hash(leaf)); err != nil {
			return fault(CodePath, n, "The path of event %d of %d, %s, does not lead to the root of the checkpoint: it was changed, or belongs to another event or another checkpoint.", n, total, at)
		}
	}
	return nil
}
