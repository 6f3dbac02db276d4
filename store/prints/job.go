package prints

import (
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// State is what is known of a job.
type State string

// The states.
const (
	Prepared   State = "prepared"    // drawn, and not yet recorded as printed: it never leaves in this state
	Queued     State = "queued"      // waits for its printer; Problem says why it did not go at the last try
	Sending    State = "sending"     // its bytes may be leaving
	Sent       State = "sent"        // the printer took all of it
	Unknown    State = "unknown"     // a label may or may not have come out; a person or a scan settles it
	Confirmed  State = "confirmed"   // it was scanned, or somebody said that it came out
	NotPrinted State = "not-printed" // it never came out: refused by the printer, called off, or somebody said so
)

// Done reports whether nothing more is to be done about a job in this state. A job that is done can still become confirmed,
// by a scan of its label.
func (s State) Done() bool { return s == Sent || s == Confirmed || s == NotPrinted }

// Job is one label on its way to a printer. It holds no identifier of a patient.
type Job struct {
	ID       uint64          `json:"job"`
	Token    string          `json:"-"` // random, for the printer's own list
	Printer  string          `json:"printer"`
	Name     tracker.Name    `json:"name,omitzero"`     // empty for a label of no thing: calibration, place, badge
	Title    string          `json:"title,omitzero"`    // what it is then: "calibration", "P:hatch"
	Copy     tracker.Copy    `json:"copy,omitzero"`     // of the thing's label
	Replaces tracker.Copy    `json:"replaces,omitzero"` // the copy that it replaces
	Layout   string          `json:"layout"`
	Event    tracker.EventID `json:"event,omitzero"` // of the label.printed that accounts for it
	By       string          `json:"by"`
	Station  string          `json:"station"`
	State    State           `json:"state"`

	// What the printer is told beside the bytes: they were made for it, whatever is set up later.
	MediaType string  `json:"media_type,omitzero"` // of the bytes, "image/pwg-raster"
	Extension string  `json:"extension,omitzero"`  // of a file that holds them, "pwg"
	WidthMM   float64 `json:"width_mm,omitzero"`   // of the stock
	HeightMM  float64 `json:"height_mm,omitzero"`
	// Setup is how the printer was set up when the bytes were made, in the caller's words: after a change they are rubbish to it.
	Setup string `json:"setup,omitzero"`

	Problem  string    `json:"problem,omitzero"` // a sentence: what went wrong last
	Attempts int       `json:"attempts,omitzero"`
	Made     time.Time `json:"made"`
	Changed  time.Time `json:"changed"`       // when the state was entered
	Next     time.Time `json:"next,omitzero"` // no try before this instant

	// Until is when nobody wants the label any more: a job that still waits then is not printed. Zero: it waits for ever. A
	// printer that is switched on in the morning must not print what was wanted yesterday.
	Until time.Time `json:"until,omitzero"`
	// SettledBy and SettledAt are the staff key and the station of whoever said what became of the label, or called it off.
	SettledBy string `json:"settled_by,omitzero"`
	SettledAt string `json:"settled_at,omitzero"`
	// Spoiled is the id that the label.spoiled of a label that never came out has, or is to have: made with the state and
	// kept, so that recording it twice records it once.
	Spoiled tracker.EventID `json:"spoiled,omitzero"`
}
