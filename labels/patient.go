package labels

import (
	"fmt"
	"log/slog"
	"strings"

	"github.com/pottrail/pottrail/tracker"
)

// Patient holds the identifiers that a label carries. It is for drawing only: printed, logged or encoded it is
// "[patient]", whatever the verb, so that no identifier leaks by way of a message.
type Patient struct {
	Family         string       // family name, or the whole name of somebody with one name
	Given          string       // given names, separated by spaces; may be empty
	BirthDate      tracker.Date // "1961-02-14"
	RecordNumber   string       // the clinic's number for the patient
	NationalNumber string       // the national number
}

const redacted = "[patient]"

// Format writes "[patient]" for every verb.
func (Patient) Format(state fmt.State, _ rune) { _, _ = state.Write([]byte(redacted)) }

// String is "[patient]".
func (Patient) String() string { return redacted }

// LogValue is "[patient]", for slog.
func (Patient) LogValue() slog.Value { return slog.StringValue(redacted) }

// MarshalText is "[patient]", so that no encoder writes an identifier.
func (Patient) MarshalText() ([]byte, error) { return []byte(redacted), nil }

func (p Patient) isZero() bool { return p == Patient{} }

// trimmed is the patient without white space around the fields.
func (p Patient) trimmed() Patient {
	p.Family, p.Given = strings.TrimSpace(p.Family), strings.TrimSpace(p.Given)
	p.BirthDate = tracker.Date(strings.TrimSpace(string(p.BirthDate)))
	p.RecordNumber, p.NationalNumber = strings.TrimSpace(p.RecordNumber), strings.TrimSpace(p.NationalNumber)
	return p
}
