package labels

import (
	"fmt"
	"math"

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

// Layout says how one sort of label is laid out. The predefined ones are in [Layouts]; [NewLayout] fits one to other
// stock. The zero value draws nothing.
type Layout struct {
	Name     string        // "pot-50x25", for the configuration and for events
	Thing    tracker.Thing // what it is a label for
	WidthMM  float64
	HeightMM float64

	arrange func(Layout, Content) sheet
}

// Form is a family of layouts that differ in size only.
type Form string

// The forms.
const (
	FormPot   Form = "pot"
	FormPiece Form = "piece" // cassettes and tubes
	FormSlide Form = "slide" // the end of a slide
	FormCase  Form = "request"
	FormBag   Form = "bag"
)

// form is what a [Form] needs: the smallest stock that holds all that is required, and who arranges it.
type form struct {
	thing   tracker.Thing
	least   [2]float64 // width and height, mm
	arrange func(Layout, Content) sheet
}

func (f Form) known() (form, bool) {
	switch f {
	case FormPot:
		return form{tracker.ThingPot, [2]float64{50, 25}, arrangePot}, true
	case FormPiece:
		return form{tracker.ThingPiece, [2]float64{22, 15}, arrangePiece}, true
	case FormSlide:
		return form{tracker.ThingPiece, [2]float64{24, 24}, arrangeSlide}, true
	case FormCase:
		return form{tracker.ThingCase, [2]float64{50, 25}, arrangeCase}, true
	case FormBag:
		return form{tracker.ThingBag, [2]float64{50, 25}, arrangeBag}, true
	}
	return form{}, false
}

// largestMM bounds a label's sides, so that a slip in a configuration asks for no wall of dots.
const largestMM = 210

// NewLayout fits a form to stock of a size in millimetres. It refuses an unknown form, and stock that is smaller than
// the form needs or longer than a sheet is wide.
func NewLayout(f Form, widthMM, heightMM float64) (Layout, error) {
	known, ok := f.known()
	if !ok {
		return Layout{}, fmt.Errorf("form %q of a label is unknown; use pot, piece, slide, request or bag", f)
	}
	// Written so that a NaN is refused too.
	if !(widthMM >= known.least[0] && heightMM >= known.least[1] && widthMM <= largestMM && heightMM <= largestMM) {
		return Layout{}, fmt.Errorf("a %s label of %g × %g mm: it needs %g × %g mm at least and %d mm a side at most; choose other stock",
			f, widthMM, heightMM, known.least[0], known.least[1], largestMM)
	}
	return Layout{Name: fmt.Sprintf("%s-%gx%g", f, widthMM, heightMM), Thing: known.thing,
		WidthMM: widthMM, HeightMM: heightMM, arrange: known.arrange}, nil
}

// Layouts are the predefined ones, sizes in millimetres. 50.8 × 25.4 is CLSI AUTO12-A's label of two inches by one;
// 22 × 15 goes on cassettes and tubes, 24 × 24 on slide ends.
func Layouts() []Layout {
	var all []Layout
	for _, size := range []struct {
		form Form
		w, h float64
	}{
		{FormPot, 50, 25}, {FormPot, 50.8, 25.4}, {FormPiece, 22, 15}, {FormSlide, 24, 24}, {FormCase, 50, 25}, {FormBag, 50, 25},
	} {
		l, err := NewLayout(size.form, size.w, size.h)
		if err != nil {
			continue // cannot be: TestEveryPredefinedLayoutIsMade counts them
		}
		all = append(all, l)
	}
	return all
}

// LayoutNamed finds a predefined layout, "pot-50x25".
func LayoutNamed(name string) (Layout, bool) {
	for _, l := range Layouts() {
		if l.Name == name {
			return l, true
		}
	}
	return Layout{}, false
}

// DefaultLayout is the predefined layout for a thing: the first of its kind in [Layouts].
func DefaultLayout(thing tracker.Thing) (Layout, bool) {
	for _, l := range Layouts() {
		if l.Thing == thing {
			return l, true
		}
	}
	return Layout{}, false
}

// sheet is a label laid out but not drawn: everything has a box, nothing has dots yet.
type sheet struct {
	slots  []slot
	rules  []box
	symbol box
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
	// cap and least are the preferred and the least height of capitals, mm.
	cap, least float64
	align      align
	low        bool // at the foot of its box, with room to write above
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
	blank      float64 // a line to write on, mm wide, in place of text
	gap        float64 // white before it, mm
}

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
