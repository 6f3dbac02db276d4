package labels

import (
	"fmt"
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

// place gives the modules the largest whole number of dots that fits the box with its quiet zone, and centres them.
func (s *Symbol) place(l Layout, room box, dotsPerMM int) error {
	n := l.scale * float64(dotsPerMM)
	x, y := int(math.Round(room.x*n)), int(math.Round(room.y*n))
	// The box never grows by rounding.
	side := int(math.Floor(math.Min(room.w, room.h)*n + 1e-6))
	across := s.Modules + 2*QuietModules
	s.ModuleDots = side / across
	if float64(s.ModuleDots) < MinModuleMM*float64(dotsPerMM) {
		return &FitError{Layout: l.Name, Field: "symbol", Detail: fmt.Sprintf(
			"at %d dots/mm its modules would be %.3f mm, and the least is %.3f mm; use larger stock or a finer printer",
			dotsPerMM, s.ModuleMM(dotsPerMM), MinModuleMM)}
	}
	spare := (side - across*s.ModuleDots) / 2
	s.X, s.Y = x+spare+QuietModules*s.ModuleDots, y+spare+QuietModules*s.ModuleDots
	return nil
}
