package labels

import (
	"fmt"
	"image"
	"image/color"
	"math"

	"github.com/boombuler/barcode/datamatrix"
)

const (
	// MinModuleMM is the least side of a module, in millimetres. Source: GS1 General Specifications, least X-dimension
	// of Data Matrix in healthcare, 0.254 mm.
	MinModuleMM = 0.254
	// QuietModules is the white kept around the symbol, in modules. ISO/IEC 16022 asks for one; two are printed, since
	// a label's edge and a printer's feed are not exact.
	QuietModules = 2
)

// mostModules is the side of the largest symbol that is drawn. The encoder draws the next size that exists, 144 × 144,
// wrong (boombuler/barcode v1.1.0: other readers cannot decode it), and nothing here comes near it: a key has 64
// characters at most, which is 36 × 36.
const mostModules = 132

// encode makes the modules of a text's symbol; what says in words whose it is.
func encode(text, what string) (*Symbol, error) {
	if text == "" { // the encoder would draw a symbol that says nothing
		return nil, fmt.Errorf("symbol of %s: there is nothing to say in it", what)
	}
	made, err := datamatrix.Encode(text)
	if err != nil {
		return nil, fmt.Errorf("symbol of %s: %w", what, err)
	}
	side := made.Bounds().Dx()
	if side > mostModules {
		return nil, fmt.Errorf("symbol of %s: it would have %d modules a side, and no more than %d are drawn; shorten the key", what, side, mostModules)
	}
	s := &Symbol{Modules: side, dark: make([]bool, side*side)}
	for y := range side {
		for x := range side {
			s.dark[y*side+x] = made.At(x, y) == color.Black
		}
	}
	return s, nil
}

// says is the text in a label's symbol.
func (c Content) says(l Layout) (text, what string) {
	switch l.Form {
	case FormPlace:
		return PlaceText(c.Key), "place " + c.Key
	case FormBadge:
		return BadgeText(c.Key), "badge " + c.Key
	}
	return c.Code.String(), c.Code.Name().Printed()
}

// place gives the modules the largest whole number of dots that fits the room with the quiet zone, and stands the symbol's
// edges where the layout wants them, as far as its quiet zone lets it.
func (s *Symbol) place(l Layout, room symbolBox, dotsPerMM int) error {
	n := l.scale * float64(dotsPerMM)
	at := func(mm float64) int { return int(math.Round(mm * n)) }
	x0, y0 := int(math.Ceil(room.x*n-1e-6)), int(math.Ceil(room.y*n-1e-6))
	// The room never grows by rounding, nor over the label's edge.
	x1 := min(int(math.Floor((room.x+room.w)*n+1e-6)), wholeDots(l.WidthMM, dotsPerMM))
	y1 := min(int(math.Floor((room.y+room.h)*n+1e-6)), wholeDots(l.HeightMM, dotsPerMM))
	across := s.Modules + 2*QuietModules
	for s.ModuleDots = min(x1-x0, y1-y0) / across; ; s.ModuleDots-- {
		if float64(s.ModuleDots) < MinModuleMM*float64(dotsPerMM) {
			return &FitError{Layout: l.Name, Field: "symbol", Detail: fmt.Sprintf(
				"at %d dots/mm its modules would be %.3f mm, and the least is %.3f mm; use larger stock or a finer printer",
				dotsPerMM, s.ModuleMM(dotsPerMM), MinModuleMM)}
		}
		side, quiet := s.Modules*s.ModuleDots, QuietModules*s.ModuleDots
		s.X = min(at(room.right), x1-quiet) - side
		s.Y = min(at(room.bottom), y1-quiet) - side
		if room.bottom == 0 {
			s.Y = max(at(room.top), y0+quiet)
		}
		if s.Quiet().In(image.Rect(x0, y0, x1, y1)) {
			return nil
		}
	}
}
