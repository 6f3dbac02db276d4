package protocol

// Protocol is one clinic's rules. Maps are keyed by the words that events use. Values made by [Parse] are complete and
// consistent; callers must not change them.
type Protocol struct {
	Title     string               `toml:"title"`
	Zone      string               `toml:"zone"`     // IANA name, "Europe/London"
	Calendar  string               `toml:"calendar"` // key in Calendars, for working days of the clinic
	Calendars map[string]Calendar  `toml:"calendars"`
	Media     map[string]Medium    `toml:"media"`
	Studies   map[string]Study     `toml:"studies"`
	Organs    map[string]Organ     `toml:"organs"`
	Looks     map[string]Look      `toml:"looks"`
	Carriers  map[string]Carrier   `toml:"carriers"`
	Targets   map[string]Target    `toml:"targets"`
	TargetSet string               `toml:"target_set"` // key in Sets: which published set is in force
	Sets      map[string]Set       `toml:"sets"`
	Priority  map[string]Priority  `toml:"priorities"`
	Roles     map[string]Role      `toml:"roles"` // of places
	Places    map[string]Place     `toml:"places"`
	Hours     map[string]Hours     `toml:"hours"`   // opening hours, of places and benches
	Rounds    map[string]Round     `toml:"rounds"`  // who carries things from place to place, and when
	Runs      map[string]Run       `toml:"runs"`    // processor runs
	Benches   map[string]Bench     `toml:"benches"` // where fresh tissue is started
	Staff     map[string][]string  `toml:"staff"`   // role of people → staff keys; an unlisted key has every role
	Fixative  Fixative             `toml:"fixative"`
	Outcomes  map[string]Outcome   `toml:"outcomes"` // of closed cases
	Classes   map[string]Class     `toml:"classes"`  // of results: inadequate, benign, uncertain, suspicious, malignant
	Imaging   Imaging              `toml:"imaging"`
	Concord   Concordance          `toml:"concordance"`
	Meeting   Meeting              `toml:"meeting"`
	Limits    map[string]Limit     `toml:"limits"`   // see the Limit… constants; all of them are present
	Contacts  map[string]string    `toml:"contacts"` // whom to ring, by role: operator, coordinator, clinician, laboratory…
	Text      string               `toml:"-"`        // the file, as read
	SHA256    string               `toml:"-"`        // of Text, hexadecimal
	lines     map[string]int       // dotted key → line
	sources   map[string]string    // dotted key of a table → its source
	cites     map[string]string    // dotted key → what Cite says of it
	classes   map[string]string    // plain category → class
	scores    map[score]string     // → high or mid
	undivided map[string]Undivided // plain category → what it was divided into
}

// Calendar says which days are worked.
type Calendar struct {
	Region string   `toml:"region"` // one of timetable.Regions: "gb-england-wales"; "none" has Mondays to Fridays only
	Closed []string `toml:"closed"` // local closures, "2026-12-24"
	Open   []string `toml:"open"`   // days worked although the region has them off
	Until  string   `toml:"until"`  // last day that closures are known for; "" where the region's own end counts
	// Imported are closures from a calendar file, as `pottrail protocol closures` writes them.
	Imported *Imported `toml:"imported"`
	Source   string    `toml:"source"`
}

// Imported are closures that were read from a calendar file.
type Imported struct {
	Closed []string `toml:"closed"`
	Source string   `toml:"source"`
}

// Medium is what a pot holds. Serves lists the studies it is right for; Loss those it serves with loss; it is wrong
// for every other study.
type Medium struct {
	Name   string   `toml:"name"`
	Fixing bool     `toml:"fixing"`
	Serves []string `toml:"serves"`
	Loss   []string `toml:"loss"`
	// Formaldehyde is its share by weight in hundredths: 10 % formalin has about 3.7. 0 for none. Transport goes by it.
	Formaldehyde float64 `toml:"formaldehyde"`
	Vapour       bool    `toml:"vapour"` // spoils air-dried slides that travel in the same bag
	Dried        bool    `toml:"dried"`  // is spoiled by such vapour
	// Caution is the one word by which a label warns of it, as "toxic"; "" for none. Formaldehyde is never without one: see
	// [Medium.Warning].
	Caution string `toml:"caution"`
	Carrier string `toml:"carrier"` // how pieces lie in it unless a request says; "" for in cassettes
	Source  string `toml:"source"`
}

// Warning is the word of caution that a label of a pot with the medium shows, or "".
func (m Medium) Warning() string {
	if m.Caution == "" && m.Formaldehyde > 0 {
		return "toxic" // formaldehyde in solution is classed so: Regulation (EC) 1272/2008, annex VI, from memory
	}
	return m.Caution
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
	// Needles gives other numbers of pieces for needles of a range of gauges.
	Needles map[string]Needle `toml:"needles"`
	Advice  string            `toml:"advice"` // where to aim next when pieces look poor, in the clinic's words
	Source  string            `toml:"source"`
}

// Needle is how many pieces needles of some gauges call for; a higher gauge is a thinner needle.
type Needle struct {
	FromGauge float64        `toml:"from_gauge"` // the thickest, so the smallest number
	ToGauge   float64        `toml:"to_gauge"`   // the thinnest
	Pieces    map[string]int `toml:"pieces"`     // by target, as in Organ
	Source    string         `toml:"source"`
}

// Look is how a piece looks to the eye.
type Look struct {
	Name string `toml:"name"`
	Poor bool   `toml:"poor"`
	// PoorIn lists organs in which the look is poor although Poor is false: fat in a breast.
	PoorIn []string `toml:"poor_in"`
	// GoodFor lists studies for which a poor look is none: pus for culture.
	GoodFor []string `toml:"good_for"`
	Hint    string   `toml:"hint"` // what it usually means, as a sentence
	Source  string   `toml:"source"`
}

// Fixative says how much of a fixing medium tissue needs.
type Fixative struct {
	Ratio  float64 `toml:"ratio"` // volumes of medium to one of tissue
	Source string  `toml:"source"`
}

// Carrier is how pieces travel in their pot.
type Carrier struct {
	Name    string `toml:"name"`
	Labeled bool   `toml:"labeled"` // each piece has a label of its own
}

// Target is how soon a result of a stage is due.
type Target struct {
	Stage string  `toml:"stage"` // "provisional" or "final"
	Span  Span    `toml:"span"`
	From  string  `toml:"from"`  // start event: "receipt", "accession", "taken"
	Share float64 `toml:"share"` // of cases, 0 to 1
	// Calendar is the key of the calendar that its working days count in; "" for the clinic's own.
	Calendar string `toml:"calendar"`
	// Adds is what single studies add to it, in place of what the study itself adds.
	Adds map[string]Span `toml:"adds"`
	// Excludes lists studies that the target does not speak of: nothing is due for them under it.
	Excludes []string `toml:"excludes"`
	Source   string   `toml:"source"`
}

// Set is a published set of targets: which ones a priority has.
type Set struct {
	Name       string              `toml:"name"`
	Priorities map[string][]string `toml:"priorities"` // priority → keys in Targets, one a stage
	Source     string              `toml:"source"`
}

// Priority is how urgent a request is.
type Priority struct {
	Name   string `toml:"name"`
	Rank   int    `toml:"rank"`   // 0 is the most urgent
	Urgent bool   `toml:"urgent"` // far past its target counts as now
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
	Hours   string `toml:"hours"` // key in Hours: when it takes things in; "" for always
}

// Hours are opening hours by wall clock: lists of "08:30-17:00". A day without a list is closed.
type Hours struct {
	Calendar string   `toml:"calendar"` // closed on its holidays and closures; "" for the clinic's own
	Mon      []string `toml:"mon"`
	Tue      []string `toml:"tue"`
	Wed      []string `toml:"wed"`
	Thu      []string `toml:"thu"`
	Fri      []string `toml:"fri"`
	Sat      []string `toml:"sat"`
	Sun      []string `toml:"sun"`
	// Dates gives other hours for single days, "2026-12-24" = ["08:30-12:00"]; an empty list is closed.
	Dates  map[string][]string `toml:"dates"`
	Source string              `toml:"source"`
}

// Round carries things from one place to another at set times.
type Round struct {
	From     string   `toml:"from"`     // place
	To       string   `toml:"to"`       // place
	Days     []string `toml:"days"`     // "mon" to "sun"
	Departs  []string `toml:"departs"`  // wall clock, "16:30"
	Takes    Span     `toml:"takes"`    // elapsed
	Calendar string   `toml:"calendar"` // does not go on its holidays and closures; "" for the clinic's own
	Daily    bool     `toml:"daily"`    // goes on holidays too
	Source   string   `toml:"source"`
}

// Bench is where fresh tissue for some studies is started, in its own days and hours.
type Bench struct {
	Name    string   `toml:"name"`
	Place   string   `toml:"place"`
	Hours   string   `toml:"hours"` // key in Hours; "" for always
	Studies []string `toml:"studies"`
	Source  string   `toml:"source"`
}

// Run is a processor run at a laboratory.
type Run struct {
	Place  string   `toml:"place"`
	Days   []string `toml:"days"`   // "mon" to "sun"
	Cutoff string   `toml:"cutoff"` // wall clock, "16:00"
	Load   string   `toml:"load"`
	Leaves string   `toml:"leaves"` // when it leaves formalin, wall clock; earlier than Load: the next day
	Nights int      `toml:"nights"` // how many midnights lie between load and leaves; 0: as Leaves says
	// Calendar is the key of the calendar on whose holidays and closures it does not run; "" for the clinic's own.
	Calendar string `toml:"calendar"`
	Daily    bool   `toml:"daily"` // runs on holidays too
	Source   string `toml:"source"`
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

// Concordance says how severe it is when imaging of a group meets a class of results and nobody has put them side by side:
// group → class → "now", "today" or "watch". What is not named goes together.
type Concordance struct {
	High          map[string]string `toml:"high"`
	Mid           map[string]string `toml:"mid"`
	CalciumMissed string            `toml:"calcium_missed"` // the target was calcification and none was seen
	Source        string            `toml:"source"`
}

// Meeting names results that want a meeting of those who treat, image and report.
type Meeting struct {
	Categories []string `toml:"categories"`
	// Undivided are categories that are accepted and have been divided since: the laboratory is asked which it is.
	Undivided map[string]Undivided `toml:"undivided"`
	Source    string               `toml:"source"`
}

// Undivided is a category that now is one of several.
type Undivided struct {
	Category string   `toml:"category"`
	Divided  []string `toml:"divided"`
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
	LimitNotDone       = "case-not-done"               // after the planned time
	LimitCollect       = "collection-late"             // after the round that should have taken it
	LimitCollectNone   = "collection-late-no-rounds"   // after sealing, where the protocol has no rounds
	LimitCollectWorse  = "collection-late-coordinator" // from then on the coordinator too
	LimitForecastNow   = "forecast-now"                // before the last departure that saves a window
	LimitFreshNow      = "fresh-now"                   // likewise for fresh tissue
	LimitCritical      = "result-critical-coordinator" // after the day of issue, from then on the coordinator too
	LimitPlan          = "plan-not-done"
	LimitUnfinished    = "case-unfinished"
)
