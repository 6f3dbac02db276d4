package labels

import (
	"image"
	"math"
	"strconv"
)

// clear is the white kept between the content and the rulers' figures or the frame: the finest symbol's quiet zone, and
// 0.6 mm at least.
func (c *calibration) clear() int {
	return max(c.dots(0.6), QuietModules*int(math.Ceil(MinModuleMM*float64(c.DotsPerMM)-1e-6)))
}

// figureGap is the white between the frame and a ruler's figures, mm.
const figureGap = 0.4

// area finds what frame and rulers leave.
func (c *calibration) area() {
	figures := c.setter.fonts.set(c.small(plain))
	widest, round := 0, 0 // round figures go a little below their line
	for mm := 10; float64(mm) < max(c.HeightMM, c.WidthMM)-frameMM; mm += 10 {
		ink, _ := figures.measure(strconv.Itoa(mm))
		if float64(mm) < c.HeightMM-frameMM {
			widest = max(widest, ink.Dx())
		}
		round = max(round, ink.Max.Y)
	}
	frame := c.dots(frameMM) + c.hairline()
	ruler := frame + c.dots(figureGap)
	air := c.clear()
	if !c.beside() {
		air = max(air, c.dots(1)) // captions would run on from a figure
	}
	c.content = image.Rect(ruler+widest+air, ruler+c.small(plain).cap+round+c.clear(), c.Width-frame-c.dots(figureGap), c.Height-frame-c.clear())
}

// frame draws the frame and the rulers: ticks from the frame towards the edge, every tenth up to the very edge, counted
// in millimetres from the label's upper left corner.
func (c *calibration) frame() {
	inset, thick := c.dots(frameMM), c.hairline()
	right, bottom := c.Width-inset, c.Height-inset
	c.mark("frame", image.Rect(inset, inset, right, inset+thick))
	c.mark("frame", image.Rect(inset, bottom-thick, right, bottom))
	c.mark("frame", image.Rect(inset, inset+thick, inset+thick, bottom-thick))
	c.mark("frame", image.Rect(right-thick, inset+thick, right, bottom-thick))

	length := func(mm int) int {
		switch {
		case mm%10 == 0:
			return inset
		case mm%5 == 0:
			return c.dots(0.7)
		}
		return c.dots(0.4)
	}
	small := c.small(plain)
	figures := c.setter.fonts.set(small)
	ruler := inset + thick + c.dots(figureGap)
	for mm := frameMM; c.dots(float64(mm))+thick <= right; mm++ {
		at := c.dots(float64(mm))
		c.mark("tick", image.Rect(at, inset-length(mm), at+thick, inset))
		if text := strconv.Itoa(mm); mm%10 == 0 {
			ink, _ := figures.measure(text)
			x := at + (thick-ink.Dx())/2
			if x+ink.Dx()+c.dots(figureGap) <= right-thick {
				c.write("figure", small, text, x, ruler)
			}
		}
	}
	c.write("figure", small, "mm", ruler, ruler)
	for mm := frameMM; c.dots(float64(mm))+thick <= bottom; mm++ {
		at := c.dots(float64(mm))
		c.mark("tick", image.Rect(inset-length(mm), at, inset, at+thick))
		if mm%10 == 0 && at+(thick+small.cap)/2+c.dots(figureGap) <= bottom-thick {
			c.write("figure", small, strconv.Itoa(mm), ruler, at+(thick-small.cap)/2)
		}
	}
}

// mark blackens a rectangle and notes it.
func (c *calibration) mark(slot string, r image.Rectangle) {
	c.fill(r, black)
	c.runs = append(c.runs, run{slot: slot, box: r, ink: r})
}

// write sets a text with the left of its ink at x and the top of its capitals at y.
func (c *calibration) write(slot string, s setting, text string, x, y int) {
	ink, _ := c.setter.fonts.set(s).measure(text)
	c.setter.write(c.Picture, s, text, x-ink.Min.X, y+s.cap)
	box := ink.Add(image.Pt(x-ink.Min.X, y+s.cap))
	c.runs = append(c.runs, run{slot: slot, box: box, ink: box})
}

// calibrationLine is a text in one style.
type calibrationLine struct {
	setting setting
	text    string
}

// text is a block of one line; it stands on its baseline.
func (c *calibration) text(slot string, s setting, text string) *calibrationBlock {
	return c.lines(slot, []calibrationLine{{s, text}})
}

// lines is a block of lines under each other. It stands on the last one's baseline; letters may go below that.
func (c *calibration) lines(slot string, all []calibrationLine) *calibrationBlock {
	leading := c.dots(0.45)
	b, risen := &calibrationBlock{above: -leading}, 0
	for i, l := range all {
		ink, _ := c.setter.fonts.set(l.setting).measure(l.text)
		b.width = max(b.width, ink.Dx())
		b.above += l.setting.cap + leading
		if i == 0 {
			risen = max(0, -ink.Min.Y-l.setting.cap) // small letters may rise over capitals
			b.above += risen
		}
		b.height = b.above + max(0, ink.Max.Y)
	}
	b.paint = func(x, y int) {
		y += risen
		for _, l := range all {
			c.write(slot, l.setting, l.text, x, y)
			y += l.setting.cap + leading
		}
	}
	return b
}

// line is a line so many millimetres long, from the left edge of its first tick to the left edge of its last. What it
// says stands behind it, or under it where it would be too wide.
func (c *calibration) line(mm int) *calibrationBlock {
	small, thick := c.small(plain), c.hairline()
	text := c.text("line", small, strconv.Itoa(mm)+" mm")
	long, high := c.dots(float64(mm))+thick, small.cap
	at := image.Pt(long+c.dots(0.4), high-text.above)
	if at.X+text.width > c.content.Dx() {
		at = image.Pt(0, high+c.dots(0.45))
	}
	b := &calibrationBlock{width: max(long, at.X+text.width), height: at.Y + text.height, above: high}
	b.paint = func(x, y int) {
		middle := y + (high-thick)/2
		for at := 0; at <= mm; at += 10 {
			left := x + c.dots(float64(at))
			c.mark("line", image.Rect(left, y, left+thick, y+high))
			if at < mm {
				c.mark("line", image.Rect(left+thick, middle, x+c.dots(float64(at+10)), middle+thick))
			}
		}
		text.paint(x+at.X, y+at.Y)
	}
	return b
}

// wedgePatterns go from a single dot in sixteen to solid black; each is black at x, y or not.
var wedgePatterns = []func(x, y int) bool{
	func(x, y int) bool { return x%4 == 1 && y%4 == 1 },
	func(x, _ int) bool { return x%4 == 1 },
	func(_, y int) bool { return y%4 == 1 },
	func(x, y int) bool { return (x+y)%2 == 0 },
	func(_, y int) bool { return y%4 != 1 },
	func(x, _ int) bool { return x%4 != 1 },
	func(x, y int) bool { return x%4 != 1 || y%4 != 1 },
	func(_, _ int) bool { return true },
}

// wedge is a row of patches of one pattern of dots each, with words under its ends if there is room for them.
func (c *calibration) wedge(withWords bool) *calibrationBlock {
	side := 2.0
	switch {
	case c.beside():
		side = 1.1
	case c.WidthMM >= 80 && c.HeightMM >= 40:
		side = 3
	}
	patch, gap := c.dots(side)/4*4+3, c.dots(0.25) // whole patterns and what ends the last, so that a patch is even
	n := len(wedgePatterns)
	b := &calibrationBlock{width: n*patch + (n-1)*gap, height: patch, above: patch}
	faint, dark := c.text("wedge words", c.small(plain), "lost: too cold"), c.text("wedge words", c.small(plain), "closed: too hot")
	down := patch + c.dots(0.6)
	if withWords {
		b.width = max(b.width, faint.width+c.dots(1)+dark.width)
		b.height = down + max(faint.height, dark.height)
	}
	b.paint = func(x, y int) {
		for i, isBlack := range wedgePatterns {
			left := x + i*(patch+gap)
			for v := range patch {
				for u := range patch {
					if isBlack(u, v) {
						c.fill(image.Rect(left+u, y+v, left+u+1, y+v+1), black)
					}
				}
			}
			r := image.Rect(left, y, left+patch, y+patch)
			c.runs = append(c.runs, run{slot: "wedge", box: r, ink: r})
		}
		if withWords {
			faint.paint(x, y+down)
			dark.paint(x+b.width-dark.width, y+down)
		}
	}
	return b
}

// ladder is the dots a module of the symbols: from the least allowed by steps of about a fifth, up to the largest module in
// GS1's healthcare tables, 0.990 mm (GS1 General Specifications; from memory).
func (c *calibration) ladder() []int {
	var out []int
	dots := int(math.Ceil(MinModuleMM*float64(c.DotsPerMM) - 1e-6))
	for float64(dots) <= 0.99*float64(c.DotsPerMM) {
		out = append(out, dots)
		dots = max(dots+1, int(math.Round(float64(dots)*1.2)))
	}
	return out
}

// symbol is a Data Matrix with its caption, under it or to its right. A caption below keeps the distance that the largest
// symbol of the row needs, so that all captions stand level; so does one that begins a row from the ruler.
func (c *calibration) symbol(dots, largest int, words *calibrationBlock) (*calibrationBlock, error) {
	side, paint, err := c.modules(dots)
	if err != nil {
		return nil, err
	}
	quiet := QuietModules * dots
	if right, high := side+max(quiet, c.dots(0.9)), max(side, words.height); c.beside() && right+words.width <= c.content.Dx() {
		return &calibrationBlock{quiet: quiet, above: high, width: right + words.width, height: high, indent: largest - c.clear(),
			paint: func(x, y int) { paint(x, y); words.paint(x+right, y) }}, nil
	}
	down := side + max(largest, c.dots(0.6))
	return &calibrationBlock{quiet: quiet, above: side, foot: down + words.above - side, width: max(side, words.width), height: down + words.height,
		tight: side + quiet - c.dots(figureGap),
		paint: func(x, y int) { paint(x, y); words.paint(x, y+down) }}, nil
}

// modules makes a Data Matrix; it gives the dots of a side and how it is painted.
func (c *calibration) modules(dots int) (side int, paint func(x, y int), err error) {
	made, err := encode(CalibrationText(dots), "a calibration label")
	if err != nil {
		return 0, nil, err
	}
	side = made.Modules * dots
	return side, func(x, y int) {
		for row := range made.Modules {
			for column := range made.Modules {
				if made.Dark(column, row) {
					c.fill(image.Rect(x+column*dots, y+row*dots, x+(column+1)*dots, y+(row+1)*dots), black)
				}
			}
		}
		ink := image.Rect(x, y, x+side, y+side)
		c.runs = append(c.runs, run{slot: "symbol", box: ink.Inset(-QuietModules * dots), ink: ink})
	}, nil
}
