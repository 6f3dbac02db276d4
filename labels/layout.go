package labels

import (
	"math"
	"slices"

	"github.com/pottrail/pottrail/tracker"
)

const (
	// MinRequiredMM is the least height, in millimetres, of the capitals of a name, of a second identifier and of a
	// code for people. Common practice, no source: figures of this height are read at arm's length.
	MinRequiredMM = 2.0
	// SmallestMM is the least height of capitals of any word on a label.
	SmallestMM = 1.33
	// MinDotsPerMM and MaxDotsPerMM bound the resolutions that are drawn: below, the smallest words lose their shape;
	// above, no label printer is known. Common practice, no source.
	MinDotsPerMM = 8
	MaxDotsPerMM = 48
)

// Layout says how one sort of label is laid out. The predefined ones are in [Layouts]; [ParseLayout] and [NewLayout] fit
// one to other stock. The zero value draws nothing.
type Layout struct {
	Name     string        // "pot-50x25", for the configuration and for events
	Form     Form          // "pot"
	Thing    tracker.Thing // what it is a label for; 0 for places and badges, and for a downtime roll, which is for several
	WidthMM  float64
	HeightMM float64

	scale   float64 // how much larger than on the smallest stock all is set
	things  []tracker.Thing
	arrange func(Layout, Content) sheet
	check   func(Layout, Content, fail) error
}

// For reports whether it can be a label for a thing.
func (l Layout) For(thing tracker.Thing) bool { return slices.Contains(l.things, thing) }

// hasPatient reports whether somebody's identifiers are printed on it.
func (l Layout) hasPatient() bool {
	switch l.Form {
	case FormBag, FormPlace, FormBadge, FormDowntime:
		return false
	}
	return true
}

// designed is the stock's size before it is set larger, mm.
func (l Layout) designed() (w, h float64) { return l.WidthMM / l.scale, l.HeightMM / l.scale }

// sheet is a label laid out but not drawn: everything has a box, nothing has dots yet.
type sheet struct {
	slots  []slot
	rules  []box
	symbol symbolBox
	linear box // of the same code as bars; none when it has no width
}

// symbolBox is the room for a symbol with its quiet zone, and where the symbol's own edges would stand: its right one,
// and its lower one or, if that is zero, its upper one. So symbols are flush with words and rules beside them at every
// resolution, as far as their quiet zone lets them.
type symbolBox struct {
	box
	right, bottom, top float64
}

// box is a rectangle in millimetres from the label's top left.
type box struct{ x, y, w, h float64 }

// slot is one line of text in its box, or alternatives of several such lines, best first.
type slot struct {
	name         string
	alternatives [][]slot // if any, all else is empty
	box          box
	// lines are ways to say it, best first. The type is made smaller before a worse way is taken.
	lines [][]span
	// paragraph, if not empty, is set in place of lines: over as many lines as give the largest type, up to rows of them.
	paragraph string
	face      typeface // of the paragraph
	rows      int
	anywhere  bool // it may break after any character, as a key may
	// cap and least are the preferred and the least height of capitals, mm.
	cap, least float64
	align      align
	low        bool // at the foot of its box, with room to write above
	// base, if not zero, is where its baseline stands, mm from the label's top, whatever the size of the type; else a line
	// is centred in its box.
	base float64
	// optional lines are left out whole when they do not fit; all others fail the label.
	optional bool
}

type align uint8

const (
	left align = iota
	right
)

// span is a stretch of a line in one style.
type span struct {
	text string
	face typeface
	// cap, if not zero, is its own height of capitals, mm; else the line's times scale (0 is 1).
	cap, scale float64
	underline  bool
	inverse    bool    // white on black, with a little air
	blank      float64 // a line to write on, mm wide or toTheEnd, in place of text
	gap        float64 // white before it, mm
}

// toTheEnd is the width of a line to write on that ends with its box.
const toTheEnd = -1

// wholeDots rounds a length to dots.
func wholeDots(mm float64, dotsPerMM int) int { return int(math.Round(mm * float64(dotsPerMM))) }

// FitError says that something required does not fit its label. Nothing has been drawn then.
type FitError struct {
	Layout string
	Field  string // "name"
	Detail string // a sentence: how far it is off and what to do
}

// Error is a sentence for people. It never holds an identifier.
func (e *FitError) Error() string { return e.Layout + " label: " + e.Field + ": " + e.Detail }
