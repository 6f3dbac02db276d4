package labels

import (
	"fmt"
	"image"
	"math"
)

// calibration is a calibration label being drawn.
type calibration struct {
	*Picture
	setter  setter
	content image.Rectangle // what rulers and frame leave
}

// calibrationBlock is something that stands in a row, with the dots it takes. All of a row stand on one line.
type calibrationBlock struct {
	width, height int
	above         int  // of its height, what rises over the line
	foot          int  // from the line to the last baseline below it
	quiet         int  // white that it needs around it
	tight         int  // its width with the white that it needs to its right
	column        bool // stands in the column of the facts, if there is room for that
	indent        int  // white to its left when it begins a row
	x, y          int
	paint         func(x, y int)
}

type calibrationRow []*calibrationBlock

// frameMM is how far inside the label's edge the frame stands, mm.
const frameMM = 1

func (c *calibration) dots(mm float64) int { return wholeDots(mm, c.DotsPerMM) }

// hairline is the thickness of ticks and of the frame: an eighth of a millimetre, and a dot at least.
func (c *calibration) hairline() int { return max(1, c.DotsPerMM/8) }

// small is the setting of the smallest words.
func (c *calibration) small(face typeface) setting {
	return setting{face, int(math.Ceil(SmallestMM*float64(c.DotsPerMM) - 1e-6))}
}

// rows sorts what the plan holds into rows, from the top, and gives all its place; ok is false if they do not fit.
func (c *calibration) rows(plan calibrationPlan) (rows []calibrationRow, ok bool, err error) {
	symbols, err := c.symbols(plan)
	if err != nil {
		return nil, false, err
	}
	rows, spare := c.place(append([]calibrationRow{symbols}, c.tools(plan)...), c.dots(0.8))
	if spare < 0 {
		return nil, false, nil
	}
	if len(rows) > 1 { // looser, if there is room for that
		rows, _ = c.place(rows, c.dots(0.8)+min(c.dots(1.2), spare/(len(rows)-1)))
	}
	return rows, true, nil
}

// beside reports whether captions stand to the right of symbols: small stock has no room for them below.
func (c *calibration) beside() bool { return c.WidthMM < 40 || c.HeightMM < 22 }

// symbols is the row of symbols, the finest first, and what the label says of itself.
func (c *calibration) symbols(plan calibrationPlan) (calibrationRow, error) {
	small := c.small(plain)
	resolution := calibrationLine{c.small(bold), fmt.Sprintf("%d dots/mm", c.DotsPerMM)}
	var row calibrationRow
	ladder := c.ladder()[:plan.symbols]
	largest := QuietModules * ladder[len(ladder)-1]
	for i, dots := range ladder {
		caption := []calibrationLine{{small, fmt.Sprintf("%d dots", dots)}, {small, fmt.Sprintf("%.3f mm", float64(dots)/float64(c.DotsPerMM))}}
		if c.beside() && i == 0 {
			caption = append([]calibrationLine{resolution}, caption...)
		}
		b, err := c.symbol(dots, largest, c.lines("caption", caption))
		if err != nil {
			return nil, err
		}
		row = append(row, b)
	}
	var facts []calibrationLine
	if plan.heading {
		facts = []calibrationLine{{setting{bold, c.dots(1.5)}, "Calibration"}, {small, fmt.Sprintf("%g × %g mm", c.WidthMM, c.HeightMM)},
			{small, fmt.Sprintf("frame %d mm in", frameMM)}}
	}
	if !c.beside() {
		facts = append(facts, resolution)
	}
	if len(facts) == 0 {
		return row, nil
	}
	block := c.lines("facts", facts)
	block.column = true
	if !c.beside() { // its last lines stand level with the captions
		block.above -= row[0].foot
	}
	return append(row, block), nil
}

// tools is the rows of all else: the wedge, the line, and the least sizes of type.
func (c *calibration) tools(plan calibrationPlan) []calibrationRow {
	var upper, lower calibrationRow
	if plan.wedge {
		upper = append(upper, c.wedge(plan.words))
	}
	lower = append(lower, c.line(plan.lineMM))
	if plan.leastType {
		fine, least := c.text("type", c.small(plain), "needle 1.33"), c.text("type", setting{plain, c.dots(MinRequiredMM)}, "needle 2.0")
		fine.column, least.column = true, true
		upper, lower = append(upper, fine), append(lower, least)
	}
	if c.beside() {
		return []calibrationRow{append(upper, lower...)}
	}
	return []calibrationRow{upper, lower}
}

// place gives every block its place, left to right and onto a further row where one is full. It returns the rows as they
// came out and how much height is left, which is less than nothing if they do not fit.
func (c *calibration) place(rows []calibrationRow, gap int) (placed []calibrationRow, spare int) {
	y, quietAbove, column := c.content.Min.Y, 0, 0
	for _, row := range rows {
		for len(row) > 0 {
			n := c.across(row, &column)
			if n == 0 {
				return nil, -1
			}
			above, below, quiet := 0, 0, 0
			for _, b := range row[:n] {
				above, below, quiet = max(above, b.above), max(below, b.height-b.above), max(quiet, b.quiet)
			}
			if len(placed) > 0 {
				y += max(gap, quiet, quietAbove)
			} else {
				y += max(0, quiet-c.clear())
			}
			for _, b := range row[:n] {
				b.y = y + above - b.above
			}
			y += above + below
			quietAbove = quiet
			placed = append(placed, row[:n])
			row = row[n:]
		}
	}
	return placed, c.content.Max.Y - y - max(0, quietAbove-c.clear())
}

// across gives places across to as many blocks of a row as fit beside each other, and says how many.
func (c *calibration) across(row calibrationRow, column *int) int {
	x := c.content.Min.X
	for n, b := range row {
		switch {
		case n > 0:
			x += max(c.dots(1.6), b.quiet, row[n-1].quiet)
		case b.quiet > 0:
			x += max(0, b.quiet-c.clear(), b.indent)
		}
		wide := max(b.width, b.tight)
		if b.column && n > 0 && *column > x && *column+wide <= c.content.Max.X {
			x = *column
		}
		if x+wide > c.content.Max.X {
			return n
		}
		if b.column && *column == 0 {
			*column = x
		}
		b.x = x
		x += b.width
	}
	return len(row)
}
