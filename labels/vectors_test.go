package labels_test

import (
	"image/color"
	"strings"
	"testing"

	"github.com/boombuler/barcode/code128"
	"github.com/boombuler/barcode/datamatrix"
	"github.com/makiuchi-d/gozxing/datamatrix/encoder"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels"
)

// Published symbols of the two symbologies that labels rely on, Data Matrix and Code 128. There is no QR code on any label,
// so none is held to ISO/IEC 18004.

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
	// The published codewords, laid out by somebody else's placement, are the same 8 x 8 modules inside.
	placed := encoder.NewDefaultPlacement([]byte{142, 164, 186, 114, 25, 5, 88, 102}, 8, 8)
	placed.Place()
	for y := range 8 {
		for x := range 8 {
			require.Equal(t, placed.GetBit(x, y), made.At(x+1, y+1) == color.Black, "module %d, %d", x, y)
		}
	}
}

// bars128 are the eleven modules of some values of Code 128, 1 is a bar. Source: ISO/IEC 15417, table 1, from memory.
var bars128 = map[string]string{
	"Start B": "11010010000", "33 A": "10100011000", "41 I": "11000100010", "45 M": "10111011000", "Code C": "10111011110",
	"12": "10110011100", "34": "10001011000", "87": "11110010100", "Stop": "1100011101011",
}

// TestPublishedBarsBarForBar: "AIM1234" in ISO/IEC 15417 is Start B, A I M, Code C, 12, 34, and its check character is 87:
// 104 + 33 + 2 × 41 + 3 × 45 + 4 × 99 + 5 × 12 + 6 × 34 = 1014, which leaves 87 of 103.
func TestPublishedBarsBarForBar(t *testing.T) {
	made, err := code128.Encode("AIM1234")
	require.NoError(t, err)
	require.Equal(t, 87, (104+33+2*41+3*45+4*99+5*12+6*34)%103)
	require.Equal(t, 87, made.CheckSum())
	var published, got strings.Builder
	for _, value := range []string{"Start B", "33 A", "41 I", "45 M", "Code C", "12", "34", "87", "Stop"} {
		published.WriteString(bars128[value])
	}
	for x := range made.Bounds().Dx() {
		got.WriteByte("01"[map[bool]int{true: 1}[made.At(x, 0) == color.Black]])
	}
	require.Equal(t, published.String(), got.String())
}

// TestWhatOtherSymbolsOfGS1HoldIsForeign: a Data Matrix with FNC1 in front, as on a box, goes through encoder and decoder and
// is told for what it is.
func TestWhatOtherSymbolsOfGS1HoldIsForeign(t *testing.T) {
	made, err := datamatrix.Encode(string([]byte{datamatrix.FNC1}) + "01062910415002131727013110AB12")
	require.NoError(t, err)
	text := readImage(t, made)
	_, err = labels.Read(text)
	var strange *labels.ForeignError
	require.ErrorAs(t, err, &strange)
	require.Equal(t, labels.SortProduct, strange.Sort)
}
