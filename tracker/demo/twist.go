package demo

import (
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// twist is what goes wrong with one case, or is out of the ordinary. The zero value is an ordinary case.
type twist struct {
	// in the room
	look        string        // of every piece
	untimed     bool          // nobody writes down when the third piece went into its pot
	stray       time.Duration // the last piece is found so long after it was taken
	leftOver    bool          // a label is neither used nor destroyed
	oldCopy     bool          // a replaced label stays on the lid
	roomOpen    bool          // nobody clears the room
	ownReadBack bool          // the one who seals reads back
	early       bool          // labels printed before identity is checked
	expired     bool          // a medium past its date
	miscount    bool          // another number is read aloud
	wrongMedium bool          // formalin goes into the pot for flow cytometry
	relabel     bool          // the first lesion's pieces are in the second's pot
	roll        bool          // labels from a downtime roll

	// on the way
	missing   bool // packed and not found in the bag
	lost      bool
	overnight bool // a porter collects it after the last van
	clockAt   time.Time

	// at the laboratory
	refused string // why
	short   bool   // fixation ended too early, by hand
	counted int    // so many more pieces are found than were sent
	queried bool

	// the answer
	result    time.Time // when the main answer comes, if that is set
	noResult  bool
	late      time.Duration // after its target
	unread    bool
	unreadFor int // working days
	untold    bool
	untoldFor int  // working days
	apart     bool // imaging and pathology disagree, and nobody has put them together
	apartSeen bool // they disagree, and the meeting asks for another biopsy
	amended   time.Time
	waiting   bool // for the meeting
	reopened  bool

	settled bool // somebody answered or mended it
	asked   *course
}

// ordinary reports whether the case raises no flag at any instant.
func (c *course) ordinary() bool {
	return c.twist == (twist{}) && c.ask.middling == "" && c.ask.unsure == "" && c.repeatOf == nil
}

// roll is a roll of labels reserved for days without the daemon: one case number with its pot and pieces.
type roll struct {
	clinic *clinic
	at     time.Time
	name   tracker.Name
}
