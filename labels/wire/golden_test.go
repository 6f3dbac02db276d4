package wire_test

import (
	"bytes"
	"encoding/binary"
	"image/png"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/labels/wire"
)

var created = time.Date(2026, 3, 6, 15, 31, 42, 0, time.UTC)

// small is 20 × 3 dots, 2.5 × 0.375 mm: a row with three dots in it, a white one, a black one.
//
//	.......#......#...##
//	....................
//	####################
func small() *labels.Picture {
	return &labels.Picture{Layout: "small", Width: 20, Height: 3, Stride: 3,
		Bits: []byte{0x01, 0x02, 0x30, 0x00, 0x00, 0x00, 0xff, 0xff, 0xf0}, DotsPerMM: 8, WidthMM: 2.5, HeightMM: 0.375}
}

// TestSmallPictureInBytes holds each label-printer language to bytes worked out by hand from its formula: how it counts
// black, that the four padding bits of a row are white, its numbers, and that one copy is asked for.
func TestSmallPictureInBytes(t *testing.T) {
	for _, test := range []struct {
		language wire.Language
		want     string
	}{
		// 1 is black, in hexadecimal digits; 9 bytes in all, 3 a row.
		{wire.ZPL, "^XA^PW20^LL3^FO0,0^GFA,9,9,3,010230000000FFFFF0^FS^PQ1^XZ"},
		// 0 is black: every byte turned over, 01 to FE and F0 to 0F. A gap of 3 mm is 24 dots.
		{wire.EPL, "\nN\nq20\nQ3,24\nGW0,0,3,3,\xfe\xfd\xcf\xff\xff\xff\x00\x00\x0f\nP1\n"},
		{wire.TSPL, "SIZE 2.5 mm,0.38 mm\r\nGAP 3 mm,0\r\nCLS\r\nBITMAP 0,0,3,3,0,\xfe\xfd\xcf\xff\xff\xff\x00\x00\x0f\r\nPRINT 1,1\r\n"},
		// 1 is black; 3 bytes a row and 3 rows, the low byte of each number first.
		{wire.ESCPOS, "\x1b@\x1dv0\x00\x03\x00\x03\x00\x01\x02\x30\x00\x00\x00\xff\xff\xf0\x1dVB\x00"},
	} {
		got, err := wire.Encode(test.language, small(), wire.Setup{GapMM: 3})
		require.NoError(t, err)
		require.Equal(t, test.want, string(got), "%s", test.language)
	}
}

// TestPaddingIsWhiteWhateverThePictureHas: bits beyond the last dot are white in either way of counting.
func TestPaddingIsWhiteWhateverThePictureHas(t *testing.T) {
	dirty := small()
	for y := range dirty.Height {
		dirty.Bits[y*dirty.Stride+2] |= 0x0f
	}
	for _, l := range wire.Languages() {
		want, err := wire.Encode(l, small(), wire.Setup{Created: created})
		require.NoError(t, err)
		got, err := wire.Encode(l, dirty, wire.Setup{Created: created})
		require.NoError(t, err)
		require.Equal(t, want, got, "%s", l)
	}
}

// TestOffsets: moved right and down, with the label's width and length grown by as much, so that nothing is cut off.
func TestOffsets(t *testing.T) {
	moved := wire.Setup{LeftDots: 16, TopDots: 4}
	for l, want := range map[wire.Language]string{
		wire.ZPL:  "^PW36^LL7^FO16,4^GFA,9,",
		wire.EPL:  "q36\nQ7,0\nGW16,4,3,3,",
		wire.TSPL: "BITMAP 16,4,3,3,0,",
	} {
		got, err := wire.Encode(l, small(), moved)
		require.NoError(t, err)
		require.Contains(t, string(got), want)
	}
	for _, l := range []wire.Language{wire.ESCPOS, wire.PWG, wire.PNG, wire.PDF} {
		_, err := wire.Encode(l, small(), moved)
		require.ErrorContains(t, err, "set it on the printer", "%s", l)
	}
}

// TestLargePicturesAreCutIntoStrips: ^GF takes 99999 bytes, GS v 0 on some printers 2303 rows.
func TestLargePicturesAreCutIntoStrips(t *testing.T) {
	large := picture(1000, 2400) // 125 bytes a row, so 799 rows in 99875 bytes
	got, err := wire.Encode(wire.ZPL, large, wire.Setup{})
	require.NoError(t, err)
	for _, want := range []string{"^FO0,0^GFA,99875,99875,125,", "^FO0,799^GFA,99875,99875,125,", "^FO0,1598^GFA,99875,99875,125,", "^FO0,2397^GFA,375,375,125,"} {
		require.Contains(t, string(got), want)
	}
	require.Equal(t, 1, strings.Count(string(got), "^XA"), "one label")
	got, err = wire.Encode(wire.ESCPOS, large, wire.Setup{})
	require.NoError(t, err)
	require.Equal(t, "\x1b@\x1dv0\x00\x7d\x00\xff\x08", string(got[:10]), "125 bytes a row, 2303 rows")
	require.Equal(t, "\x1dv0\x00\x7d\x00\x61\x00", string(got[10+125*2303:][:8]), "then 97 rows")
}

// picture is a white one of so many dots at 8 dots/mm.
func picture(width, height int) *labels.Picture {
	stride := (width + 7) / 8
	return &labels.Picture{Width: width, Height: height, Stride: stride, Bits: make([]byte, stride*height), DotsPerMM: 8,
		WidthMM: float64(width) / 8, HeightMM: float64(height) / 8}
}

// TestPWGHeader holds each number and word of the page header at its place to PWG 5102.4, for a label of 50 × 25 mm at
// 8 dots/mm. All bytes but these are zero.
func TestPWGHeader(t *testing.T) {
	p := picture(400, 200)
	got, err := wire.Encode(wire.PWG, p, wire.Setup{})
	require.NoError(t, err)
	require.Equal(t, "RaS2", string(got[:4]))
	header := bytes.Clone(got[4 : 4+1796])
	number := func(at int, what string, want uint32) {
		require.Equal(t, want, binary.BigEndian.Uint32(header[at:]), "%s at %d", what, at)
		clear(header[at : at+4])
	}
	word := func(at int, what, want string) {
		field := header[at : at+64]
		require.Equal(t, want, string(bytes.TrimRight(field, "\x00")), "%s at %d", what, at)
		require.Zero(t, field[63], "ends within its field")
		clear(field)
	}
	word(0, "name", "PwgRaster")
	word(128, "media type", "labels")
	number(276, "resolution across", 203)
	number(280, "resolution down", 203)
	number(340, "copies", 1)
	number(352, "page width in points", 142) // 50 mm are 141.73
	number(356, "page height in points", 71) // 25 mm are 70.87
	number(372, "width", 400)
	number(376, "height", 200)
	number(384, "bits a colour", 1)
	number(388, "bits a pixel", 1)
	number(392, "bytes a line", 50)
	number(396, "colour order, chunky", 0)
	number(400, "colour space, black", 3)
	number(420, "colours", 1)
	number(452, "pages", 1)
	number(456, "cross-feed transform", 1)
	number(460, "feed transform", 1)
	number(480, "white", 0xffffff)
	word(1732, "size", "custom_50x25mm_50x25mm")
	require.Equal(t, make([]byte, 1796), header, "nothing else is set")
	// 200 equal white lines: repeated 199 times, one packet of 50 zero bytes.
	require.Equal(t, []byte{199, 49, 0}, got[4+1796:])
}

// TestPackedLines holds packets to the rule of PWG 5102.4: n up to 127 and a byte that stands n+1 times; n from 129 and
// 257-n bytes as they are; before each line how often it is repeated.
func TestPackedLines(t *testing.T) {
	packed := func(lines ...string) string {
		p := picture(8*len(lines[0]), len(lines))
		p.Bits = []byte(strings.Join(lines, ""))
		got, err := wire.Encode(wire.PWG, p, wire.Setup{})
		require.NoError(t, err)
		return string(got[4+1796:])
	}
	require.Equal(t, "\x00\xfe\x01\x02\x30", packed("\x01\x02\x30"), "three different bytes")
	require.Equal(t, "\x00\x02\x07", packed("\x07\x07\x07"), "three equal bytes")
	require.Equal(t, "\x00\x00\x07", packed("\x07"), "one byte")
	require.Equal(t, "\x00\xff\x01\x02\x01\x07", packed("\x01\x02\x07\x07"), "two different, then two equal")
	require.Equal(t, "\x00\x01\x07\xff\x01\x02", packed("\x07\x07\x01\x02"), "two equal, then two different")
	require.Equal(t, "\x00\x01\x07\x00\x02", packed("\x07\x07\x02"), "a single byte at the end")
	require.Equal(t, "\x00\x00\x01\x01\x07", packed("\x01\x07\x07"), "a single byte at the start")
	require.Equal(t, "\x02\x00\x05\x00\x00\x06", packed("\x05", "\x05", "\x05", "\x06"), "three equal lines, then another")
	require.Equal(t, "\x00\x7f\x05\x00\x05", packed(strings.Repeat("\x05", 129)), "128 at most in a packet")
	two := strings.Repeat("\x05\x06", 65)
	require.Equal(t, "\x00\x81"+two[:128]+"\xff"+two[128:], packed(two), "128 at most as they are")
	lines := make([]string, 257)
	for i := range lines {
		lines[i] = "\x05"
	}
	require.Equal(t, "\xff\x00\x05\x00\x00\x05", packed(lines...), "256 equal lines at most")
}

// TestNamedDPI: what print servers call a resolution, so that they do not scale the picture.
func TestNamedDPI(t *testing.T) {
	for dots, want := range map[int]int{8: 203, 12: 300, 24: 600, 6: 152, 11: 279, 16: 406, 48: 1219} {
		require.Equal(t, want, wire.NamedDPI(dots), "%d dots/mm", dots)
	}
	got, err := wire.Encode(wire.PWG, small(), wire.Setup{DPI: 305})
	require.NoError(t, err)
	require.Equal(t, uint32(305), binary.BigEndian.Uint32(got[4+276:]), "or what the print server announces")
}

// TestPNGAndPDFAreThoseOfLabels: the same bytes as when written to a file.
func TestPNGAndPDFAreThoseOfLabels(t *testing.T) {
	var asPNG, asPDF bytes.Buffer
	require.NoError(t, labels.WritePNG(&asPNG, small()))
	require.NoError(t, labels.WritePDF(&asPDF, created, small()))
	got, err := wire.Encode(wire.PNG, small(), wire.Setup{})
	require.NoError(t, err)
	require.Equal(t, asPNG.Bytes(), got)
	_, err = png.Decode(bytes.NewReader(got))
	require.NoError(t, err)
	got, err = wire.Encode(wire.PDF, small(), wire.Setup{Created: created})
	require.NoError(t, err)
	require.Equal(t, asPDF.Bytes(), got)
}

// TestWhatIsNotEncoded: a picture or setup that cannot be said rightly is refused with a sentence, in every language.
func TestWhatIsNotEncoded(t *testing.T) {
	for _, test := range []struct {
		name   string
		change func(p *labels.Picture, s *wire.Setup)
		says   string
	}{
		{"no dots across", func(p *labels.Picture, _ *wire.Setup) { p.Width = 0 }, "without dots"},
		{"no dots down", func(p *labels.Picture, _ *wire.Setup) { p.Height = 0 }, "without dots"},
		{"fewer than none", func(p *labels.Picture, _ *wire.Setup) { p.Width = -8 }, "without dots"},
		{"wider than numbers go", func(p *labels.Picture, _ *wire.Setup) { p.Width = 32001 }, "smaller stock"},
		{"longer than numbers go", func(p *labels.Picture, _ *wire.Setup) { p.Height = 32001 }, "smaller stock"},
		{"rows cut short", func(p *labels.Picture, _ *wire.Setup) { p.Stride = 2 }, "cut short"},
		{"bytes cut short", func(p *labels.Picture, _ *wire.Setup) { p.Bits = p.Bits[:8] }, "cut short"},
		{"no resolution", func(p *labels.Picture, _ *wire.Setup) { p.DotsPerMM = 0 }, "resolution"},
		{"no width", func(p *labels.Picture, _ *wire.Setup) { p.WidthMM = 0 }, "millimetres"},
		{"a width that is no number", func(p *labels.Picture, _ *wire.Setup) { p.WidthMM = math.NaN() }, "millimetres"},
		{"an endless height", func(p *labels.Picture, _ *wire.Setup) { p.HeightMM = math.Inf(1) }, "millimetres"},
		{"a gap that is no number", func(_ *labels.Picture, s *wire.Setup) { s.GapMM = math.NaN() }, "gap"},
		{"a gap under nothing", func(_ *labels.Picture, s *wire.Setup) { s.GapMM = -1 }, "gap"},
		{"a gap as wide as a label", func(_ *labels.Picture, s *wire.Setup) { s.GapMM = 26 }, "gap"},
		{"an offset to the left", func(_ *labels.Picture, s *wire.Setup) { s.LeftDots = -1 }, "offset"},
		{"an offset off the label", func(_ *labels.Picture, s *wire.Setup) { s.TopDots = 2001 }, "offset"},
		{"dots an inch below nothing", func(_ *labels.Picture, s *wire.Setup) { s.DPI = -203 }, "announces"},
	} {
		for _, l := range wire.Languages() {
			p, s := small(), wire.Setup{}
			test.change(p, &s)
			got, err := wire.Encode(l, p, s)
			require.ErrorContains(t, err, test.says, "%s in %s", test.name, l)
			require.Nil(t, got)
		}
	}
	_, err := wire.Encode(wire.ZPL, nil, wire.Setup{})
	require.ErrorContains(t, err, "without dots")
	_, err = wire.Encode("morse", small(), wire.Setup{})
	require.ErrorContains(t, err, "zpl, epl, tspl, escpos, pwg, png, pdf")
	fine := small()
	fine.DotsPerMM = 24
	_, err = wire.Encode(wire.EPL, fine, wire.Setup{GapMM: 11})
	require.ErrorContains(t, err, "240")
}

// TestWhatAJobIsCalled: media types for print servers, ends of file names for folders.
func TestWhatAJobIsCalled(t *testing.T) {
	for l, want := range map[wire.Language]string{
		wire.ZPL: "application/octet-stream", wire.EPL: "application/octet-stream", wire.TSPL: "application/octet-stream",
		wire.ESCPOS: "application/octet-stream", wire.PWG: "image/pwg-raster", wire.PNG: "image/png", wire.PDF: "application/pdf",
	} {
		require.Equal(t, want, l.MediaType())
		require.Equal(t, string(l), l.Extension())
	}
	for key, want := range map[string]wire.Language{"zpl": wire.ZPL, " ZPL ": wire.ZPL, "Pdf": wire.PDF} {
		got, err := wire.ParseLanguage(key)
		require.NoError(t, err)
		require.Equal(t, want, got)
	}
	_, err := wire.ParseLanguage("")
	require.Error(t, err)
}
