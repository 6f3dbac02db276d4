package events

import (
	"errors"
	"strconv"
	"strings"

	"github.com/pottrail/pottrail/tracker"
)

// Limits of what is taken in. Source: contract page 2.
const (
	MaxEvent   = 64 << 10 // bytes of one event
	MaxRequest = 1 << 20  // bytes of one request
	MaxBatch   = 500      // events in one JSON array
	MaxItems   = 500      // items of one event
)

// maxRecorded leaves room for what the recorder adds, and for a canonical spelling a little longer than what was sent.
const maxRecorded = MaxEvent + 8<<10

// Code is the stable word for why something was refused; verdicts carry it. What is wrong with a code or name has the
// words of [tracker.CodeReason], such as "bad-check-character".
type Code string

// Why an event is refused. Package tracker's reasons come on top.
const (
	CodeBadJSON        Code = "bad-json"        // not JSON, or more than one value
	CodeUnknownField   Code = "unknown-field"   // a member that the contract does not have
	CodeDuplicateField Code = "duplicate-field" // a member given twice
	CodeMissingField   Code = "missing-field"   // required and absent or empty
	CodeWrongType      Code = "wrong-type"      // a number where a text is wanted, null, …
	CodeUnknownKind    Code = "unknown-kind"    // no such kind of event
	CodeBadID          Code = "bad-id"          // not a UUID
	CodeBadTime        Code = "bad-time"        // not RFC 3339, without offset, or before 2000
	CodeBadDate        Code = "bad-date"        // not a day like 2026-03-06
	CodeBadWord        Code = "bad-word"        // outside a closed list
	CodeBadNumber      Code = "bad-number"      // negative where nothing can be
	CodeBadHash        Code = "bad-hash"        // sha256 is not that of the text
	CodeTooFew         Code = "too-few"         // fewer than two identifiers
	CodeDuplicateItem  Code = "duplicate-item"  // one thing twice in items
	CodeDuplicateKey   Code = "duplicate-key"   // one lesion key or pot letter twice in a request
	CodeUnknownLesion  Code = "unknown-lesion"  // a pot for a lesion that the request lacks
	CodeWrongClinic    Code = "wrong-clinic"    // items or subject of another clinic
	CodeWrongThing     Code = "wrong-thing"     // a pot where a piece is wanted, items where none belong
	CodeTooLarge       Code = "too-large"       // over one of the limits
)

// Refusals that others than the codec give.
const (
	CodeDifferentContent  Code = "different-content"   // an id seen with other content
	CodeNoSpace           Code = "no-space"            // not recorded, send again; not a refusal
	CodeBadProtocol       Code = "bad-protocol"        // an adopted protocol that cannot be read
	CodeIdentifiersInText Code = "identifiers-in-text" // free text that holds the patient's own identifiers
	CodeRightMissing      Code = "right-missing"       // whom it names may not do it, and nothing physical has happened
	CodeNotSignedIn       Code = "not-signed-in"       // nobody vouches for whom it names, and nothing physical has happened
	CodeStopping          Code = "stopping"            // not recorded: the daemon is going down; send again
	CodeBusy              Code = "busy"                // not recorded: too much of one client waits; send again
	CodeLedgerDamaged     Code = "ledger-damaged"      // not recorded: the ledger can only be read; send again when it is mended
)

// Refusal says why an event is not taken in: nothing of it is recorded as an event. It is an error, and the error part
// of a verdict.
type Refusal struct {
	Code  Code   `json:"code"`
	Field string `json:"field"` // path in the event, "items[0]" or "data.lesions[0].side"; "" for the whole
	Text  string `json:"text"`  // what is wrong, where, and what is wanted
}

// Error is the sentence.
func (r *Refusal) Error() string { return r.Text }

// AsRefusal finds the refusal in an error, or makes a bad-json one out of a stranger, so that a verdict never lacks
// its reason. It is nil for nil.
func AsRefusal(err error) *Refusal {
	if err == nil {
		return nil
	}
	var r *Refusal
	if errors.As(err, &r) {
		return r
	}
	return &Refusal{Code: CodeBadJSON, Text: err.Error()}
}

// fault is a refusal in the making: the field is known only in part until the callers have put their part before it.
type fault struct {
	code   Code
	field  string
	detail string // goes on after the field: "is missing; …"
}

// under puts the name of what holds the faulty part in front of its path.
func (f *fault) under(name string) *fault {
	switch {
	case f == nil:
		return nil
	case f.field == "" || f.field[0] == '[':
		f.field = name + f.field
	default:
		f.field = name + "." + f.field
	}
	return f
}

// at is under for an element of a list.
func (f *fault) at(index int) *fault {
	if f == nil {
		return nil
	}
	return f.under("[" + strconv.Itoa(index) + "]")
}

func (f *fault) refusal() *Refusal {
	subject := f.field
	if subject == "" {
		subject = "The event"
	}
	return &Refusal{Code: f.code, Field: f.field, Text: subject + " " + f.detail + "."}
}

func missing(why string) *fault { return &fault{code: CodeMissingField, detail: "is missing; " + why} }

// oneOf is the fault of a word outside a closed list.
func oneOf(word string, words []string) *fault {
	return &fault{code: CodeBadWord, detail: "is " + quote(word) + "; it must be one of " + strings.Join(words, ", ")}
}

// badCode turns what package tracker says about a code or name into a fault.
func badCode(err error) *fault {
	var c *tracker.CodeError
	if errors.As(err, &c) {
		return &fault{code: Code(c.Reason), detail: "cannot be read: " + err.Error()}
	}
	return &fault{code: CodeWrongThing, detail: "cannot be read: " + err.Error()}
}

// quote shows a word that was sent, cut where it is too long to help.
func quote(word string) string {
	const longest = 40
	if runes := []rune(word); len(runes) > longest {
		word = string(runes[:longest]) + "…"
	}
	return strconv.Quote(word)
}
