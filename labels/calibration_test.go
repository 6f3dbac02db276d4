package labels_test

import (
	"bytes"
	"fmt"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels"
)

// TestGoldenCalibrationLabels holds calibration labels to pictures that a person has looked at.
func TestGoldenCalibrationLabels(t *testing.T) {
	d := drawer(t)
	for _, test := range []struct {
		width, height float64
		dots          int
	}{{50, 25, 8}, {50, 25, 12}, {22, 15, 8}, {22, 15, 12}, {24, 24, 12}, {100, 50, 8}, {100, 50, 12}} {
		name := fmt.Sprintf("calibration-%gx%g-%d", test.width, test.height, test.dots)
		t.Run(name, func(t *testing.T) {
			p, err := d.Calibration(test.width, test.height, labels.Options{DotsPerMM: test.dots})
			require.NoError(t, err)
			var now bytes.Buffer
			require.NoError(t, labels.WritePNG(&now, p))
			file := filepath.Join("testdata", name+".png")
			if *update {
				require.NoError(t, os.WriteFile(file, now.Bytes(), 0o644))
			}
			kept, err := os.ReadFile(file)
			require.NoErrorf(t, err, "run the test with -update, and look at the picture")
			want, err := png.Decode(bytes.NewReader(kept))
			require.NoError(t, err)
			got, err := png.Decode(&now)
			require.NoError(t, err)
			require.Equalf(t, want, got, "dots differ from %s; if that is meant, run with -update and look at it", file)
		})
	}
}

// TestCalibrationTextIsNoneOfOurs: what its symbols hold is refused by Read, whatever their size, so that a calibration
// label can never be taken for a thing's, a place's or a person's.
func TestCalibrationTextIsNoneOfOurs(t *testing.T) {
	for dots := range 100 {
		for _, text := range []string{labels.CalibrationText(dots), "]d1" + labels.CalibrationText(dots), labels.CalibrationText(dots) + "\r\n"} {
			_, err := labels.Read(text)
			var foreign *labels.ForeignError
			require.ErrorAsf(t, err, &foreign, "%q", text)
			require.Equal(t, labels.SortCalibration, foreign.Sort)
		}
	}
	_, err := labels.Read("]d1CAL 3")
	require.EqualError(t, err, "this is not one of our labels but a printer's calibration label (Data Matrix). The scanner reads this size; nothing was recorded")
}

// TestCalibrationStock: from 22 × 15 to 210 × 297 mm at any resolution that labels are drawn at, and no other.
func TestCalibrationStock(t *testing.T) {
	d := drawer(t)
	for _, test := range []struct {
		width, height float64
		dots          int
		refuse        bool
	}{
		{22, 15, 8, false}, {22, 15, 48, false}, {22, 297, 8, false}, {210, 15, 8, false}, {210, 297, 8, false}, {50.8, 25.4, 11, false},
		{21.9, 15, 8, true}, {22, 14.9, 8, true}, {210.1, 20, 8, true}, {50, 297.1, 8, true},
		{math.NaN(), 25, 8, true}, {50, math.NaN(), 8, true}, {math.Inf(1), 25, 8, true}, {-50, 25, 8, true},
		{50, 25, 7, true}, {50, 25, 49, true}, {50, 25, 0, true},
	} {
		p, err := d.Calibration(test.width, test.height, labels.Options{DotsPerMM: test.dots})
		if test.refuse {
			require.Errorf(t, err, "%g × %g at %d", test.width, test.height, test.dots)
			require.Nil(t, p)
			continue
		}
		require.NoErrorf(t, err, "%g × %g at %d", test.width, test.height, test.dots)
		require.Equal(t, fmt.Sprintf("calibration-%gx%g", test.width, test.height), p.Layout)
		require.Nil(t, p.Symbol)
		preview, err := d.Calibration(test.width, test.height, labels.Options{DotsPerMM: test.dots, Preview: true})
		require.NoError(t, err)
		require.Equal(t, p.Bits, preview.Bits, "there is no patient, so a preview is the same")
	}
}
