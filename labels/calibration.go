package labels

import (
	"fmt"
	"strconv"
)

// Sizes of stock for which there is a calibration label, in millimetres: from the smallest that labels are laid out for to
// a sheet of A4 (ISO 216).
const (
	leastCalibrationWidth  = 22
	leastCalibrationHeight = 15
	mostCalibrationWidth   = 210
	mostCalibrationHeight  = 297
)

// CalibrationText is what a symbol on a calibration label holds: "CAL " and the dots a module. [Read] refuses it, so that
// such a label can never be taken for a thing's, a place's or a person's.
func CalibrationText(moduleDots int) string { return "CAL " + strconv.Itoa(moduleDots) }

// Calibration draws a label by which a printer is set up and judged, for any stock from 22 × 15 to 210 × 297 mm:
//
//   - a frame 1 mm from each edge, so that one sees where the printer cuts off, and rulers along the upper and the left
//     edge that count millimetres from the edge;
//   - symbols of several sizes, the finest that is allowed first, each with its dots and millimetres a module and holding
//     its [CalibrationText]: which of them do the scanners read?
//   - a wedge from single dots by lines and a checker to solid black: a head that is too cold loses dots and lines, one
//     that is too hot closes gaps;
//   - a line 20 or 10 mm long to hold a ruler to, the least sizes of type, the stock, and the dots/mm drawn for.
//
// Frame, rulers, the finest symbol, the dots/mm and 10 mm of the line are on every one. What else there is room for is
// taken in this order: the wedge, the line's second centimetre, the second and the third symbol, the least sizes of type,
// the heading with the stock, further symbols, words at the wedge. There is no patient, so a preview is the same.
func (d *Drawer) Calibration(widthMM, heightMM float64, o Options) (*Picture, error) {
	if o.DotsPerMM < MinDotsPerMM || o.DotsPerMM > MaxDotsPerMM {
		return nil, fmt.Errorf("%d dots/mm: labels are drawn at %d to %d; give the printer's own resolution", o.DotsPerMM, MinDotsPerMM, MaxDotsPerMM)
	}
	// Written so that a NaN is refused too.
	if !(widthMM >= leastCalibrationWidth && heightMM >= leastCalibrationHeight && widthMM <= mostCalibrationWidth && heightMM <= mostCalibrationHeight) {
		return nil, fmt.Errorf("a calibration label of %g × %g mm: it is drawn for %d × %d mm to %d × %d mm; choose other stock",
			widthMM, heightMM, leastCalibrationWidth, leastCalibrationHeight, mostCalibrationWidth, mostCalibrationHeight)
	}
	l := Layout{Name: fmt.Sprintf("calibration-%gx%g", widthMM, heightMM), WidthMM: widthMM, HeightMM: heightMM}

	d.mu.Lock()
	defer d.mu.Unlock()
	c := &calibration{Picture: newPicture(l, o.DotsPerMM), setter: setter{fonts: d.fonts, layout: l, dotsPerMM: o.DotsPerMM}}
	c.area()
	plan := calibrationPlan{symbols: 1, lineMM: 10}
	rows, ok, err := c.rows(plan)
	if err != nil {
		return nil, err
	}
	if !ok {
		return nil, &FitError{Layout: l.Name, Field: "symbol", Detail: "even the finest does not fit; use larger stock"}
	}
	for _, take := range calibrationWishes(len(c.ladder())) {
		more := plan
		take(&more)
		wider, ok, err := c.rows(more)
		if err != nil {
			return nil, err
		}
		if ok {
			plan, rows = more, wider
		}
	}
	c.frame()
	for _, r := range rows {
		for _, b := range r {
			b.paint(b.x, b.y)
		}
	}
	return c.Picture, nil
}

// calibrationPlan is what a calibration label holds besides what is always there.
type calibrationPlan struct {
	symbols                          int
	wedge, words, heading, leastType bool
	lineMM                           int
}

// calibrationWishes is what a label takes if there is room, the most needed first.
func calibrationWishes(symbols int) []func(p *calibrationPlan) {
	another := func(p *calibrationPlan) { p.symbols = min(p.symbols+1, symbols) }
	wishes := []func(p *calibrationPlan){
		func(p *calibrationPlan) { p.wedge = true },
		func(p *calibrationPlan) { p.lineMM = 20 },
		another, another,
		func(p *calibrationPlan) { p.leastType = true },
		func(p *calibrationPlan) { p.heading = true },
	}
	for range symbols {
		wishes = append(wishes, another)
	}
	return append(wishes, func(p *calibrationPlan) { p.words = true })
}
