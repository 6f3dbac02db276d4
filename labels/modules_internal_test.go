package labels

import (
	"slices"
	"strings"
	"testing"

	"github.com/boombuler/barcode/datamatrix"
	"github.com/stretchr/testify/require"
)

// TestModulesAreAsLargeAsFits: at every resolution, on every layout and for the longest keys too, a module is the largest
// whole number of dots with which symbol and quiet zone fit their room, and never under 0.254 mm (GS1 General
// Specifications, Data Matrix in healthcare).
func TestModulesAreAsLargeAsFits(t *testing.T) {
	d, err := NewDrawer()
	require.NoError(t, err)
	for _, l := range Layouts() {
		all := contents(t, l)
		for i, c := range all {
			for dots := MinDotsPerMM; dots <= MaxDotsPerMM; dots++ {
				if (i < len(all)-1 || l.WidthMM > 60) && !slices.Contains([]int{8, 11, 12, 16, 20, 23, 24}, dots) { // the fullest at all
					continue
				}
				p, err := d.Draw(l, c, Options{DotsPerMM: dots})
				require.NoErrorf(t, err, "%s at %d", l.Name, dots)
				s := p.Symbol
				require.GreaterOrEqualf(t, s.ModuleMM(dots)+1e-9, MinModuleMM, "%s at %d", l.Name, dots)
				room := l.arrange(l, c).symbol
				n := l.scale * float64(dots)
				across := float64((s.Modules + 2*QuietModules) * (s.ModuleDots + 1))
				// The next larger would not fit, with half a dot for a symbol's edges that stand on whole dots.
				side, quiet := float64(s.Modules*(s.ModuleDots+1)), float64(QuietModules*(s.ModuleDots+1))
				flush := min(room.right*n, (room.x+room.w)*n-quiet)-side-quiet < room.x*n+0.5
				if room.bottom != 0 {
					flush = flush || min(room.bottom*n, (room.y+room.h)*n-quiet)-side-quiet < room.y*n+0.5
				}
				if room.bottom == 0 {
					flush = flush || max(room.top*n, room.y*n+quiet)+side+quiet > (room.y+room.h)*n-0.5
				}
				require.Truef(t, across > min(room.w, room.h)*n-1 || flush, "%s at %d: %d dots a module are too few", l.Name, dots, s.ModuleDots)
			}
		}
	}
}

// TestTheWrongSymbolIsNeverDrawn: the encoder's 144 × 144 symbol is wrong, so it is refused whatever asks for it; the
// longest key makes 36 × 36.
func TestTheWrongSymbolIsNeverDrawn(t *testing.T) {
	most := strings.Repeat("x", 1304) // data codewords of 132 × 132, ISO/IEC 16022, table of ECC 200 sizes
	s, err := encode(most, "a test")
	require.NoError(t, err)
	require.Equal(t, mostModules, s.Modules)
	made, err := datamatrix.Encode(most + "x")
	require.NoError(t, err)
	require.Equal(t, 144, made.Bounds().Dx())
	_, err = encode(most+"x", "a test")
	require.ErrorContains(t, err, "144 modules")
	_, err = encode("", "a test")
	require.Error(t, err, "an empty symbol says nothing")
	s, err = encode(PlaceText(strings.Repeat("k", longestKey)), "a test")
	require.NoError(t, err)
	require.Equal(t, 36, s.Modules)
}

// TestASymbolTooFineIsRefused: with the sentence that says what to do.
func TestASymbolTooFineIsRefused(t *testing.T) {
	l, ok := LayoutNamed("place-50x25")
	require.True(t, ok)
	s, err := encode(strings.Repeat("x", 200), "a test") // 64 × 64
	require.NoError(t, err)
	err = s.place(l, symbolBox{box: box{0, 0, 15, 15}, right: 15, bottom: 15}, 8)
	var unfit *FitError
	require.ErrorAs(t, err, &unfit)
	require.Contains(t, err.Error(), "finer printer")
}
