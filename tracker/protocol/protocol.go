package protocol

// Protocol is one clinic's rules. Maps are keyed by the words that events use. Values made by [Parse] are complete and
// consistent; callers must not change them.
type Protocol struct {
	Title     string              `toml:"title"`
	Zone      string              `toml:"zone"`     // IANA name, "Europe/London"
	Calendar  string              `toml:"calendar"` // key in Calendars, for working days of the clinic
	Calendars map[string]Calendar `toml:"calendars"`
	Media     map[string]Medium   `toml:"media"`
	Studies   map[string]Study    `toml:"studies"`
	Organs    map[string]Organ    `toml:"organs"`
	Looks     map[string]Look     `toml:"looks"`
	Carriers  map[string]Carrier  `toml:"carriers"`
	Targets   map[string]Target   `toml:"targets"`
	Priority  map[string]Priority `toml:"priorities"`
	Roles     map[string]Role     `toml:"roles"` // of places
	Places    map[string]Place    `toml:"places"`
	Runs      map[string]Run      `toml:"runs"`     // processor runs
	Outcomes  map[string]Outcome  `toml:"outcomes"` // of closed cases
	Classes   map[string]Class    `toml:"classes"`  // of results: inadequate, benign, uncertain, suspicious, malignant
	Imaging   Imaging             `toml:"imaging"`
	Limits    map[string]Limit    `toml:"limits"`   // see the Limit… constants; all of them are present
	Contacts  map[string]string   `toml:"contacts"` // whom to ring, by role: operator, coordinator, clinician, laboratory…
	Text      string              `toml:"-"`        // the file, as read
	SHA256    string              `toml:"-"`        // of Text, hexadecimal
	lines     map[string]int      // dotted key → line
	sources   map[string]string   // dotted key of a table → its source
	classes   map[string]string   // plain category → class
	scores    map[score]string    // → high or mid
}

// Calendar says which days are worked.
type Calendar struct {
	Region string   `toml:"region"` // "gb-england-wales" is known; "none" has Mondays to Fridays only
	Closed []string `toml:"closed"` // local closures, "2026-12-24"
	Open   []string `toml:"open"`   // days worked although the region has them off
	Source string   `toml:"source"`
}

// Medium is what a pot holds. Serves lists the studies it is right for; Loss those it serves with loss; it is wrong
// for every other study.
type Medium struct {
	Name   string   `toml:"name"`
	Fixing bool     `toml:"fixing"`
	Serves []string `toml:"serves"`
	Loss   []string `toml:"loss"`
	Source string   `toml:"source"`
}

// Study is a test that the laboratory is asked for.
type Study struct {
	Name       string  `toml:"name"`
	ToFixation *Limit  `toml:"to_fixation"` // longest time from the patient to a fixing medium; nil: needs no fixation
	OnlyToday  bool    `toml:"only_today"`  // a missed ToFixation is never more than today
	Window     *Window `toml:"window"`      // time in fixative
	Fresh      *Fresh  `toml:"fresh"`       // longest time to the start at the bench
	Default    bool    `toml:"default"`     // a final result that names no studies answers it (histology, cytology)
	Target     *Limit  `toml:"target"`      // its own target, in place of the priority's
	Adds       *Limit  `toml:"adds"`        // what it adds to the priority's target
	AfterFinal *Limit  `toml:"after_final"` // its addendum is due this long after the final
}

// Limit is one span with where its number comes from.
type Limit struct {
	Span   Span   `toml:"span"`
	Source string `toml:"source"`
}

// Window is a closed span of time in fixative; a zero Min or Max sets none.
type Window struct {
	Min    Span   `toml:"min"`
	Max    Span   `toml:"max"`
	Source string `toml:"source"`
}

// Fresh is the limit of unfixed tissue to the bench, by medium where that matters.
type Fresh struct {
	Span   Span            `toml:"span"`
	Media  map[string]Span `toml:"media"`
	MinC   float64         `toml:"min_c"`
	MaxC   float64         `toml:"max_c"`
	Warm   Span            `toml:"warm"` // how long it may be outside MinC to MaxC
	Source string          `toml:"source"`
}

// Organ is where a lesion can be.
type Organ struct {
	Name   string         `toml:"name"`
	Sided  bool           `toml:"sided"`
	Pieces map[string]int `toml:"pieces"` // by target, "" written "any"
	Counts string         `toml:"counts"` // "cores" or "passes"
	Source string         `toml:"source"`
}

// Look is how a piece looks to the eye.
type Look struct {
	Name string `toml:"name"`
	Poor bool   `toml:"poor"`
}

// Carrier is how pieces travel in their pot.
type Carrier struct {
	Name    string `toml:"name"`
	Labeled bool   `toml:"labeled"` // each piece has a label of its own
}

// Target is how soon a result of a stage is due.
type Target struct {
	Stage  string  `toml:"stage"` // "provisional" or "final"
	Span   Span    `toml:"span"`
	From   string  `toml:"from"`  // start event: "receipt", "accession", "taken"
	Share  float64 `toml:"share"` // of cases, 0 to 1
	Source string  `toml:"source"`
}

// Priority is how urgent a request is.
type Priority struct {
	Name    string   `toml:"name"`
	Rank    int      `toml:"rank"`    // 0 is the most urgent
	Targets []string `toml:"targets"` // keys in Targets
	Urgent  bool     `toml:"urgent"`  // far past its target counts as now
}

// Role is what a place is for: room, hatch, fridge, vehicle, laboratory.
type Role struct {
	Name   string `toml:"name"`
	Hold   Span   `toml:"hold"` // longest that something may wait there
	Source string `toml:"source"`
}

// Place is somewhere a pot can be.
type Place struct {
	Name    string `toml:"name"`
	Role    string `toml:"role"`
	Contact string `toml:"contact"`
}

// Run is a processor run at a laboratory.
type Run struct {
	Place  string   `toml:"place"`
	Days   []string `toml:"days"`   // "mon" to "sun"
	Cutoff string   `toml:"cutoff"` // wall clock, "16:00"
	Load   string   `toml:"load"`
	Leaves string   `toml:"leaves"` // when it leaves formalin, wall clock; earlier than Load: the next day
	Source string   `toml:"source"`
}

// Outcome is how a case can be closed.
type Outcome struct {
	Name string `toml:"name"`
}

// Class is a group of result categories.
type Class struct {
	Name       string   `toml:"name"`
	Categories []string `toml:"categories"` // "B5"; a letter after the figure is allowed in results
	Source     string   `toml:"source"`
}

// Imaging says what imaging scores go with which results.
type Imaging struct {
	High   []string `toml:"high"` // with benign: discordant now
	Mid    []string `toml:"mid"`  // with benign: watch until concordance is recorded
	Source string   `toml:"source"`
}

// Keys of Protocol.Limits.
const (
	LimitFixativeWatch = "fixative-missing-watch" // a piece out and not potted
	LimitFixativeNow   = "fixative-missing-now"
	LimitLoadedNow     = "fixation-now" // after loading, can it come out?
	LimitCheckBefore   = "check-before-label"
	LimitLabelLeft     = "label-left-over"
	LimitRoomOpen      = "room-open"
	LimitClocks        = "station-clocks" // allowed between two stations
	LimitPhone         = "phone-unsent"   // a phone may still be unsent: watch until then
	LimitNotAtLab      = "not-at-lab"
	LimitNoReceipt     = "result-without-receipt" // from taken, when there is no receipt
	LimitUnread        = "result-unread"
	LimitUnreadSerious = "result-unread-serious" // malignant or suspicious
	LimitTellWatch     = "patient-told-watch"
	LimitTellToday     = "patient-told-today"
	LimitLostClinician = "pot-lost-clinician"
	LimitAhead         = "clock-ahead" // at later than the recorder's clock
	LimitSkew          = "clock-skew"
	LimitUnknown       = "unknown-item"
)
