package ask

import (
	"context"
	"time"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// Printing is what commands on this machine may ask about label printers. Only over the socket: a label shows a patient.
type Printing interface {
	// Print draws labels, records each as printed and gives them to their printers. Nothing is printed by halves: a label
	// that cannot be drawn ends it with nothing recorded.
	Print(ctx context.Context, r PrintRequest) (*PrintAnswer, error)
	// Printers says how each printer is.
	Printers(ctx context.Context, r PrintersRequest) (*PrintersAnswer, error)
	// TestPrinter gives a printer its calibration label.
	TestPrinter(ctx context.Context, r TestPrinterRequest) (*JobsAnswer, error)
	// Jobs lists labels on their way to printers, and can wait for their outcome.
	Jobs(ctx context.Context, r JobsRequest) (*JobsAnswer, error)
	// Settle takes a person's word on whether a label came out.
	Settle(ctx context.Context, r SettleRequest) (*JobsAnswer, error)
	// CallOff takes a label that waits away from its printer.
	CallOff(ctx context.Context, r CallOffRequest) (*JobsAnswer, error)
}

// PrintRequest asks for labels out of printers.
type PrintRequest struct {
	LabelsRequest
	Printer   string `json:"printer,omitzero"` // "" for the station's own
	By        string `json:"by"`
	Station   string `json:"station"`
	Layout    string `json:"layout,omitzero"`    // in place of the usual one
	Collector string `json:"collector,omitzero"` // to be printed, in place of the one that is known
}

// PrintAnswer is the labels that were recorded as printed, in the order of the request, and what that raised.
type PrintAnswer struct {
	Jobs   []PrintJob     `json:"jobs"`
	Raised []events.Brief `json:"raised"`
}

// PrintJob is one label on its way to a printer. It holds no identifier of a patient.
type PrintJob struct {
	Job      uint64         `json:"job"`
	Printer  string         `json:"printer"`
	Name     tracker.Name   `json:"name,omitzero"`  // empty for a label of no thing
	Title    string         `json:"title,omitzero"` // what it is then: "calibration"
	Copy     tracker.Copy   `json:"copy,omitzero"`
	Replaces tracker.Copy   `json:"replaces,omitzero"` // the copy that it replaces
	Beside   []tracker.Copy `json:"beside,omitzero"`   // told as it is printed: the copies that stay about beside it
	StandIn  tracker.Name   `json:"stand_in,omitzero"` // told as it is printed: the label of a downtime roll that stands for the thing so far
	Code     string         `json:"code,omitzero"`
	Layout   string         `json:"layout"`
	By       string         `json:"by"`
	Station  string         `json:"station"`
	State    string         `json:"state"` // "queued", "sending", "sent", "unknown", "confirmed", "not-printed"
	Problem  string         `json:"problem,omitzero"`
	Attempts int            `json:"attempts,omitzero"`
	Made     time.Time      `json:"made"`
	Changed  time.Time      `json:"changed"`
	Next     time.Time      `json:"next,omitzero"` // the next try, when it waits
}

// States of a [PrintJob].
const (
	PrintQueued     = "queued"
	PrintSending    = "sending"
	PrintSent       = "sent"
	PrintUnknown    = "unknown"
	PrintConfirmed  = "confirmed"
	PrintNotPrinted = "not-printed"
)

// Settled reports whether nothing more will become of the job soon without a person: it went, it will not, nobody knows, or
// its printer does not take it now.
func (j PrintJob) Settled() bool {
	return j.State != PrintSending && (j.State != PrintQueued || j.Problem != "")
}

// What is what the label is for, as people say it.
func (j PrintJob) What() string {
	if j.Name == "" {
		return "the " + j.Title + " label"
	}
	return j.Name.Printed() + " copy " + j.Copy.String()
}

// PrintersRequest asks for printers; with no name for all.
type PrintersRequest struct {
	Printer string `json:"printer,omitzero"`
}

// PrintersAnswer is in the order of the names.
type PrintersAnswer struct {
	Printers []PrinterAnswer `json:"printers"`
}

// PrinterAnswer is one printer, as it is set up and as it is.
type PrinterAnswer struct {
	Name      string   `json:"name"`
	Way       string   `json:"way"`
	To        string   `json:"to"`
	Language  string   `json:"language"`
	DotsPerMM int      `json:"dots_per_mm"`
	Stock     []string `json:"stock"`
	Stations  []string `json:"stations"`
	OK        bool     `json:"ok"`               // it answers, nothing waits for want of it, and nothing asks
	State     string   `json:"state"`            // a sentence
	Waiting   int      `json:"waiting"`          // labels
	Asks      int      `json:"asks"`             // labels of which it is not known whether they came out
	Trouble   string   `json:"trouble,omitzero"` // what went wrong last, of what waits
}

// TestPrinterRequest asks for a calibration label.
type TestPrinterRequest struct {
	Printer string `json:"printer"`
	By      string `json:"by"`
	Station string `json:"station"`
}

// JobsRequest asks for jobs: those given by number or, with none given, those that wait or ask, or all.
type JobsRequest struct {
	Printer string   `json:"printer,omitzero"`
	Jobs    []uint64 `json:"jobs,omitzero"`
	All     bool     `json:"all,omitzero"`  // those that are done, too
	Wait    bool     `json:"wait,omitzero"` // answer when each has an outcome, or after ten seconds
}

// JobsAnswer is in the order in which the jobs were made.
type JobsAnswer struct {
	Jobs []PrintJob `json:"jobs"`
}

// SettleRequest says whether a label came out.
type SettleRequest struct {
	Job     uint64 `json:"job"`
	CameOut bool   `json:"came_out"`
	By      string `json:"by"`
	Station string `json:"station"`
}

// CallOffRequest takes a waiting label back.
type CallOffRequest struct {
	Job     uint64 `json:"job"`
	By      string `json:"by"`
	Station string `json:"station"`
}
