package labels_test

import (
	"bytes"
	"fmt"
	"os/exec"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels"
)

// largestFor is the largest predefined pot or piece label that a place of the sheet holds.
func largestFor(t *testing.T, s labels.Sheet) labels.Layout {
	t.Helper()
	for _, name := range []string{"pot-50.8x25.4", "pot-50x25", "piece-22x15"} {
		l := layout(t, name)
		var b bytes.Buffer
		p, err := drawer(t).Draw(l, contentFor(t, l), labels.Options{DotsPerMM: 8})
		require.NoError(t, err)
		if labels.WriteSheet(&b, created, s, p) == nil {
			return l
		}
	}
	t.Fatalf("no label fits %s", s.Name)
	return labels.Layout{}
}

// TestEachSheetHoldsLabelsInItsPlaces: the label stands in the middle of its place, in the first and in the last of each
// sheet, and poppler and dmtxread find it there.
func TestEachSheetHoldsLabelsInItsPlaces(t *testing.T) {
	dmtxread, pdftoppm := program(t, "dmtxread", "dmtx-utils"), program(t, "pdftoppm", "poppler-utils")
	for _, s := range labels.Sheets() {
		t.Run(s.Name, func(t *testing.T) {
			t.Parallel()
			l := largestFor(t, s)
			p, err := drawer(t).Draw(l, contentFor(t, l), labels.Options{DotsPerMM: 12})
			require.NoError(t, err)
			for _, place := range []int{0, s.Places() - 1} {
				s.Used = place
				file := write(t, "sheet.pdf", func(b *bytes.Buffer) error { return labels.WriteSheet(b, created, s, p) })
				root := filepath.Join(t.TempDir(), "page")
				x := s.LeftMM + float64(place%s.Columns)*s.PitchXMM + (s.PlaceWidthMM-l.WidthMM)/2
				y := s.TopMM + float64(place/s.Columns)*s.PitchYMM + (s.PlaceHeightMM-l.HeightMM)/2
				cut := []string{"-png", "-r", "304.8", "-singlefile"}
				for _, side := range []struct {
					option string
					mm     float64
				}{{"-x", x}, {"-y", y}, {"-W", l.WidthMM}, {"-H", l.HeightMM}} {
					cut = append(cut, side.option, fmt.Sprint(int(side.mm*12+0.5)))
				}
				out, err := exec.CommandContext(t.Context(), pdftoppm, append(cut, file, root)...).CombinedOutput()
				require.NoErrorf(t, err, "%s", out)
				require.Equal(t, contentFor(t, l).Code.String(), readByDmtx(t, dmtxread, root+".png"))
			}
		})
	}
}

// TestSheetsAreSymmetric: the grids stand in the middle of their pages, so that a sheet put in upside down does no harm.
// The figures are those of sheets as they are sold (common practice, no source).
func TestSheetsAreSymmetric(t *testing.T) {
	for name, want := range map[string][2]float64{ // left and top, mm
		"a4-3x10": {15, 13.5}, "a4-3x8": {0, 0.5}, "a4-5x13": {4.75, 10.7}, "letter-3x10": {4.7625, 12.7}, "letter-2x5": {3.95, 12.7},
	} {
		s, err := labels.SheetNamed(name)
		require.NoError(t, err)
		require.InDelta(t, want[0], s.LeftMM, 1e-9, name)
		require.InDelta(t, want[1], s.TopMM, 1e-9, name)
	}
	require.Len(t, labels.Sheets(), 5)
	_, err := labels.SheetNamed("a3")
	require.ErrorContains(t, err, "a4-3x10")
}

// TestASheetBegunIsUsedUp: what is left of a sheet is known, so that the next labels begin there.
func TestASheetBegunIsUsedUp(t *testing.T) {
	s := labels.SheetA4()
	s.Used = 25
	require.Equal(t, 29, s.UsedAfter(4))
	require.Equal(t, 0, s.UsedAfter(5))
	require.Equal(t, 1, s.UsedAfter(6))
}

func TestSheetsAreRefused(t *testing.T) {
	pot := drawnLabel(t, "pot-50x25", 8)
	good := labels.SheetA4()
	good.PlaceWidthMM, good.PlaceHeightMM = 0, 0 // by the pitch
	for name, change := range map[string]func(s *labels.Sheet){
		"no columns":          func(s *labels.Sheet) { s.Columns = 0 },
		"places too narrow":   func(s *labels.Sheet) { s.PitchXMM = 49 },
		"places too low":      func(s *labels.Sheet) { s.PitchYMM = 24 },
		"leaves the page":     func(s *labels.Sheet) { s.Rows = 11 },
		"a label too wide":    func(s *labels.Sheet) { s.PlaceWidthMM = 49 },
		"places overlap":      func(s *labels.Sheet) { s.PlaceHeightMM = 27.5 },
		"not a number":        func(s *labels.Sheet) { s.LeftMM = nan() },
		"begins outside":      func(s *labels.Sheet) { s.LeftMM = -1 },
		"all places used":     func(s *labels.Sheet) { s.Used = 30 },
		"fewer than no place": func(s *labels.Sheet) { s.Used = -1 },
	} {
		s := good
		change(&s)
		var b bytes.Buffer
		require.Error(t, labels.WriteSheet(&b, created, s, pot), name)
		require.Zero(t, b.Len(), "nothing is written by halves")
	}
	var b bytes.Buffer
	require.ErrorIs(t, labels.WritePDF(&b, created), labels.ErrNoLabels)
	require.ErrorIs(t, labels.WriteSheet(&b, created, good), labels.ErrNoLabels)
	many := make([]*labels.Picture, 31)
	for i := range many {
		many[i] = pot
	}
	require.NoError(t, labels.WriteSheet(&b, created, good, many...))
	require.Len(t, regexp.MustCompile(`/Type /Page\b[^s]`).FindAllString(b.String(), -1), 2, "the 31st label begins a second sheet")
}

// TestALongDocumentTellsHowFarItIs: once a label, in order, on pages and on sheets.
func TestALongDocumentTellsHowFarItIs(t *testing.T) {
	pot := drawnLabel(t, "pot-50x25", 8)
	sheet := labels.SheetA4()
	for _, o := range []labels.Document{{Created: created}, {Created: created, Sheet: &sheet}} {
		var told []int
		o.Progress = func(done int) { told = append(told, done) }
		var b bytes.Buffer
		require.NoError(t, o.Write(&b, pot, pot, pot))
		require.Equal(t, []int{1, 2, 3}, told)
	}
}

// TestACasesLabelsStandOnOneSheet: the labels of one case of a downtime roll are torn off together, so none stands on the
// next page while the others would all fit there.
func TestACasesLabelsStandOnOneSheet(t *testing.T) {
	s, err := labels.SheetNamed("letter-2x5")
	require.NoError(t, err)
	s.Used = 7
	label := &labels.Picture{}
	spread := func(sizes ...int) string {
		groups := make([][]*labels.Picture, len(sizes))
		for i, n := range sizes {
			for range n {
				groups[i] = append(groups[i], label)
			}
		}
		text := ""
		for i, p := range s.Together(groups) {
			if place := (s.Used + i) % s.Places(); i > 0 && place == 0 {
				text += "|"
			}
			text += map[bool]string{true: ".", false: "L"}[p == nil]
		}
		return text
	}
	for name, tt := range map[string]struct {
		sizes []int
		want  string
	}{
		"it fits on what is left":             {[]int{3, 4}, "LLL|LLLL"},
		"the rest of the page is left free":   {[]int{2, 4, 6}, "LL.|LLLLLLLLLL"},
		"each begins a page":                  {[]int{4, 7, 4}, "...|LLLL......|LLLLLLL...|LLLL"},
		"a case that is larger than any page": {[]int{1, 12, 3}, "L..|LLLLLLLLLL|LLLLL"},
		"one that fills a page":               {[]int{3, 10, 1}, "LLL|LLLLLLLLLL|L"},
	} {
		require.Equal(t, tt.want, spread(tt.sizes...), name)
	}
}
