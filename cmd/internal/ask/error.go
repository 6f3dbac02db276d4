package ask

import (
	"errors"
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// Kind groups errors by what the asker can do about them.
type Kind int

// The kinds of errors.
const (
	Internal    Kind = iota // a fault of ours
	Invalid                 // the request is wrong: mend it
	NotFound                // no such thing
	Conflict                // it stands against what is recorded
	Unavailable             // not now: ask again
	NoSpace                 // nothing was recorded: send again when there is space
	Unknown                 // nobody is signed in: sign in, then ask again
	Forbidden               // a right is missing: ask whom the text names
	TooMany                 // too often: wait
)

// Error is a refusal to answer, with a word for machines and a sentence for people.
type Error struct {
	Kind  Kind   `json:"-"`
	Code  string `json:"code"`
	Field string `json:"field,omitzero"`
	Text  string `json:"text"`
	// Wait is how long to wait before asking again, of an error of kind [TooMany]; 0 when time alone does not help.
	Wait time.Duration `json:"-"`
}

// Error is the sentence.
func (e *Error) Error() string { return e.Text }

// KindOf is the kind of an error, [Internal] when it is not one of ours.
func KindOf(err error) Kind {
	var e *Error
	if errors.As(err, &e) {
		return e.Kind
	}
	return Internal
}

// As gives the shape of any error; the text of one that is not ours stays inside, since it may name a path or a person.
func As(err error) *Error {
	var e *Error
	if errors.As(err, &e) {
		return e
	}
	return &Error{Kind: Internal, Code: "internal", Text: "pottrail failed at this; its log says more"}
}

// CodeFault turns what is wrong with a code or name into an answer that names the field.
func CodeFault(field string, err error) *Error {
	out := &Error{Kind: Invalid, Code: "bad-name", Field: field, Text: field + ": " + err.Error()}
	var c *tracker.CodeError
	if errors.As(err, &c) {
		out.Code = string(c.Reason)
	}
	return out
}
