package wire

import (
	"bytes"
	"fmt"
	"time"

	"github.com/pottrail/pottrail/labels"
)

// Setup is what a printer is told beside the picture: numbers and one time, never words. The zero value suits stock
// without gaps. Darkness, speed, and what tells the printer where a label begins are the printer's own settings and stay
// as they are.
type Setup struct {
	GapMM float64 // of bare liner between two labels; 0 is stock without gaps. Told in EPL and TSPL alone
	// LeftDots and TopDots move the picture right and down where a printer's head and its stock do not begin at the same
	// place; only ZPL, EPL and TSPL can say so.
	LeftDots, TopDots int
	// DPI is the resolution that PWG raster names, as the print server announces it. 0 chooses the usual name: see
	// [NamedDPI].
	DPI     int
	Created time.Time // goes into a PDF; the same picture and setup give the same bytes
}

// What numbers are taken.
const (
	// mostDots bounds the sides of a picture in all languages. It is the largest length and position in ZPL II (^LL, ^FO;
	// from memory), the tightest of them; the largest label drawn here has less than half of it.
	mostDots = 32000
	// mostGapMM is the largest gap of TSPL (GAP, 25.4 mm; from memory).
	mostGapMM = 25.4
	// mostOffset is far more than any head stands off its stock. Common practice, no source.
	mostOffset = 2000
)

// Encode writes a picture as one whole job of one copy. Nothing of the picture but its dots and sizes is used. A picture
// or setup that the language has no numbers for is an error that says so; then there are no bytes.
func Encode(l Language, p *labels.Picture, s Setup) ([]byte, error) {
	if err := checkPicture(p); err != nil {
		return nil, err
	}
	if err := s.check(l); err != nil {
		return nil, err
	}
	switch l {
	case ZPL:
		return encodeZPL(p, s), nil
	case EPL:
		return encodeEPL(p, s)
	case TSPL:
		return encodeTSPL(p, s), nil
	case ESCPOS:
		return encodeESCPOS(p), nil
	case PWG:
		return encodePWG(p, s), nil
	case PNG:
		var b bytes.Buffer
		err := labels.WritePNG(&b, p)
		return b.Bytes(), err
	case PDF:
		var b bytes.Buffer
		err := labels.WritePDF(&b, s.Created, p)
		return b.Bytes(), err
	}
	_, err := ParseLanguage(string(l))
	return nil, err
}

func checkPicture(p *labels.Picture) error {
	switch {
	case p == nil || p.Width < 1 || p.Height < 1:
		return fmt.Errorf("a picture without dots cannot be printed; draw a label first")
	case p.Width > mostDots || p.Height > mostDots:
		return fmt.Errorf("a picture of %d × %d dots: printers take %d a side at most; use smaller stock", p.Width, p.Height, mostDots)
	case p.DotsPerMM < 1 || p.DotsPerMM > labels.MaxDotsPerMM:
		return fmt.Errorf("a picture of %d dots/mm: give the printer's own resolution, 1 to %d", p.DotsPerMM, labels.MaxDotsPerMM)
	case !(p.WidthMM > 0 && p.HeightMM > 0 && p.WidthMM <= mostDots && p.HeightMM <= mostDots):
		return fmt.Errorf("a picture on stock of %g × %g mm: give the label's size in millimetres", p.WidthMM, p.HeightMM)
	case p.Stride < bytesFor(p.Width) || len(p.Bits) < p.Stride*p.Height:
		return fmt.Errorf("a picture of %d × %d dots with %d bytes in rows of %d: it is cut short; draw it again", p.Width, p.Height, len(p.Bits), p.Stride)
	}
	return nil
}

func (s Setup) check(l Language) error {
	if !(s.GapMM >= 0 && s.GapMM <= mostGapMM) {
		return fmt.Errorf("a gap of %g mm between labels: give 0 to %g, measured on the roll", s.GapMM, mostGapMM)
	}
	if s.LeftDots < 0 || s.TopDots < 0 || s.LeftDots > mostOffset || s.TopDots > mostOffset {
		return fmt.Errorf("an offset of %d and %d dots: give 0 to %d", s.LeftDots, s.TopDots, mostOffset)
	}
	if (s.LeftDots != 0 || s.TopDots != 0) && l != ZPL && l != EPL && l != TSPL {
		return fmt.Errorf("an offset of %d and %d dots: %s cannot say so; set it on the printer", s.LeftDots, s.TopDots, l)
	}
	if s.DPI < 0 || s.DPI > mostDots {
		return fmt.Errorf("%d dots an inch: give what the print server announces, or 0", s.DPI)
	}
	return nil
}

// bytesFor is how many whole bytes hold so many dots.
func bytesFor(dots int) int { return (dots + 7) / 8 }

// The two ways in which languages count.
const (
	blackIsOne  byte = 0x00
	blackIsZero byte = 0xff
)

// rows are the picture's rows without what may stand beyond them, in bytes turned over by the mask. Padding bits are
// white whatever the picture has there, and are turned over with the rest, so they stay white.
func rows(p *labels.Picture, from, to int, turn byte) []byte {
	wide := bytesFor(p.Width)
	last := byte(0xff) << (8*wide - p.Width)
	out := make([]byte, 0, wide*(to-from))
	for y := from; y < to; y++ {
		out = append(out, p.Bits[y*p.Stride:y*p.Stride+wide]...)
		out[len(out)-1] &= last
	}
	if turn != 0 {
		for i := range out {
			out[i] ^= turn
		}
	}
	return out
}

// strips cuts a picture into pieces of whole rows, each at most so many rows high.
func strips(height, most int, piece func(from, to int)) {
	for from := 0; from < height; from += most {
		piece(from, min(from+most, height))
	}
}
