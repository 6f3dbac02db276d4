package labels_test

import (
	"image"
	"testing"

	"github.com/boombuler/barcode/code128"
	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/oned"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/tracker"
)

// TestPublishedBars: the check value of "AIM1234" in ISO/IEC 15417, annex on the symbol check character: start B 33 41 45
// code C 12 34 gives 1014, modulo 103 is 87. It guards the encoder that the bars rely on.
func TestPublishedBars(t *testing.T) {
	made, err := code128.Encode("AIM1234")
	require.NoError(t, err)
	require.Equal(t, 87, made.CheckSum())
}

// readBars decodes the bars cut out of a picture with their quiet zones.
func readBars(t require.TestingT, p *labels.Picture) string {
	quiet := p.Linear.Quiet()
	cut := image.NewGray(image.Rect(0, 0, quiet.Dx(), quiet.Dy()))
	for y := range quiet.Dy() {
		for x := range quiet.Dx() {
			cut.Set(x, y, p.At(quiet.Min.X+x, quiet.Min.Y+y))
		}
	}
	bitmap, err := gozxing.NewBinaryBitmapFromImage(cut)
	require.NoError(t, err)
	result, err := oned.NewCode128Reader().Decode(bitmap, nil)
	require.NoError(t, err)
	return result.GetText()
}

// TestBarsOnWideStock: from 100 × 40 mm on the code stands on a request's label as bars too; below there is no room for
// modules of 0.25 mm, 10 mm of height and quiet zones of ten modules.
func TestBarsOnWideStock(t *testing.T) {
	d := drawer(t)
	for name, has := range map[string]bool{"request-100x40": true, "request-105x74": true, "request-120x40": true,
		"request-50x25": false, "request-80x40": false, "request-100x38": false, "request-60x90": false} {
		l := layout(t, name)
		for _, dots := range []int{8, 11, 12, 16, 20, 23, 24} {
			c := contentFor(t, l)
			p, err := d.Draw(l, c, labels.Options{DotsPerMM: dots})
			require.NoErrorf(t, err, "%s at %d", name, dots)
			require.Equalf(t, has, p.Linear != nil, "%s at %d", name, dots)
			if !has {
				continue
			}
			b := p.Linear
			require.Equal(t, c.Code.String(), readBars(t, p))
			require.GreaterOrEqual(t, float64(b.ModuleDots)/float64(dots), labels.MinBarMM)
			require.GreaterOrEqual(t, float64(b.Height)/float64(dots), labels.MinBarHeightMM)
			require.True(t, b.Quiet().In(p.Bounds()))
			require.False(t, b.Quiet().Overlaps(p.Symbol.Quiet()))
			for y := b.Y; y < b.Y+b.Height; y++ {
				for x := range b.Quiet().Dx() {
					at := b.Quiet().Min.X + x
					if p.Black(at, b.Y) != p.Black(at, y) {
						t.Fatalf("%s at %d: dot %d, %d differs from the bar above it", name, dots, at, y)
					}
				}
			}
		}
	}
}

// TestBarsOfEveryCodeFit: the length of the bars depends on where digits pair up; on wide stock there are none that do not
// fit, at any resolution.
func TestBarsOfEveryCodeFit(t *testing.T) {
	d := drawer(t)
	l := layout(t, "request-100x40")
	c := contentFor(t, l)
	for _, clinic := range []string{"MBY", "M2B", "MB2", "Q99"} {
		for _, copied := range []tracker.Copy{'1', 'Z'} {
			c.Code = code(t, tracker.Name(clinic+"-26-00417"), copied)
			for dots := labels.MinDotsPerMM; dots <= labels.MaxDotsPerMM; dots++ {
				_, err := d.Draw(l, c, labels.Options{DotsPerMM: dots})
				require.NoErrorf(t, err, "%s at %d", c.Code, dots)
			}
		}
	}
	rapid.Check(t, func(r *rapid.T) {
		name, err := tracker.CaseName(rapid.StringMatching(`[A-Z][A-Z0-9]{2}`).Draw(r, "clinic"), rapid.IntRange(0, 99).Draw(r, "year"), rapid.IntRange(1, tracker.MaxSerial).Draw(r, "serial"))
		require.NoError(r, err)
		c := c
		c.Code, err = tracker.MakeCode(name, tracker.Copy(rapid.SampledFrom([]byte("123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ")).Draw(r, "copy")))
		require.NoError(r, err)
		p, err := d.Draw(l, c, labels.Options{DotsPerMM: rapid.IntRange(labels.MinDotsPerMM, labels.MaxDotsPerMM).Draw(r, "dots")})
		require.NoError(r, err)
		require.Equal(r, c.Code.String(), readBars(r, p))
	})
}
