package labels_test

import (
	"fmt"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels"
)

// TestEveryGoldenPictureIsRead: what a person has looked at, a scanner reads: long names, other scripts and all. dmtxread
// finds a label's one symbol on the whole picture, labels.Read understands it; a calibration label is told from others,
// and a preview holds nothing.
func TestEveryGoldenPictureIsRead(t *testing.T) {
	dmtxread := program(t, "dmtxread", "dmtx-utils")
	pictures, err := filepath.Glob(filepath.Join("testdata", "*.png"))
	require.NoError(t, err)
	require.NotEmpty(t, pictures)
	for _, file := range pictures {
		name := strings.TrimSuffix(filepath.Base(file), ".png")
		if strings.Contains(name, "-preview-") {
			continue // TestAPreviewIsReadByNobody
		}
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			scan, err := labels.Read(readByDmtx(t, dmtxread, file))
			form, _, _ := strings.Cut(name, "-")
			switch form {
			case "calibration":
				var strange *labels.ForeignError
				require.ErrorAs(t, err, &strange)
				require.Equal(t, labels.SortCalibration, strange.Sort)
			case "place":
				require.NoError(t, err)
				require.Equal(t, labels.ScanPlace, scan.Kind)
			case "badge":
				require.NoError(t, err)
				require.Equal(t, labels.ScanBadge, scan.Kind)
			default:
				require.NoError(t, err)
				require.Equal(t, labels.ScanItem, scan.Kind)
				require.NotZero(t, scan.Item.Copy, "a symbol holds a full code")
			}
		})
	}
}

// TestEveryResolutionReadsBack: whatever a printer has, a label is drawn so that it reads, or is refused in a sentence.
func TestEveryResolutionReadsBack(t *testing.T) {
	d := drawer(t)
	drawn, refused := 0, 0
	for _, l := range labels.Layouts() {
		c := contentFor(t, l)
		for dots := 6; dots <= 26; dots++ {
			p, err := d.Draw(l, c, labels.Options{DotsPerMM: dots})
			if err != nil {
				require.NotEmpty(t, err.Error())
				refused++
				continue
			}
			require.Equal(t, symbolText(l, c), readByZXing(t, p), fmt.Sprintf("%s at %d", l.Name, dots))
			if p.Linear != nil {
				require.Equal(t, symbolText(l, c), readBars(t, p), fmt.Sprintf("%s at %d", l.Name, dots))
			}
			drawn++
		}
	}
	t.Logf("%d labels of 6 to 26 dots/mm read back, %d refused", drawn, refused)
	require.Greater(t, drawn, 15*len(labels.Layouts()))
}

// TestNothingButTheSymbolIsRead: with the symbol covered, dmtxread finds nothing among the words of a label: no letters look
// like a code.
func TestNothingButTheSymbolIsRead(t *testing.T) {
	dmtxread := program(t, "dmtxread", "dmtx-utils")
	for _, name := range []string{"pot-50x25", "place-50x25"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			p := drawnLabel(t, name, 8)
			all := cut(p, p.Bounds())
			q := p.Symbol.Quiet()
			for y := q.Min.Y; y < q.Max.Y; y++ {
				for x := q.Min.X; x < q.Max.X; x++ {
					all.Pix[y*all.Stride+x] = 0xff
				}
			}
			out, err := exec.CommandContext(t.Context(), dmtxread, "-N1", "-m2000", writeGray(t, all)).Output()
			require.Error(t, err)
			require.Empty(t, string(out))
		})
	}
}
