package press

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/tracker"
)

// Artist draws labels. Files and printers get their pictures from here, so that what is looked at in a file is what comes
// out of a printer. It is safe for concurrent use.
type Artist struct{ drawer *labels.Drawer }

// NewArtist makes one from the typefaces inside the program.
func NewArtist() (*Artist, error) {
	drawer, err := labels.NewDrawer()
	if err != nil {
		return nil, fmt.Errorf("the typefaces inside the program: %w", err)
	}
	return &Artist{drawer}, nil
}

// Wish says how a label is wanted.
type Wish struct {
	Stock     []labels.Layout // to choose from, the usual ones first; empty: the predefined ones
	Layout    string          // by name; "" for the usual one of the thing and its carrier
	DotsPerMM int
	Preview   bool      // without its symbol
	Collector string    // in place of the one that is known; "" for that one, or a line to write on
	At        time.Time // of printing, in the clinic's zone
}

// Drawing is a label as it will be printed.
type Drawing struct {
	Content ask.LabelContent
	Code    tracker.Code
	Layout  labels.Layout
	Picture *labels.Picture
}

// Draw draws one label. Its errors are sentences that name the thing and hold no identifier; with one there is no picture.
func (a *Artist) Draw(c ask.LabelContent, w Wish) (Drawing, error) {
	d := Drawing{Content: c}
	fail := func(err error) (Drawing, error) {
		return Drawing{}, fmt.Errorf("%s cannot be printed: %w", c.Name.Printed(), err)
	}
	var err error
	if d.Code, err = tracker.MakeCode(c.Name, c.Copy); err != nil {
		return fail(err)
	}
	if d.Layout, err = LayoutFor(c, w.Stock, w.Layout); err != nil {
		return fail(err)
	}
	if d.Picture, err = a.drawer.Draw(d.Layout, contentOf(c, d.Code, w), labels.Options{DotsPerMM: w.DotsPerMM, Preview: w.Preview}); err != nil {
		return fail(err)
	}
	return d, nil
}

// LayoutFor chooses the layout of a label: the one that was named, else the first in stock for the thing and, of a piece,
// for what carries it: a slide's end is no tube. Without stock it chooses among the predefined ones.
func LayoutFor(c ask.LabelContent, stock []labels.Layout, named string) (labels.Layout, error) {
	from := stock
	if len(from) == 0 {
		from = labels.Layouts()
	}
	if named != "" {
		layout, err := labels.ParseLayout(named)
		if err != nil {
			return labels.Layout{}, err
		}
		if len(stock) > 0 && !slices.ContainsFunc(stock, func(l labels.Layout) bool { return l.Name == layout.Name }) {
			return labels.Layout{}, fmt.Errorf("there is no layout %q here; there are %s", named, names(stock))
		}
		return layout, nil
	}
	if c.Roll {
		return downtimeFor(c, stock)
	}
	thing := c.Name.Thing()
	for _, l := range from {
		if l.Thing == thing && suits(l, c) {
			return l, nil
		}
	}
	what := thing.String()
	if c.Carrier != "" {
		what += " on a " + c.Carrier
	}
	return labels.Layout{}, fmt.Errorf("there is no label for a %s here; there are %s", what, names(from))
}

// downtimeFor chooses the layout of a label of a downtime roll: the first in stock that has room to write on or, for a piece,
// the smallest, which goes on a cassette or tube.
func downtimeFor(c ask.LabelContent, stock []labels.Layout) (labels.Layout, error) {
	if len(stock) == 0 {
		if l, ok := labels.DowntimeFor(c.Name.Thing(), c.Carrier); ok {
			return l, nil
		}
	}
	var chosen *labels.Layout
	for i, l := range stock {
		switch piece := c.Name.Thing() == tracker.ThingPiece; {
		case l.Form != labels.FormDowntime, !piece && l.WidthMM < labels.DowntimeWideMM:
		case chosen == nil, piece && l.WidthMM*l.HeightMM < chosen.WidthMM*chosen.HeightMM:
			chosen = &stock[i]
		}
	}
	if chosen == nil {
		return labels.Layout{}, fmt.Errorf("there is no downtime label for a %s here; there are %s", c.Name.Thing(), names(stock))
	}
	return *chosen, nil
}

// RecordedLayout is how the ledger names the layout: all of a downtime roll are one.
func (d Drawing) RecordedLayout() string {
	if d.Layout.Form == labels.FormDowntime {
		return tracker.LayoutDowntime
	}
	return d.Layout.Name
}

// suits reports whether a layout is made for what carries the piece. A piece of which that is not known takes any.
func suits(l labels.Layout, c ask.LabelContent) bool {
	if l.Thing != tracker.ThingPiece || c.Carrier == "" {
		return true
	}
	return (l.Form == labels.FormSlide) == (c.Carrier == carrierSlide)
}

// carrierSlide is the carrier that has layouts of its own: the end of a slide is square, and takes pencil.
const carrierSlide = "slide"

func names(layouts []labels.Layout) string {
	words := make([]string, len(layouts))
	for i, l := range layouts {
		words[i] = l.Name
	}
	return strings.Join(words, ", ")
}

func contentOf(c ask.LabelContent, code tracker.Code, w Wish) labels.Content {
	collector := w.Collector
	if collector == "" {
		collector = c.Collector
	}
	return labels.Content{Code: code, Organ: c.Organ, Side: c.Side, Position: c.Position, Medium: c.Medium, Caution: c.Caution,
		Studies: c.Studies, Collector: collector, Printed: w.At,
		Patient: labels.Patient{Family: c.Patient.Family, Given: c.Patient.Given, BirthDate: tracker.Date(c.Patient.BirthDate),
			RecordNumber: c.Patient.RecordNumber, NationalNumber: c.Patient.NationalNumber}}
}

// Calibration draws the calibration label of a printer on its stock.
func (a *Artist) Calibration(stock labels.Layout, dotsPerMM int) (*labels.Picture, error) {
	return a.drawer.Calibration(stock.WidthMM, stock.HeightMM, labels.Options{DotsPerMM: dotsPerMM})
}
