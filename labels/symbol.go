package labels

import (
	"fmt"
	"image/color"
	"math"

	"github.com/boombuler/barcode/datamatrix"

	"github.com/pottrail/pottrail/tracker"
)

const (
	// MinModuleMM is the least side of a module, in millimetres. Source: GS1 General Specifications, least X-dimension
	// of Data Matrix in healthcare, 0.254 mm.
	MinModuleMM = 0.254
	// QuietModules is the white kept around the symbol, in modules. ISO/IEC 16022 asks for one; two are printed, since
	// a label's edge and a printer's feed are not exact.
	QuietModules = 2
)

// encode makes the modules of a code's symbol.
func encode(code tracker.Code) (*Symbol, error) {
	made, err := datamatrix.Encode(code.String())
	if err != nil {
		return nil, fmt.Errorf("symbol of %s: %w", code.Name(), err)
	}
	side := made.Bounds().Dx()
	s := &Symbol{Modules: side, dark: make([]bool, side*side)}
	for y := range side {
		for x := range side {
			s.dark[y*side+x] = made.At(x, y) == color.Black
		}
	}
	return s, nil
}

// place gives the modules the largest whole number of dots that fits the box with its quiet zone, and centres them.
func (s *Symbol) place(l Layout, room box, dotsPerMM int) error {
	x, y := wholeDots(room.x, dotsPerMM), wholeDots(room.y, dotsPerMM)
	// The box never grows by rounding.
	side := int(math.Floor(math.Min(room.w, room.h)*float64(dotsPerMM) + 1e-6))
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
