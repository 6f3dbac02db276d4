package ask

import (
	"context"
	"fmt"
	"log/slog"
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// People is what may be asked about patients, over the socket in the data folder and nowhere else. Every answer that shows
// one is noted before it is given.
type People interface {
	// FindPeople finds patients by family name and birth date, or by a number, with their cases.
	FindPeople(ctx context.Context, r FindRequest) (*FindAnswer, error)
	// Forget destroys the record of one patient, or says what that would mean.
	Forget(ctx context.Context, r ForgetRequest) (*ForgetAnswer, error)
	// Reads lists who was shown what of whom.
	Reads(ctx context.Context, r ReadsRequest) (*ReadsAnswer, error)
	// RotateKey changes the master key of the people file.
	RotateKey(ctx context.Context, r RotateKeyRequest) (*RotateKeyAnswer, error)
}

// FindRequest says whom to find, and who asks why. It prints as "[patient]" everywhere but in JSON.
type FindRequest struct {
	Family    string `json:"family,omitzero"`     // with BirthDate
	BirthDate string `json:"birth_date,omitzero"` // "1961-02-14"
	Number    string `json:"number,omitzero"`     // in their place: the record number or the national number
	By        string `json:"by"`
	Station   string `json:"station"`
	Why       string `json:"why"`
}

// String hides whom is looked for.
func (FindRequest) String() string { return "[patient]" }

// Format hides whom is looked for from every verb.
func (FindRequest) Format(f fmt.State, _ rune) { _, _ = f.Write([]byte("[patient]")) }

// LogValue hides whom is looked for from logs.
func (FindRequest) LogValue() slog.Value { return slog.StringValue("[patient]") }

// FindAnswer is everybody who fits.
type FindAnswer struct {
	At    time.Time `json:"at"`
	Found []Found   `json:"found"`
}

// Found is a patient with the cases that are recorded here.
type Found struct {
	Ref     string      `json:"ref"`
	Patient Patient     `json:"patient"`
	Cases   []FoundCase `json:"cases"` // by name
}

// FoundCase is where a case of a patient stands.
type FoundCase struct {
	Name   tracker.Name  `json:"name"`
	Zone   string        `json:"zone"` // the clinic's
	Step   tracker.Step  `json:"step"`
	Closed bool          `json:"closed,omitzero"`
	Last   time.Time     `json:"last,omitzero"` // when something last happened
	Worst  *tracker.Flag `json:"worst,omitzero"`
}

// ForgetRequest says whose record is to be destroyed: by a case, a ref, or a number.
type ForgetRequest struct {
	Case     string `json:"case,omitzero"` // code or name of one of the patient's cases
	Ref      string `json:"ref,omitzero"`
	Number   string `json:"number,omitzero"` // the record number or the national number
	By       string `json:"by"`
	Station  string `json:"station"`
	Why      string `json:"why"`
	EvenOpen bool   `json:"even_open,omitzero"` // although cases of the patient are open
	Look     bool   `json:"look,omitzero"`      // say what it would mean, and do nothing
}

// String hides whom it is about.
func (ForgetRequest) String() string { return "[patient]" }

// Format hides whom it is about from every verb.
func (ForgetRequest) Format(f fmt.State, _ rune) { _, _ = f.Write([]byte("[patient]")) }

// LogValue hides whom it is about from logs.
func (ForgetRequest) LogValue() slog.Value { return slog.StringValue("[patient]") }

// ForgetAnswer is what was destroyed, or would be.
type ForgetAnswer struct {
	Ref       string      `json:"ref"`
	Patient   Patient     `json:"patient,omitzero"` // when only looked at: whom to ask about
	Cases     []FoundCase `json:"cases"`
	Open      int         `json:"open"` // how many of the cases are open
	Done      bool        `json:"done"`
	At        time.Time   `json:"at"`
	CalledOff int         `json:"called_off,omitzero"` // labels that waited for a printer
	KeyKept   bool        `json:"key_kept,omitzero"`   // the master key is given to the program and was not changed
	Backups   string      `json:"backups"`             // a sentence: how long backups made before can still show the patient
}

// ReadsRequest asks who was shown what.
type ReadsRequest struct {
	Case  string `json:"case,omitzero"` // only of the patient of this case: a code or name
	Ref   string `json:"ref,omitzero"`  // only of this patient
	Limit int    `json:"limit,omitzero"`
}

// ReadsAnswer is the notes, the latest first.
type ReadsAnswer struct {
	Reads   []Read `json:"reads"`
	Dropped uint64 `json:"dropped,omitzero"` // older ones that are no longer kept
}

// Read is one note of who was shown what of whom.
type Read struct {
	At      time.Time `json:"at"`
	By      string    `json:"by"`
	Station string    `json:"station,omitzero"`
	Ref     string    `json:"ref,omitzero"` // of the patient; "" when nobody was found, or no one patient is meant
	How     string    `json:"how"`          // "find", "labels", "bind", "refused", "forget"
	Why     string    `json:"why,omitzero"`
}

// RotateKeyRequest asks for another master key.
type RotateKeyRequest struct {
	To string `json:"to,omitzero"` // absolute path of the key file to write; "" for the one in use
	By string `json:"by"`
}

// RotateKeyAnswer is where the new key is.
type RotateKeyAnswer struct {
	KeyFile string `json:"key_file"`
	People  int    `json:"people"`         // whose keys were sealed anew
	Moved   bool   `json:"moved,omitzero"` // it is another file than before: name it from the next start on
}

// RefusedRequest says who looks at refused messages, which may name patients.
type RefusedRequest struct {
	By      string `json:"by"`
	Station string `json:"station"`
}
