package labels

import (
	"bytes"
	"fmt"
	"image"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	zxing "github.com/makiuchi-d/gozxing/datamatrix"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/testdata/outside"
)

func calibrationLabel(t testing.TB, width, height float64, dots int) *Picture {
	t.Helper()
	d, err := NewDrawer()
	require.NoError(t, err)
	p, err := d.Calibration(width, height, Options{DotsPerMM: dots})
	require.NoError(t, err)
	return p
}

// calibrationSymbols are the symbols of a calibration label, with their quiet zones, cut out of it, the finest first.
func calibrationSymbols(p *Picture) []*image.Gray {
	var out []*image.Gray
	for _, r := range p.runs {
		if r.slot != "symbol" {
			continue
		}
		cut := image.NewGray(image.Rect(0, 0, r.box.Dx(), r.box.Dy()))
		for y := range r.box.Dy() {
			for x := range r.box.Dx() {
				cut.Set(x, y, p.At(r.box.Min.X+x, r.box.Min.Y+y))
			}
		}
		out = append(out, cut)
	}
	return out
}

// TestCalibrationSymbolsRead: gozxing reads each symbol of each size, and each holds its dots a module and is as large as
// it says; modules are at least as large as the least allowed.
func TestCalibrationSymbolsRead(t *testing.T) {
	for _, test := range []struct {
		width, height float64
		dots          int
		modules       []int // dots, the finest first
	}{
		{22, 15, 8, []int{3}}, {22, 15, 12, []int{4}}, {22, 15, 24, []int{7}},
		{24, 24, 12, []int{4, 5}}, {50, 25, 8, []int{3, 4, 5}}, {50, 25, 12, []int{4, 5, 6}}, {50, 25, 24, []int{7, 8, 10}},
		{100, 50, 8, []int{3, 4, 5, 6, 7}}, {100, 50, 12, []int{4, 5, 6, 7, 8, 10}}, {100, 50, 24, []int{7, 8, 10, 12, 14, 17, 20}},
	} {
		t.Run(fmt.Sprintf("%g × %g at %d", test.width, test.height, test.dots), func(t *testing.T) {
			all := calibrationSymbols(calibrationLabel(t, test.width, test.height, test.dots))
			require.Len(t, all, len(test.modules))
			for i, cut := range all {
				require.GreaterOrEqual(t, float64(test.modules[i]), MinModuleMM*float64(test.dots))
				require.Equal(t, (12+2*QuietModules)*test.modules[i], cut.Bounds().Dx(), "12 modules a side hold five characters")
				bitmap, err := gozxing.NewBinaryBitmapFromImage(cut)
				require.NoError(t, err)
				result, err := zxing.NewDataMatrixReader().Decode(bitmap, map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_PURE_BARCODE: true})
				require.NoError(t, err)
				require.Equal(t, CalibrationText(test.modules[i]), result.GetText())
			}
		})
	}
}

// TestCalibrationIsReadByAnotherProgram: dmtxread reads the largest symbol of a label.
func TestCalibrationIsReadByAnotherProgram(t *testing.T) {
	dmtxread := outside.Need(t, "dmtxread")
	for _, test := range []struct {
		width, height float64
		dots          int
		want          string
	}{{22, 15, 8, "CAL 3"}, {50, 25, 8, "CAL 5"}, {50, 25, 12, "CAL 6"}, {100, 50, 12, "CAL 10"}} {
		p := calibrationLabel(t, test.width, test.height, test.dots)
		all := p.runs
		var largest run
		for _, r := range all {
			if r.slot == "symbol" {
				largest = r
			}
		}
		for _, r := range all { // the others go, with the ruler's figures and all else
			if r.slot != largest.slot || r.ink != largest.ink {
				p.fill(r.ink, white)
			}
		}
		var b bytes.Buffer
		require.NoError(t, WritePNG(&b, p))
		file := filepath.Join(t.TempDir(), "calibration.png")
		require.NoError(t, os.WriteFile(file, b.Bytes(), 0o600))
		out, err := exec.CommandContext(t.Context(), dmtxread, "-N1", "-m2000", file).Output()
		require.NoErrorf(t, err, "dmtxread found no symbol at %g × %g", test.width, test.height)
		require.Equal(t, test.want, strings.TrimRight(string(out), "\n"))
	}
}

// TestCalibrationKeepsApart: on any stock at any resolution, everything is inside the label and inside the frame, nothing
// touches anything else, symbols keep their white, and every black dot belongs to something.
func TestCalibrationKeepsApart(t *testing.T) {
	d, err := NewDrawer()
	require.NoError(t, err)
	rapid.Check(t, func(r *rapid.T) {
		width, height := rapid.Float64Range(22, 130).Draw(r, "width"), rapid.Float64Range(15, 130).Draw(r, "height")
		dots := rapid.SampledFrom([]int{8, 9, 11, 12, 16, 24}).Draw(r, "dots")
		p, err := d.Calibration(width, height, Options{DotsPerMM: dots})
		require.NoError(r, err)
		inside := p.Bounds().Inset(wholeDots(frameMM, dots))
		symbols := 0
		for i, a := range p.runs {
			require.Truef(r, a.box.In(p.Bounds()), "%s %v leaves the label", a.slot, a.box)
			if a.slot != "tick" {
				require.Truef(r, a.ink.In(inside), "%s %v crosses the frame", a.slot, a.ink)
			}
			if a.slot == "symbol" {
				symbols++
			}
			for _, b := range p.runs[:i] {
				if a.slot == b.slot && (a.slot == "frame" || a.slot == "line") {
					continue // their strokes meet
				}
				require.Falsef(r, a.box.Overlaps(b.ink) || b.box.Overlaps(a.ink), "%s %v and %s %v", a.slot, a.box, b.slot, b.box)
			}
		}
		require.Positive(r, symbols)
		for _, a := range p.runs {
			p.fill(a.ink, white)
		}
		require.Equal(r, make([]byte, len(p.Bits)), p.Bits, "a black dot belongs to nothing, or padding is black")
	})
}

// TestCalibrationMeasures: on the dots themselves, the frame stands 1 mm from each edge, the ticks at whole millimetres
// from the upper left corner, every tenth up to the edge, and the line is as long as it says.
func TestCalibrationMeasures(t *testing.T) {
	for _, dots := range []int{8, 12, 24} {
		p := calibrationLabel(t, 50, 25, dots)
		middleX, middleY := 25*dots+dots/2, 12*dots+dots/2 // between two ticks
		firstAcross, lastAcross, firstDown, lastDown := p.Width, 0, p.Height, 0
		for x := range 2 * dots {
			if p.Black(x, middleY) {
				firstAcross = min(firstAcross, x)
			}
			if p.Black(p.Width-1-x, middleY) {
				lastAcross = max(lastAcross, p.Width-1-x)
			}
		}
		for y := range 2 * dots {
			if p.Black(middleX, y) {
				firstDown = min(firstDown, y)
			}
			if p.Black(middleX, p.Height-1-y) {
				lastDown = max(lastDown, p.Height-1-y)
			}
		}
		require.Equal(t, []int{dots, p.Width - 1 - dots, dots, p.Height - 1 - dots}, []int{firstAcross, lastAcross, firstDown, lastDown})
		for mm := 1; mm < 49; mm++ {
			require.Truef(t, p.Black(mm*dots, dots-1) && !p.Black(mm*dots-1, dots-1), "a tick begins at %d mm across", mm)
			require.Equalf(t, mm%10 == 0, p.Black(mm*dots, 0), "%d mm across: only a tenth goes up to the edge", mm)
		}
		for mm := 1; mm < 24; mm++ {
			require.Truef(t, p.Black(dots-1, mm*dots) && !p.Black(dots-1, mm*dots-1), "a tick begins at %d mm down", mm)
			require.Equalf(t, mm%10 == 0, p.Black(0, mm*dots), "%d mm down", mm)
		}
		var ticks []image.Rectangle
		for _, r := range p.runs {
			if r.slot == "line" && r.ink.Dx() == max(1, dots/8) {
				ticks = append(ticks, r.ink)
			}
		}
		require.Len(t, ticks, 3)
		require.Equal(t, 10*dots, ticks[1].Min.X-ticks[0].Min.X)
		require.Equal(t, 20*dots, ticks[2].Min.X-ticks[0].Min.X)
	}
}

// TestCalibrationTakesWhatIsNeededFirst: what smaller stock does without.
func TestCalibrationTakesWhatIsNeededFirst(t *testing.T) {
	for _, test := range []struct {
		width, height float64
		symbols       int
		without       []string
	}{
		{22, 15, 1, []string{"facts", "type", "wedge words"}},
		{30, 15, 1, []string{"facts", "type", "wedge words"}},
		{24, 24, 2, []string{"facts", "type", "wedge words"}},
		{50, 25, 3, []string{"wedge words"}},
		{60, 15, 2, []string{"type", "wedge words"}},
		{100, 50, 5, nil},
		{210, 297, 5, nil},
	} {
		p := calibrationLabel(t, test.width, test.height, 8)
		has := map[string]int{}
		for _, r := range p.runs {
			has[r.slot]++
		}
		require.Equalf(t, test.symbols, has["symbol"], "%g × %g", test.width, test.height)
		for _, always := range []string{"frame", "tick", "figure", "symbol", "caption", "line", "wedge"} {
			require.NotZerof(t, has[always], "%s on %g × %g", always, test.width, test.height)
		}
		for _, slot := range []string{"facts", "type", "wedge words"} {
			missing := has[slot] == 0
			wanted := false
			for _, w := range test.without {
				wanted = wanted || w == slot
			}
			require.Equalf(t, wanted, missing, "%s on %g × %g", slot, test.width, test.height)
		}
	}
}
