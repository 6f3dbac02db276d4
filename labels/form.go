package labels

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/pottrail/pottrail/tracker"
)

// Form is a family of layouts that differ in size only.
type Form string

// The forms.
const (
	FormPot      Form = "pot"
	FormPiece    Form = "piece" // cassettes and tubes
	FormSlide    Form = "slide" // the end of a slide
	FormCase     Form = "request"
	FormBag      Form = "bag"
	FormPlace    Form = "place" // stands on a wall or a shelf; its symbol says P: and a key
	FormBadge    Form = "badge" // worn by a member of staff; its symbol says B: and a key
	FormDowntime Form = "downtime"
)

// form is what a [Form] needs: what it can be a label for, the smallest stock that holds all that is required, and who
// arranges it.
type form struct {
	name    Form
	things  []tracker.Thing // none for places and badges
	least   [2]float64      // width and height, mm
	fixed   bool            // larger stock gives more room, not larger words
	arrange func(Layout, Content) sheet
	check   func(Layout, Content, fail) error
}

// forms lists them all, in the order in which they are told.
func forms() []form {
	return []form{
		{FormPot, []tracker.Thing{tracker.ThingPot}, [2]float64{50, 25}, false, arrangePot, checkPot},
		{FormPiece, []tracker.Thing{tracker.ThingPiece}, [2]float64{22, 15}, false, arrangePiece, checkPiece},
		{FormSlide, []tracker.Thing{tracker.ThingPiece}, [2]float64{24, 24}, false, arrangeSlide, checkPiece},
		{FormCase, []tracker.Thing{tracker.ThingCase}, [2]float64{50, 25}, false, arrangeCase, checkCase},
		{FormBag, []tracker.Thing{tracker.ThingBag}, [2]float64{50, 25}, false, arrangeBag, checkBag},
		{FormPlace, nil, [2]float64{50, 25}, false, arrangePlace, checkKeyed},
		{FormBadge, nil, [2]float64{50, 25}, false, arrangeBadge, checkKeyed},
		{FormDowntime, []tracker.Thing{tracker.ThingCase, tracker.ThingPot, tracker.ThingPiece}, [2]float64{22, 15}, true, arrangeDowntime, checkDowntime},
	}
}

func (f Form) known() (form, bool) {
	all := forms()
	if i := slices.IndexFunc(all, func(k form) bool { return k.name == f }); i >= 0 {
		return all[i], true
	}
	return form{}, false
}

// largestMM bounds a label's sides, so that a slip in a configuration asks for no wall of dots.
const largestMM = 210

// mostScale bounds how much larger than on its smallest stock a label is set.
const mostScale = 3

// NewLayout fits a form to stock of a size in millimetres. It refuses an unknown form, and stock that is smaller than
// the form needs or longer than a sheet is wide. On larger stock all but the downtime roll is set larger in proportion;
// there, the places to write on grow.
func NewLayout(f Form, widthMM, heightMM float64) (Layout, error) {
	known, ok := f.known()
	if !ok {
		return Layout{}, fmt.Errorf("form %q of a label is unknown; use one of %s", short(string(f)), formNames())
	}
	// Written so that a NaN is refused too.
	if !(widthMM >= known.least[0] && heightMM >= known.least[1] && widthMM <= largestMM && heightMM <= largestMM) {
		return Layout{}, fmt.Errorf("a %s label of %g × %g mm: it needs %g × %g mm at least and %d mm a side at most; choose other stock",
			f, widthMM, heightMM, known.least[0], known.least[1], largestMM)
	}
	l := Layout{Name: fmt.Sprintf("%s-%gx%g", f, widthMM, heightMM), Form: f, WidthMM: widthMM, HeightMM: heightMM, scale: 1,
		things: known.things, arrange: known.arrange, check: known.check}
	if len(known.things) == 1 {
		l.Thing = known.things[0]
	}
	if !known.fixed {
		l.scale = math.Min(mostScale, math.Min(widthMM/known.least[0], heightMM/known.least[1]))
	}
	return l, nil
}

func formNames() string {
	var names []string
	for _, f := range forms() {
		names = append(names, string(f.name))
	}
	return strings.Join(names, ", ")
}

// ParseLayout reads a layout's name: a form, a hyphen, and the stock's width and height in millimetres with an x between
// them, "pot-60x30" or "pot-50.8x25.4". Any size within the form's bounds will do, so that a clinic's own stock needs its
// name in the configuration and nothing else.
func ParseLayout(name string) (Layout, error) {
	plain := strings.ToLower(strings.TrimSpace(name))
	wrong := func(why string) (Layout, error) {
		return Layout{}, fmt.Errorf("layout %q: %s; write a form and the stock's width x height in mm, like pot-60x30 (forms: %s)", short(name), why, formNames())
	}
	const longest = 40
	if len(plain) > longest {
		return Layout{}, fmt.Errorf("a layout's name of %d characters: write a form and the stock's width x height in mm, like pot-60x30", len(name))
	}
	form, size, ok := strings.Cut(plain, "-")
	if !ok {
		return wrong("there is no size")
	}
	if _, ok := Form(form).known(); !ok {
		return wrong("this form is unknown")
	}
	width, height, ok := strings.Cut(size, "x")
	if !ok {
		return wrong("its size has no x")
	}
	w, err := millimetres(width)
	if err != nil {
		return wrong(err.Error())
	}
	h, err := millimetres(height)
	if err != nil {
		return wrong(err.Error())
	}
	l, err := NewLayout(Form(form), w, h)
	if err != nil {
		return Layout{}, fmt.Errorf("layout %q: %w", short(name), err)
	}
	return l, nil
}

// millimetres reads "50" or "25.4": figures and one point, and nothing else that Go takes for a number.
func millimetres(text string) (float64, error) {
	for _, r := range text {
		if r != '.' && (r < '0' || r > '9') {
			return 0, fmt.Errorf("%q is no length", short(text))
		}
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return 0, fmt.Errorf("%q is no length", short(text))
	}
	return v, nil
}

// Layouts are the predefined ones, sizes in millimetres. 50.8 × 25.4 is CLSI AUTO12-A's label of two inches by one;
// 22 × 15 goes on cassettes and tubes, 24 × 24 on slide ends; the larger place, badge and downtime labels are common
// stock, no source.
func Layouts() []Layout {
	var all []Layout
	for _, size := range []struct {
		form Form
		w, h float64
	}{
		{FormPot, 50, 25}, {FormPot, 50.8, 25.4}, {FormPiece, 22, 15}, {FormSlide, 24, 24}, {FormCase, 50, 25}, {FormCase, 100, 40},
		{FormBag, 50, 25}, {FormPlace, 50, 25}, {FormPlace, 70, 50}, {FormBadge, 50, 25}, {FormBadge, 80, 50},
		{FormDowntime, 70, 50}, {FormDowntime, 50, 50}, {FormDowntime, 50, 25}, {FormDowntime, 24, 24}, {FormDowntime, 22, 15},
	} {
		l, err := NewLayout(size.form, size.w, size.h)
		if err != nil {
			continue // cannot be: TestEveryPredefinedLayoutIsMade counts them
		}
		all = append(all, l)
	}
	return all
}

// LayoutNamed finds a layout by its name, "pot-50x25"; any size will do, as in [ParseLayout], which says what is wrong.
func LayoutNamed(name string) (Layout, bool) {
	l, err := ParseLayout(name)
	return l, err == nil
}

// DefaultLayout is the predefined layout for a thing: the first of its kind in [Layouts].
func DefaultLayout(thing tracker.Thing) (Layout, bool) {
	for _, l := range Layouts() {
		if l.Thing == thing && thing != 0 {
			return l, true
		}
	}
	return Layout{}, false
}

// LayoutFor is the predefined layout for a thing, given the carrier of a piece as the request says it: a slide has the
// label for a slide's end; a cassette, a tube, and what is not said have the piece's. Foam and loose pieces have no label
// of their own, and a thing without a code has none either: then it reports false.
func LayoutFor(thing tracker.Thing, carrier string) (Layout, bool) {
	if thing == tracker.ThingPiece {
		switch carrier {
		case "slide":
			return LayoutNamed("slide-24x24")
		case "foam", "loose":
			return Layout{}, false
		}
	}
	return DefaultLayout(thing)
}

// DowntimeFor is the predefined layout of a downtime roll for a thing: the largest for cases and pots, where everything
// is written by hand; the carrier decides for pieces, as in [LayoutFor].
func DowntimeFor(thing tracker.Thing, carrier string) (Layout, bool) {
	switch thing {
	case tracker.ThingCase, tracker.ThingPot:
		return LayoutNamed("downtime-70x50")
	case tracker.ThingPiece:
		switch carrier {
		case "slide":
			return LayoutNamed("downtime-24x24")
		case "foam", "loose":
			return Layout{}, false
		}
		return LayoutNamed("downtime-22x15")
	}
	return Layout{}, false
}

// short is enough of what was written to know it again in an error: no name of a layout is longer.
func short(text string) string {
	const most = 40
	characters := []rune(text)
	if len(characters) <= most {
		return text
	}
	return string(characters[:most]) + "…"
}
