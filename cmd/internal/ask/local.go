package ask

import (
	"context"
	"fmt"
	"log/slog"
	"time"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// Local is what commands may ask for over the socket in the data folder, and nobody else: it carries patient
// identifiers, and staff keys and telephone numbers of a protocol.
type Local interface {
	Printing
	People
	Staffing
	Clients
	// Open puts a patient into the people file, takes a serial and records the case.
	Open(ctx context.Context, r OpenRequest) (*Opened, error)
	// Labels gives what is to be drawn on labels, with the next copy of each, and records nothing.
	Labels(ctx context.Context, r LabelsRequest) (*LabelsAnswer, error)
	// Reserve takes serials for a downtime roll.
	Reserve(ctx context.Context, r ReserveRequest) (*Reserved, error)
	// Bind lists what a label of a downtime roll may stand for or, when that is said, records it.
	Bind(ctx context.Context, r BindRequest) (*BindAnswer, error)
	// Protocol is the one in force for a clinic, its text and who adopted it.
	Protocol(ctx context.Context, r ProtocolRequest) (*ProtocolAnswer, error)
	// Checkpoint gives the latest signed checkpoints of the record, and signs one when that is asked for.
	Checkpoint(ctx context.Context, r CheckpointRequest) (*CheckpointAnswer, error)
	// Refused lists what was refused and why.
	Refused(ctx context.Context, r RefusedRequest) (*RefusedAnswer, error)
}

// Patient is who a case is about. It prints as "[patient]" everywhere but in JSON, which goes over the socket only.
type Patient struct {
	Family         string `json:"family"`
	Given          string `json:"given"`
	BirthDate      string `json:"birth_date"` // "1961-02-14"
	RecordNumber   string `json:"record_number,omitzero"`
	NationalNumber string `json:"national_number,omitzero"`
	Address        string `json:"address,omitzero"`
	Telephone      string `json:"telephone,omitzero"`
}

// String hides the patient.
func (Patient) String() string { return "[patient]" }

// Format hides the patient from every verb.
func (Patient) Format(f fmt.State, _ rune) { _, _ = f.Write([]byte("[patient]")) }

// LogValue hides the patient from logs.
func (Patient) LogValue() slog.Value { return slog.StringValue("[patient]") }

// Kinds of national numbers in [OpenRequest].
const (
	NationalNHS   = "nhs"
	NationalOther = "other" // of another country, so that nothing is known of its digits
)

// OpenRequest is a case to open: either its pots are given, or each lesion says which studies are wanted.
type OpenRequest struct {
	Clinic string `json:"clinic"`
	// Case is empty, and a number is given out. Only what was opened after a backup that was put back is opened again under
	// the number that is on its labels.
	Case    tracker.Name `json:"case,omitzero"`
	By      string       `json:"by"`
	Station string       `json:"station"`
	Patient Patient      `json:"patient"`
	// NationalKind says what the national number is: [NationalNHS], [NationalOther], or "" for what is usual where the clinic
	// is. An NHS number with a wrong check digit is refused.
	NationalKind string               `json:"national_kind,omitzero"`
	Priority     string               `json:"priority,omitzero"`
	Room         string               `json:"room,omitzero"`
	Planned      time.Time            `json:"planned,omitzero"`
	Lesions      []OpenLesion         `json:"lesions"`
	Pots         []tracker.PlannedPot `json:"pots,omitzero"`
	Order        string               `json:"order,omitzero"`
	Clinical     string               `json:"clinical,omitzero"`
	Hazard       []string             `json:"hazard,omitzero"`
	RepeatOf     tracker.Name         `json:"repeat_of,omitzero"`
}

// OpenLesion is a lesion and the studies wanted on it.
type OpenLesion struct {
	Key          string   `json:"key,omitzero"`
	Organ        string   `json:"organ"`
	Side         string   `json:"side,omitzero"`
	Position     string   `json:"position,omitzero"`
	FromNippleMM float64  `json:"from_nipple_mm,omitzero"`
	SizeMM       float64  `json:"size_mm,omitzero"`
	Target       string   `json:"target,omitzero"`
	Imaging      string   `json:"imaging,omitzero"`
	Studies      []string `json:"studies,omitzero"`
}

// Opened is a case that was opened, and what it needs.
type Opened struct {
	Case    tracker.Name         `json:"case"`
	Event   tracker.EventID      `json:"event"`
	Pots    []tracker.PlannedPot `json:"pots"`
	Why     map[string]string    `json:"why,omitzero"` // by pot letter, when the pots were worked out
	Labels  []tracker.Name       `json:"labels"`       // that the room needs: pots, and pieces where each has its own
	Raised  []events.Brief       `json:"raised"`
	Updated bool                 `json:"updated,omitzero"` // the patient was known by record number already
	// Unprintable says why a label of the case could not be printed as it stands, while it can still be put right at the desk.
	Unprintable string `json:"unprintable,omitzero"`
}

// LabelsRequest asks for what goes on the labels of these things. Where exactly one copy of a label is about, a reprint
// replaces it; where several are, Replaces or OneMore must say what it is.
type LabelsRequest struct {
	By       string   `json:"by,omitzero"`
	Station  string   `json:"station,omitzero"`
	Items    []string `json:"items"` // codes or names; with Needed, of cases
	Preview  bool     `json:"preview,omitzero"`
	Replaces string   `json:"replaces,omitzero"` // the copy that the print replaces: for one item alone
	OneMore  bool     `json:"one_more,omitzero"` // the print stands beside the copies that are about
	Roll     bool     `json:"roll,omitzero"`     // blank labels of a downtime roll: of cases that were reserved and never opened
	Needed   bool     `json:"needed,omitzero"`   // in place of the items: all labels that the room needs for these cases, and that are not about
}

// LabelsAnswer is in the order of the request; of what is needed, in the order in which the hand needs it.
type LabelsAnswer struct {
	At     time.Time      `json:"at"` // when this was read: a print of it is recorded with this time, so that a later amendment outdates it
	Zone   string         `json:"zone"`
	Labels []LabelContent `json:"labels"`
}

// LabelContent is what one label says, words ready for people.
type LabelContent struct {
	Name      tracker.Name   `json:"name"`
	Copy      tracker.Copy   `json:"copy"`              // of this print
	Replaces  tracker.Copy   `json:"replaces,omitzero"` // the copy that this print replaces
	Beside    []tracker.Copy `json:"beside,omitzero"`   // the copies that stay about beside it
	StandIn   tracker.Name   `json:"stand_in,omitzero"` // the label of a downtime roll that stands for the thing so far
	Roll      bool           `json:"roll,omitzero"`     // a blank label of a downtime roll: nothing but the code is printed
	Carrier   string         `json:"carrier,omitzero"`  // of a piece: "cassette", "tube" or "slide"; "" when nobody planned its pot
	Patient   Patient        `json:"patient"`           // empty for a bag
	Organ     string         `json:"organ,omitzero"`
	Side      string         `json:"side,omitzero"`
	Position  string         `json:"position,omitzero"`
	Medium    string         `json:"medium,omitzero"`
	Caution   string         `json:"caution,omitzero"`
	Studies   []string       `json:"studies,omitzero"`
	Collector string         `json:"collector,omitzero"`
}

// ReserveRequest asks for a downtime roll.
type ReserveRequest struct {
	Clinic string `json:"clinic"`
	Count  int    `json:"count"`
}

// Reserved is the cases of a downtime roll.
type Reserved struct {
	Cases []tracker.Name `json:"cases"`
}

// BindRequest asks what a label of a downtime roll may stand for or, with To, says it.
type BindRequest struct {
	Label   string `json:"label"` // code or name
	To      string `json:"to,omitzero"`
	By      string `json:"by,omitzero"`
	Station string `json:"station,omitzero"`
}

// BindAnswer is what the label may stand for, the most likely first; or what it stands for now, with the verdict of the event
// that says so.
type BindAnswer struct {
	Zone       string          `json:"zone"`
	Label      tracker.Name    `json:"label"`
	Scans      int             `json:"scans"`          // so far
	First      time.Time       `json:"first,omitzero"` // of them
	Candidates []BindCandidate `json:"candidates"`     // empty when something was said
	More       int             `json:"more,omitzero"`  // how many less likely ones are left out
	To         tracker.Name    `json:"to,omitzero"`    // what it stands for now
	Event      tracker.EventID `json:"event,omitzero"` // that says so
	Raised     []events.Brief  `json:"raised"`
	Cleared    []events.Brief  `json:"cleared"`
	Note       string          `json:"note,omitzero"` // a sentence, when something is odd about it
}

// BindCandidate is a thing that a label may stand for, with what tells it from others.
type BindCandidate struct {
	Name     tracker.Name `json:"name"`
	Patient  Patient      `json:"patient"` // name and birth date alone
	Organ    string       `json:"organ,omitzero"`
	Side     string       `json:"side,omitzero"`
	Position string       `json:"position,omitzero"`
	Medium   string       `json:"medium,omitzero"`
	Room     string       `json:"room,omitzero"`
	When     time.Time    `json:"when"` // the procedure was planned or, if nobody said, the case was opened
}

// ProtocolRequest asks for the protocol of a clinic.
type ProtocolRequest struct {
	Clinic string `json:"clinic"`
}

// ProtocolAnswer is a protocol in force. One that nobody adopted, the default, has no Adopted, By and Seq.
type ProtocolAnswer struct {
	Clinic  string    `json:"clinic,omitzero"`
	Title   string    `json:"title,omitzero"`
	SHA256  string    `json:"sha256"`
	Adopted time.Time `json:"adopted,omitzero"`
	By      string    `json:"by,omitzero"`
	Seq     uint64    `json:"seq,omitzero"`
	Fault   string    `json:"fault,omitzero"` // why this release cannot use it
	Text    string    `json:"text"`
}

// RefusedAnswer lists refused messages, the latest first.
type RefusedAnswer struct {
	Refused []Refused `json:"refused"`
	Dropped uint64    `json:"dropped,omitzero"` // older ones that no longer fit under the cap
}

// Refused is one refused message, as it came.
type Refused struct {
	At    time.Time `json:"at"`
	Code  string    `json:"code"`
	Field string    `json:"field,omitzero"`
	Text  string    `json:"text"`
	Data  []byte    `json:"data"` // base64 in JSON
}
