package examine

import (
	"errors"
	"io/fs"
	"time"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/people"
	"github.com/pottrail/pottrail/store/prints"
	"github.com/pottrail/pottrail/store/staff"
)

// The files of a data folder that are looked at.
const (
	FileLedger = "ledger"
	FilePeople = "people"
	FilePrints = "prints"
	FileStaff  = "staff"
	// FileCheckpoints is the file of all checkpoints beside the ledger.
	FileCheckpoints = "checkpoints"
)

// Job says what to look at. Paths that are empty are left out.
type Job struct {
	Ledger string `json:"ledger,omitzero"`
	People string `json:"people,omitzero"` // with its key
	Key    string `json:"key,omitzero"`    // path of the people file's key
	// KeyGiven says that something else, such as systemd, puts the key there.
	KeyGiven bool   `json:"key_given,omitzero"`
	Prints   string `json:"prints,omitzero"` // opened by a key that hangs on the people file's
	Staff    string `json:"staff,omitzero"`  // likewise
	// Checkpoints are those known beside the ledger, as lines of checkpoints.log have them; Unread is how many lines of it
	// cannot be read. Keys are the node's public ones, Paper is a checkpoint as it is printed.
	Checkpoints []Checkpoint `json:"checkpoints,omitempty"`
	Unread      int          `json:"unread,omitzero"`
	Keys        []string     `json:"keys,omitempty"`
	Paper       string       `json:"paper,omitzero"`
	Quick       bool         `json:"quick,omitzero"` // the end of the ledger only; see [store.ExamineOptions]
	// BudgetMS is about how long a quick look may take, in milliseconds; zero means a second.
	BudgetMS int64 `json:"budget_ms,omitzero"`
	// NoHashes leaves out what finds most; it is for showing that tests notice.
	NoHashes bool `json:"no_hashes,omitzero"`
}

// Checkpoint is a signed checkpoint that is known beside the ledger.
type Checkpoint struct {
	Where string    `json:"where"`
	Made  time.Time `json:"made"`
	Note  string    `json:"note"`
}

// Finding is one thing that is wrong, in which file.
type Finding struct {
	File string `json:"file"`
	store.Finding
}

// Progress is how far it is: so much of a stage is done.
type Progress struct {
	File  string `json:"file"`
	Stage string `json:"stage"` // "pages", "entries", "cases", "records", "jobs"
	Done  uint64 `json:"done"`
	Total uint64 `json:"total"`
}

// Report is what was looked at and found.
type Report struct {
	Ledger   *store.Examined `json:"ledger,omitzero"`   // nil when it was not looked at, or could not be
	Looked   []string        `json:"looked"`            // files that were looked at to the end
	Findings []Finding       `json:"findings"`          // the first [MostFindings]
	Total    uint64          `json:"total"`             // of the findings
	Crashed  bool            `json:"crashed,omitzero"`  // reading a file ended the process that read it
	Troubles []Trouble       `json:"troubles,omitzero"` // files that could not be looked at
}

// MostFindings is how many findings a report keeps; the rest is counted.
const MostFindings = 500

// Well says that everything was looked at and nothing is wrong.
func (r *Report) Well() bool { return r.Total == 0 && len(r.Troubles) == 0 }

// Safe says that the ledger can be read without fear for the process: its pages hang together, and nothing crashed.
func (r *Report) Safe() bool { return !r.Crashed && r.Ledger != nil && r.Ledger.Sound }

// Trouble is a file that could not be looked at, and why.
type Trouble struct {
	File string `json:"file"`
	Code string `json:"code"` // "in-use", "foreign", "newer", "missing", "key", "system"
	Text string `json:"text"`
}

// Error is the sentence.
func (t Trouble) Error() string { return t.Text }

// Unwrap gives the sentinel of package store that fits, so that errors.Is works across processes.
func (t Trouble) Unwrap() error {
	switch t.Code {
	case codeInUse:
		return store.ErrInUse
	case codeForeign:
		return store.ErrForeign
	case codeNewer:
		return store.ErrNewer
	case codeMissing:
		return fs.ErrNotExist
	}
	return nil
}

const (
	codeInUse   = "in-use"
	codeForeign = "foreign"
	codeNewer   = "newer"
	codeMissing = "missing"
	codeKey     = "key"
	codeSystem  = "system"
)

func troubleOf(file string, err error) Trouble {
	t := Trouble{File: file, Code: codeSystem, Text: err.Error()}
	for _, row := range []struct {
		code string
		errs []error
	}{
		{codeInUse, []error{store.ErrInUse, people.ErrInUse, prints.ErrInUse, staff.ErrInUse}},
		{codeForeign, []error{store.ErrForeign, people.ErrForeign, prints.ErrForeign, staff.ErrForeign}},
		{codeNewer, []error{store.ErrNewer, people.ErrNewer, prints.ErrNewer, staff.ErrNewer}},
		{codeKey, []error{people.ErrKeyMissing, people.ErrKeyMode, people.ErrKeyWrong, prints.ErrKey}},
		{codeMissing, []error{fs.ErrNotExist}},
	} {
		for _, known := range row.errs {
			if errors.Is(err, known) {
				t.Code = row.code
				return t
			}
		}
	}
	return t
}

// line is one line from a child; one of its members is set.
type line struct {
	Progress *Progress       `json:"progress,omitzero"`
	Finding  *Finding        `json:"finding,omitzero"`
	Ledger   *store.Examined `json:"ledger,omitzero"`
	Looked   string          `json:"looked,omitzero"`
	Trouble  *Trouble        `json:"trouble,omitzero"`
	End      bool            `json:"end,omitzero"`
}
