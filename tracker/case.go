package tracker

import (
	"iter"
	"time"
)

// Case is what happened to one case, folded from its events. Lists are in a fixed order: things by name, happenings in
// the order of their events. It is plain data; callers must not change it.
type Case struct {
	Name           Name
	Events         int  // how many stand
	Known          bool // opened, printed, reserved or bound: not a stranger's
	Openings       []Mark
	Request        Request
	PatientChanged time.Time // patient last amended after a label was printed; zero when not
	Pots           []*Pot    // planned or used
	Pieces         []*Piece
	Labels         []*Label
	StandIns       []StandIn  // labels of other names that were bound to things of this case
	Checks         []Mark     // identity confirmed with the patient
	SideChecks     []Mark     // those that confirmed the side
	Adequacies     []Adequacy // on-site microscopy
	Versions       []Version  // of what labels show, the request as opened first; nil while it never changed
	LesionsAmended time.Time  // lesions last given anew by an amendment; zero when never
	Ended          *Ended
	Cleared        []Mark // the room
	Results        []*Result
	Talks          []Talk
	Tellings       []Telling
	Repeats        []Name   // other cases that repeat this one
	Closing        *Closing // the last, unless reopened since
	Answers        []Answer
	Chases         []Inquiry
	Doubts         []Doubt
	Strangers      []Stranger // what was scanned of a case that nobody made known
	steps          []handling // by hand
	LastMark       Mark       // of the last event that stands
}

// Mark is something that happened: when, by whom, at which station, in which room if that was said.
type Mark struct {
	ID      EventID
	When    time.Time
	By      string
	Station string
	Room    string
}

// Request is what was asked for, amendments worked in.
type Request struct {
	Patient  string
	Priority string
	Room     string
	Planned  time.Time
	Lesions  []Lesion
	Order    string
	Clinical string
	Hazard   []string
	RepeatOf Name
}

// Version is what labels show of a request, from Mark on: until the next version.
type Version struct {
	Mark
	Patient string
	Lesions []Lesion
	Pots    []PlannedPot
}

// Adequacy is one judgement of on-site microscopy.
type Adequacy struct {
	Mark
	Lesion   string
	Adequate bool
	Piece    Name // "" when it is about the lesion's pieces together
}

// Lesion finds a lesion of the request, or nil.
func (r *Request) Lesion(key string) *Lesion {
	for i := range r.Lesions {
		if r.Lesions[i].Key == key {
			return &r.Lesions[i]
		}
	}
	return nil
}

// Pot is what happened to one pot.
type Pot struct {
	Name      Name
	Plan      *PlannedPot          // nil when nobody planned it
	PlannedAt time.Time            // with the medium of the plan
	Studies   []string             // asked of it: planned, then added
	Asked     map[string]time.Time // when each study was asked for
	Fillings  []Filling
	Seals     []Seal
	Custody   []Custody // in order; the last is where it is
	Bag       Name      // the bag it is in, or ""
	Lost      *Mark     // not found since
	Found     time.Time // last found again; zero when it never was
	Discarded *Mark
	Accession *Accession
	Queried   *Query // what the laboratory asked last, until it went on
	Refused   *Refusal
	Started   *Mark  // first taken out at the bench
	Counted   *Count // at the laboratory
	Loaded    *Loading
	Arrived   time.Time // first sign of it at the laboratory other than a custody scan; zero when none
	Referrals []Referral
	Pauses    []Pause
	HasEvents bool // something happened to it, apart from plans and events about the whole case
}

// Filling is medium put into a pot.
type Filling struct {
	Mark
	Medium   string
	VolumeML float64
	Expires  Date
}

// Seal is a lid put on and a label read back.
type Seal struct {
	Mark
	With   string
	Pieces *int
}

// Custody is one taking over of a pot: it lasts until the next.
type Custody struct {
	Mark
	Place        string
	Holder       string
	Condition    string
	Count        *int     // things handed over, if that was said
	TemperatureC *float64 // if it was measured
	Direct       bool     // the pot's own scan
	Bag          Name     // the bag that was scanned, or ""
}

// Accession is the laboratory's number for a pot.
type Accession struct {
	Mark
	Number string
}

// Query is what the laboratory asks of the clinic; it keeps the pot meanwhile.
type Query struct {
	Mark
	Why   string
	Needs string
}

// Referral is tissue that was sent on for another opinion or test.
type Referral struct {
	Mark
	To       string
	What     string    // "block", "slides" or ""
	Due      time.Time // zero when nobody said
	Returned time.Time // zero while it is away
}

// Refusal is a pot that the laboratory will not process as it is.
type Refusal struct {
	Mark
	Why  string
	Note string
}

// Count is the pieces that the laboratory found in a pot.
type Count struct {
	Mark
	Pieces *int
}

// Loading is a pot or piece put on the processor.
type Loading struct {
	Mark
	Run    string
	Leaves time.Time // when it leaves formalin, if that was said
}

// Pause stops turnaround from When until it is resumed, at the latest at Until.
type Pause struct {
	Mark
	Until time.Time
	Why   string
}

// Piece is what happened to one piece.
type Piece struct {
	Name     Name
	Pot      Name // where it is, relabellings worked in
	Lesion   string
	What     string
	From     Name // cut from that one
	Pass     int  // of the needle; 0 when not said
	Taken    Mark
	Potted   Mark   // first time into a pot
	Medium   string // it went into, if other than the pot's
	Loaded   *Loading
	Gauge    float64
	LengthMM float64
	Look     string
	Calcium  string // "seen", "not-seen" or ""
	Astray   *Astray
}

// Astray is a piece said to have gone into a pot of another case. It still counts where its name says, and is flagged.
type Astray struct {
	Mark
	Pot Name
}

// Label is one print of a label.
type Label struct {
	Thing    Name // as printed
	Copy     Copy
	Printed  Mark
	Downtime bool
	Replaces Copy
	Spoiled  *Mark     // the last time
	Gone     time.Time // the first time that it was recorded as spoiled
	Used     bool
	Scans    []Scan // of this very copy, in physical steps
}

// StandIn is a label of another name, of a downtime roll as a rule, that stands for a thing of the case.
type StandIn struct {
	Label   Name // as printed
	For     Name
	Spoiled bool // recorded as destroyed
}

// Scan is one read of a label.
type Scan struct {
	When    time.Time
	By      string
	Station string
}

// Ended is the end of a procedure.
type Ended struct {
	Mark
	Outcome string
	Unused  []Name
}

// Result is one answer.
type Result struct {
	ID       EventID
	When     time.Time
	Pots     []Name // covered; all of the case for a result about the case
	Stage    Stage
	Studies  []string // nil: histology or cytology
	Category string
	Critical bool
	Seen     time.Time // zero when nobody read it
	Told     time.Time // zero when the patient was not told
	ToldBy   []string  // how, each time
}

// Talk is imaging and pathology put side by side.
type Talk struct {
	Mark
	Results     []EventID
	Concordance string
	Plan        string
}

// Telling is the patient told of results.
type Telling struct {
	Mark
	Results []EventID
	How     string
}

// Closing says that nothing more is owed.
type Closing struct {
	Mark
	Outcome string
	Why     string
}

// OutcomeDied is the outcome that ends every prompt to tell the patient.
const OutcomeDied = "died"

// Answer is what was done about a flag.
type Answer struct {
	When time.Time
	Flag FlagKind
	Item Name
}

// Inquiry is one call of the coordinator.
type Inquiry struct {
	Mark
	Item   Name
	Asked  string
	Answer string
	Next   time.Time
	Level  int
}

// Doubt is an event whose clock cannot be trusted.
type Doubt struct {
	When  time.Time
	Item  Name
	Ahead time.Duration // of the first recorder's clock; 0 when not
	Skew  time.Duration // measured; 0 when not
}

// Stranger is a thing that was scanned although nobody made it known.
type Stranger struct {
	Item Name
	Mark Mark
}

// Pot finds a pot of the case, or nil.
func (c *Case) Pot(n Name) *Pot {
	for _, p := range c.Pots {
		if p.Name == n {
			return p
		}
	}
	return nil
}

// PiecesIn goes through the pieces of a pot.
func (c *Case) PiecesIn(pot Name) iter.Seq[*Piece] {
	return func(yield func(*Piece) bool) {
		for _, s := range c.Pieces {
			if s.Pot == pot && !yield(s) {
				return
			}
		}
	}
}

// Bag is what happened to one transport bag.
type Bag struct {
	Name     Name
	Events   int
	Known    bool // printed or packed
	Labels   []*Label
	Custody  []Custody
	Inside   []Name    // packed, and not taken out since by an opening or a scan of its own
	Contents []Content // those of them that are in it for certain, with their media
	Opened   *Mark
	// Differences are what people found in it that was not packed, or did not find, in order, as far as it stands.
	Differences []Difference
	steps       []handling // by hand
	Answers     []Answer
	Chases      []Inquiry
	Doubts      []Doubt
	Strangers   []Stranger
	LastMark    Mark
}

// Content is a pot in a bag.
type Content struct {
	Pot         Name
	Since       time.Time // in the bag
	Medium      string    // as far as is known
	MediumSince time.Time
}
