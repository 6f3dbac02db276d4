package wire

import (
	"bytes"
	"encoding/binary"
	"math"

	"github.com/pottrail/pottrail/labels"
)

// Places of numbers and words in the page header of PWG raster (PWG 5102.4, the page header's table). All numbers are
// four bytes, the highest first; what is not set is zero, which leaves the choice to the printer.
const (
	pwgSync       = "RaS2"
	pwgHeaderSize = 1796

	pwgName           = 0 // "PwgRaster"
	pwgMediaType      = 128
	pwgResolution     = 276 // across, then down, in dots an inch
	pwgCopies         = 340
	pwgPageSize       = 352 // across, then down, in points
	pwgWidth          = 372
	pwgHeight         = 376
	pwgBitsPerColour  = 384
	pwgBitsPerPixel   = 388
	pwgBytesPerLine   = 392
	pwgColourOrder    = 396
	pwgColourSpace    = 400
	pwgColours        = 420
	pwgPages          = 452
	pwgCrossTransform = 456
	pwgFeedTransform  = 460
	pwgWhite          = 480
	pwgSizeName       = 1732
)

// pwgBlack is the colour space in which 1 is black; with one bit a pixel it is "black_1".
const pwgBlack = 3

// NamedDPI is the whole number of dots an inch by which print servers call a resolution: 203, 300 and 600 for 8, 12 and
// 24 dots/mm, though these are 203.2, 304.8 and 609.6; for all others the nearest whole number. PWG raster has room for
// whole numbers alone, and a picture that names a resolution which the printer does not announce may be scaled, which
// would spoil a symbol. Width and height are given in dots and stay exact.
func NamedDPI(dotsPerMM int) int {
	switch dotsPerMM {
	case 12:
		return 300
	case 24:
		return 600
	}
	return int(math.Round(float64(dotsPerMM) * 25.4))
}

// encodePWG writes one page: 1 is black, lines packed.
func encodePWG(p *labels.Picture, s Setup) []byte {
	wide := bytesFor(p.Width)
	dpi := s.DPI
	if dpi == 0 {
		dpi = NamedDPI(p.DotsPerMM)
	}
	header := make([]byte, pwgHeaderSize)
	number := func(at int, values ...int) {
		for i, v := range values {
			binary.BigEndian.PutUint32(header[at+4*i:], uint32(v))
		}
	}
	copy(header[pwgName:], "PwgRaster")
	copy(header[pwgMediaType:], "labels")
	number(pwgResolution, dpi, dpi)
	number(pwgCopies, 1)
	number(pwgPageSize, points(p.WidthMM), points(p.HeightMM))
	number(pwgWidth, p.Width)
	number(pwgHeight, p.Height)
	number(pwgBitsPerColour, 1)
	number(pwgBitsPerPixel, 1)
	number(pwgBytesPerLine, wide)
	number(pwgColourOrder, 0)
	number(pwgColourSpace, pwgBlack)
	number(pwgColours, 1)
	number(pwgPages, 1)
	number(pwgCrossTransform, 1)
	number(pwgFeedTransform, 1)
	number(pwgWhite, 0xffffff)
	// A size that has no name of its own is spelt out (PWG 5101.1, self-describing names; from memory).
	size := millimetres(p.WidthMM) + "x" + millimetres(p.HeightMM) + "mm"
	copy(header[pwgSizeName:], "custom_"+size+"_"+size)

	out := append([]byte(pwgSync), header...)
	all := rows(p, 0, p.Height, blackIsOne)
	for y := 0; y < p.Height; {
		line := all[y*wide : (y+1)*wide]
		same := 1
		for same < mostSameLines && y+same < p.Height && bytes.Equal(line, all[(y+same)*wide:(y+same+1)*wide]) {
			same++
		}
		out = append(out, byte(same-1))
		out = pack(out, line)
		y += same
	}
	return out
}

// points are 1/72 of an inch of 25.4 mm, to the nearest whole one.
func points(mm float64) int { return int(math.Round(mm * 72 / 25.4)) }

const (
	mostSameLines = 256
	mostInPacket  = 128
)

// pack appends a line in packets: a count n up to 127 and one byte that stands n+1 times, or a count n from 129 and
// 257-n bytes as they are. 128 is not used.
func pack(out, line []byte) []byte {
	for i := 0; i < len(line); {
		n := 1
		for n < mostInPacket && i+n < len(line) && line[i+n] == line[i] {
			n++
		}
		if n > 1 || i+1 == len(line) {
			out = append(out, byte(n-1), line[i])
			i += n
			continue
		}
		// Different bytes, up to where two equal ones begin.
		n = 1
		for n < mostInPacket && i+n < len(line) && (i+n+1 == len(line) || line[i+n] != line[i+n+1]) {
			n++
		}
		if n == 1 {
			out = append(out, 0, line[i])
		} else {
			out = append(out, byte(257-n))
			out = append(out, line[i:i+n]...)
		}
		i += n
	}
	return out
}
