package people

import (
	"fmt"
	"log/slog"
)

// hidden is all that a person prints as.
const hidden = "[patient]"

// Person is who a patient is. It prints, logs and marshals as "[patient]"; read the fields where they are needed: on a
// label, on a page for its reader.
type Person struct {
	Family         string
	Given          string
	BirthDate      string // "1961-02-14"
	RecordNumber   string // the clinic's own
	NationalNumber string
	Address        string
	Telephone      string
}

// String hides the person.
func (Person) String() string { return hidden }

// GoString hides the person from %#v.
func (Person) GoString() string { return hidden }

// Format hides the person from every verb.
func (Person) Format(f fmt.State, _ rune) { _, _ = f.Write([]byte(hidden)) }

// LogValue hides the person from logs.
func (Person) LogValue() slog.Value { return slog.StringValue(hidden) }

// MarshalText hides the person from JSON and other encoders.
func (Person) MarshalText() ([]byte, error) { return []byte(hidden), nil }

// record is a person as it is sealed; a field that is empty is left out.
type record struct {
	Family         string `json:"family,omitzero"`
	Given          string `json:"given,omitzero"`
	BirthDate      string `json:"birth_date,omitzero"`
	RecordNumber   string `json:"record_number,omitzero"`
	NationalNumber string `json:"national_number,omitzero"`
	Address        string `json:"address,omitzero"`
	Telephone      string `json:"telephone,omitzero"`
}
