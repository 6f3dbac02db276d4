package labels

import (
	"fmt"
	"image"
	"image/color"
	"math"

	"github.com/boombuler/barcode/code128"
)

const (
	// MinBarMM is the least width of a module of the bars, in millimetres. Common practice for labels read at a desk, no
	// source.
	MinBarMM = 0.25
	// MinBarHeightMM is the least height of the bars, in millimetres (CLSI AUTO02: 10 mm on tubes).
	MinBarHeightMM = 10.0
	// QuietBars is the white kept at either end of the bars, in modules (ISO/IEC 15417).
	QuietBars = 10
)

// Linear says where a picture's Code 128 stands: the code of its Data Matrix once more, for desks whose readers know
// bars alone.
type Linear struct {
	X, Y       int // dots from the picture's left and top to the first bar
	Modules    int // along the bars, without the quiet zones
	ModuleDots int // width of a module in dots
	Height     int // dots

	dark []bool
}

// Quiet is the rectangle of the bars with the white that belongs to them.
func (b *Linear) Quiet() image.Rectangle {
	margin := QuietBars * b.ModuleDots
	return image.Rect(b.X-margin, b.Y, b.X+b.Modules*b.ModuleDots+margin, b.Y+b.Height)
}

// darkUntil is the first module from the given one on that is not dark.
func (b *Linear) darkUntil(module int) int {
	for module < b.Modules && b.dark[module] {
		module++
	}
	return module
}

// bars encodes a label's code (ISO/IEC 15417, with its check character). The first bar stands at the room's left; its
// modules have the largest whole number of dots for which there is a quiet zone on the left, as far as the label's edge,
// and on the right, as far as the room's end. Without room there are none.
func (c Content) bars(l Layout, room box, dotsPerMM int) (*Linear, error) {
	if room.w == 0 {
		return nil, nil
	}
	text, what := c.says(l)
	made, err := code128.Encode(text)
	if err != nil {
		return nil, fmt.Errorf("bars of %s: %w", what, err)
	}
	n := l.scale * float64(dotsPerMM)
	b := &Linear{Modules: made.Bounds().Dx(), X: int(math.Round(room.x * n)), Y: int(math.Round(room.y * n)), Height: int(math.Floor(room.h*n + 1e-6))}
	b.ModuleDots = min(b.X/QuietBars, (int(math.Floor((room.x+room.w)*n+1e-6))-b.X)/(b.Modules+QuietBars))
	if float64(b.ModuleDots) < MinBarMM*float64(dotsPerMM) || float64(b.Height) < MinBarHeightMM*float64(dotsPerMM) {
		return nil, &FitError{Layout: l.Name, Field: "bars", Detail: fmt.Sprintf(
			"at %d dots/mm their modules would be %.3f mm wide and %.1f mm high, and the least is %.2f and %.0f mm; use larger stock or a finer printer",
			dotsPerMM, float64(b.ModuleDots)/float64(dotsPerMM), float64(b.Height)/float64(dotsPerMM), MinBarMM, MinBarHeightMM)}
	}
	b.dark = make([]bool, b.Modules)
	for x := range b.dark {
		b.dark[x] = made.At(x, 0) == color.Black
	}
	return b, nil
}

// paintLinear draws each dark module as a bar of whole dots; neighbours at once.
func (p *Picture) paintLinear() {
	b := p.Linear
	if b == nil {
		return
	}
	for x := 0; x < b.Modules; x++ {
		if end := b.darkUntil(x); end > x {
			p.fill(image.Rect(b.X+x*b.ModuleDots, b.Y, b.X+end*b.ModuleDots, b.Y+b.Height), black)
			x = end
		}
	}
	p.runs = append(p.runs, run{slot: "bars", box: b.Quiet(), ink: image.Rect(b.X, b.Y, b.X+b.Modules*b.ModuleDots, b.Y+b.Height)})
}
