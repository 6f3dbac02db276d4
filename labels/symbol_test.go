package labels_test

import (
	"fmt"
	"image"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels"
)

var resolutions = []int{8, 12, 24}

// TestModulesAndQuietZone measures on the dots themselves, not on what the picture says of itself: modules are equal
// squares of whole dots, at least 0.254 mm wide (GS1 General Specifications, Data Matrix in healthcare), as large as the
// box allows, and two modules around them are white (ISO/IEC 16022 asks for one).
func TestModulesAndQuietZone(t *testing.T) {
	d := drawer(t)
	for _, test := range []struct {
		layout string
		dots   map[int]int // resolution → dots a module
	}{
		{"pot-50x25", map[int]int{8: 4, 12: 6, 24: 12}},
		{"pot-50.8x25.4", map[int]int{8: 4, 12: 6, 24: 12}},
		{"piece-22x15", map[int]int{8: 3, 12: 4, 24: 9}},
		{"slide-24x24", map[int]int{8: 4, 12: 6, 24: 12}},
		{"request-50x25", map[int]int{8: 4, 12: 7, 24: 14}},
		{"bag-50x25", map[int]int{8: 5, 12: 8, 24: 16}},
	} {
		for dots, module := range test.dots {
			t.Run(fmt.Sprintf("%s at %d", test.layout, dots), func(t *testing.T) {
				l := layout(t, test.layout)
				p, err := d.Draw(l, contentFor(t, l), labels.Options{DotsPerMM: dots})
				require.NoError(t, err)
				s := p.Symbol
				require.Equal(t, module, s.ModuleDots)
				require.GreaterOrEqual(t, float64(s.ModuleDots)/float64(dots), 0.254)
				require.Equal(t, 16, s.Modules)
				side := s.Modules * s.ModuleDots
				for y := -2 * module; y < side+2*module; y++ {
					for x := -2 * module; x < side+2*module; x++ {
						inside := x >= 0 && y >= 0 && x < side && y < side
						dark := inside && s.Dark(x/module, y/module)
						if dark != p.Black(s.X+x, s.Y+y) {
							t.Fatalf("dot %d, %d from the symbol's corner: dark should be %t", x, y, dark)
						}
					}
				}
				require.True(t, s.Quiet().In(p.Bounds()))
				// The finder pattern: left and lower edges dark, upper and right ones alternating.
				for i := range s.Modules {
					require.True(t, s.Dark(0, i) && s.Dark(i, s.Modules-1))
					require.Equal(t, i%2 == 0, s.Dark(i, 0))
					require.Equal(t, i%2 == 1, s.Dark(s.Modules-1, i))
				}
			})
		}
	}
}

// TestModulesUnderTheLeast: a symbol that would be too fine to scan is refused.
func TestModulesUnderTheLeast(t *testing.T) {
	d := drawer(t)
	for dots, wrong := range map[int]bool{0: true, 1: true, 7: true, 8: false, 9: false, 10: false, 11: false, 13: false, 48: false, 49: true, -8: true} {
		l := layout(t, "piece-22x15")
		p, err := d.Draw(l, contentFor(t, l), labels.Options{DotsPerMM: dots})
		if wrong {
			require.Errorf(t, err, "%d dots/mm", dots)
			continue
		}
		require.NoErrorf(t, err, "%d dots/mm", dots)
		require.GreaterOrEqual(t, p.Symbol.ModuleMM(dots), labels.MinModuleMM)
	}
}

// TestPreviewCannotBeScanned: a preview has no symbol, in its place is a hatched box, and all else is the same.
func TestPreviewCannotBeScanned(t *testing.T) {
	d := drawer(t)
	for _, l := range labels.Layouts() {
		for _, dots := range resolutions {
			whole, err := d.Draw(l, contentFor(t, l), labels.Options{DotsPerMM: dots})
			require.NoError(t, err)
			preview, err := d.Draw(l, contentFor(t, l), labels.Options{DotsPerMM: dots, Preview: true})
			require.NoError(t, err)
			require.Nil(t, preview.Symbol)
			quiet, bars := whole.Symbol.Quiet(), image.Rectangle{}
			if whole.Linear != nil {
				bars = whole.Linear.Quiet()
			}
			differ := 0
			for y := range whole.Height {
				for x := range whole.Width {
					same := whole.Black(x, y) == preview.Black(x, y)
					if image.Pt(x, y).In(quiet) || image.Pt(x, y).In(bars) {
						if !same {
							differ++
						}
					} else if !same {
						t.Fatalf("%s: dot %d, %d outside the symbol differs", l.Name, x, y)
					}
				}
			}
			require.Positive(t, differ)
		}
	}
}
