package labels_test

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"strings"
	"testing"

	"github.com/boombuler/barcode/datamatrix"
	"github.com/makiuchi-d/gozxing"
	zxing "github.com/makiuchi-d/gozxing/datamatrix"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/tracker"
)

var resolutions = []int{8, 12, 24}

// readByZXing decodes the symbol cut out of a picture with its quiet zone, by gozxing's reader for clean pictures.
func readByZXing(t testing.TB, p *labels.Picture) string {
	t.Helper()
	quiet := p.Symbol.Quiet()
	cut := image.NewGray(image.Rect(0, 0, quiet.Dx(), quiet.Dy()))
	for y := range quiet.Dy() {
		for x := range quiet.Dx() {
			cut.Set(x, y, p.At(quiet.Min.X+x, quiet.Min.Y+y))
		}
	}
	bitmap, err := gozxing.NewBinaryBitmapFromImage(cut)
	require.NoError(t, err)
	result, err := zxing.NewDataMatrixReader().Decode(bitmap, map[gozxing.DecodeHintType]interface{}{gozxing.DecodeHintType_PURE_BARCODE: true})
	require.NoError(t, err)
	return result.GetText()
}

// TestPublishedSymbol: the symbol of "123456" in ISO/IEC 16022 (codewords 142 164 186, correction 114 25 5 88 102),
// module for module as zint 2.11.1 draws it. It guards the encoder that labels rely on.
func TestPublishedSymbol(t *testing.T) {
	const published = "1010101010 1100101101 1100000100 1100011101 1100001000 1000001111 1110110000 1111011001 1001110100 1111111111"
	made, err := datamatrix.Encode("123456")
	require.NoError(t, err)
	var rows []string
	for y := range made.Bounds().Dy() {
		var row strings.Builder
		for x := range made.Bounds().Dx() {
			row.WriteByte("01"[map[bool]int{true: 1}[made.At(x, y) == color.Black]])
		}
		rows = append(rows, row.String())
	}
	require.Equal(t, published, strings.Join(rows, " "))
}

// TestEverySymbolReadsBack: every layout at every resolution holds its code and nothing else.
func TestEverySymbolReadsBack(t *testing.T) {
	d := drawer(t)
	for _, l := range labels.Layouts() {
		for _, dots := range resolutions {
			t.Run(fmt.Sprintf("%s at %d", l.Name, dots), func(t *testing.T) {
				c := contentFor(t, l)
				p, err := d.Draw(l, c, labels.Options{DotsPerMM: dots})
				require.NoError(t, err)
				require.Equal(t, symbolText(l, c), readByZXing(t, p))
			})
		}
	}
}

// TestEveryCodeReadsBack draws codes of every shape: the number of codewords, and with it the symbol's size, depends on
// where digits pair up.
func TestEveryCodeReadsBack(t *testing.T) {
	d := drawer(t)
	rapid.Check(t, func(r *rapid.T) {
		clinic := rapid.StringMatching(`[A-Z][A-Z0-9]{2}`).Draw(r, "clinic")
		year, serial := rapid.IntRange(0, 99).Draw(r, "year"), rapid.IntRange(1, tracker.MaxSerial).Draw(r, "serial")
		name, err := tracker.CaseName(clinic, year, serial)
		require.NoError(r, err)
		form := "request-50x25"
		switch rapid.IntRange(0, 3).Draw(r, "thing") {
		case 1:
			form = "bag-50x25"
			name, err = tracker.BagName(clinic, year, serial)
		case 2:
			form = "pot-50x25"
			name, err = name.WithPot(rapid.StringMatching(`[A-HJ-NP-Y]`).Draw(r, "pot"))
		case 3:
			form = "piece-22x15"
			name, err = name.WithPot(rapid.StringMatching(`[A-HJ-NP-Y]`).Draw(r, "pot"))
			require.NoError(r, err)
			name, err = name.WithPiece(rapid.IntRange(1, tracker.MaxPiece).Draw(r, "piece"))
		}
		require.NoError(r, err)
		made, err := tracker.MakeCode(name, tracker.Copy(rapid.SampledFrom([]byte("123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ")).Draw(r, "copy")))
		require.NoError(r, err)
		l := layout(t, form)
		c := contentFor(t, l)
		c.Code = made
		p, err := d.Draw(l, c, labels.Options{DotsPerMM: rapid.SampledFrom(resolutions).Draw(r, "dots")})
		require.NoError(r, err)
		require.Equal(r, made.String(), readByZXing(t, p))
	})
}

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

// TestReadByAnotherProgram: dmtxread, which searches whole labels as a scanner does, reads every layout, and reads
// nothing on a preview.
func TestReadByAnotherProgram(t *testing.T) {
	dmtxread := program(t, "dmtxread", "dmtx-utils")
	d := drawer(t)
	for _, l := range labels.Layouts() {
		for _, dots := range resolutions {
			t.Run(fmt.Sprintf("%s at %d", l.Name, dots), func(t *testing.T) {
				c := contentFor(t, l)
				p, err := d.Draw(l, c, labels.Options{DotsPerMM: dots})
				require.NoError(t, err)
				file := write(t, "label.png", func(b *bytes.Buffer) error { return labels.WritePNG(b, p) })
				require.Equal(t, symbolText(l, c), readByDmtx(t, dmtxread, file))
			})
		}
	}
}
