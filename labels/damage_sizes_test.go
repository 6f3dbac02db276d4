package labels_test

import (
	"math/rand/v2"
	"testing"

	"github.com/makiuchi-d/gozxing/datamatrix/decoder"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels"
)

// TestEverySizePutsRightWhatItShould: the text of a place or badge may need a smaller or a larger symbol, and the codes
// of cases whose clinic has digits in its key a smaller one; each puts right half as many wrong codewords as it has for
// correction (ISO/IEC 16022:2006, table 7). All losses where they are few, else 5,000 of them.
func TestEverySizePutsRightWhatItShould(t *testing.T) {
	d := drawer(t)
	for _, size := range []struct {
		text              string
		side, correctable int
	}{
		{"P:h", 10, 2}, {"P:sea", 12, 3}, {"P:hatch", 14, 5}, {"A12260041700010", 14, 5}, {"B:nurse.osei", 16, 6},
		{"P:laboratory-hatch", 18, 7}, {"P:laboratory-hatch-b", 20, 9},
	} {
		t.Run(size.text, func(t *testing.T) {
			t.Parallel()
			p := drawText(t, d, size.text)
			whole, at, reader := modulesOf(p), placement(size.side), decoder.NewDecoder()
			require.Len(t, whole, size.side)
			n := 0
			try := func(lost []int) {
				m := whole.clone()
				for _, c := range lost {
					m.spoil(at[c], wrongBits(n, c))
				}
				n++
				got, err := m.decode(reader)
				require.NoErrorf(t, err, "codewords %v", lost)
				require.Equalf(t, size.text, got, "codewords %v", lost)
			}
			if size.side <= 14 {
				for first := range len(at) - size.correctable + 1 {
					for lost := range choices(len(at), size.correctable, first) {
						try(lost)
					}
				}
			} else {
				draw := rand.New(rand.NewPCG(1, uint64(size.side)))
				for range 5000 {
					try(draw.Perm(len(at))[:size.correctable])
				}
			}
			t.Logf("%d × %d modules: %d losses of %d codewords read right", size.side, size.side, n, size.correctable)
		})
	}
}

// drawText draws a label that holds a text.
func drawText(t *testing.T, d *labels.Drawer, text string) *labels.Picture {
	t.Helper()
	scan, err := labels.Read(text)
	require.NoError(t, err)
	l := layout(t, map[labels.ScanKind]string{labels.ScanItem: "request-50x25", labels.ScanPlace: "place-50x25", labels.ScanBadge: "badge-50x25"}[scan.Kind])
	c := contentFor(t, l)
	c.Key = scan.Key
	if scan.Kind == labels.ScanItem {
		c.Code = code(t, scan.Item.Name, scan.Item.Copy)
	}
	p, err := d.Draw(l, c, labels.Options{DotsPerMM: 12})
	require.NoError(t, err)
	require.Equal(t, text, symbolText(l, c))
	return p
}
