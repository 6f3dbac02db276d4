package wire

import (
	"encoding/hex"
	"fmt"
	"math"
	"strconv"

	"github.com/pottrail/pottrail/labels"
)

// mostGraphic is the most bytes of one ^GF graphic (ZPL II, ^GF; from memory). A larger picture is cut into strips.
const mostGraphic = 99999

// encodeZPL: 1 is black, the leftmost dot in the highest bit, rows of whole bytes, written as capital hexadecimal digits,
// so that no byte of a picture can be taken for a command.
func encodeZPL(p *labels.Picture, s Setup) []byte {
	wide := bytesFor(p.Width)
	out := make([]byte, 0, 2*wide*p.Height+128)
	out = fmt.Appendf(out, "^XA^PW%d^LL%d", p.Width+s.LeftDots, p.Height+s.TopDots)
	strips(p.Height, mostGraphic/wide, func(from, to int) {
		all := rows(p, from, to, blackIsOne)
		out = fmt.Appendf(out, "^FO%d,%d^GFA,%d,%d,%d,", s.LeftDots, from+s.TopDots, len(all), len(all), wide)
		start := len(out)
		out = hex.AppendEncode(out, all)
		for i := start; i < len(out); i++ {
			if out[i] >= 'a' {
				out[i] -= 'a' - 'A'
			}
		}
		out = append(out, "^FS"...)
	})
	return append(out, "^PQ1^XZ"...)
}

// mostGapEPL is the largest gap in dots (EPL2, Q; from memory).
const mostGapEPL = 240

// encodeEPL: 0 is black. The bytes stand bare after their two lengths, and any of them may be a line's end.
func encodeEPL(p *labels.Picture, s Setup) ([]byte, error) {
	gap := int(math.Round(s.GapMM * float64(p.DotsPerMM)))
	if gap > mostGapEPL {
		return nil, fmt.Errorf("a gap of %g mm is %d dots, and EPL takes %d at most; use other stock", s.GapMM, gap, mostGapEPL)
	}
	out := fmt.Appendf(nil, "\nN\nq%d\nQ%d,%d\nGW%d,%d,%d,%d,", p.Width+s.LeftDots, p.Height+s.TopDots, gap,
		s.LeftDots, s.TopDots, bytesFor(p.Width), p.Height)
	out = append(out, rows(p, 0, p.Height, blackIsZero)...)
	return append(out, "\nP1\n"...), nil
}

// encodeTSPL: 0 is black. The bytes stand bare after their two lengths.
func encodeTSPL(p *labels.Picture, s Setup) []byte {
	out := fmt.Appendf(nil, "SIZE %s mm,%s mm\r\nGAP %s mm,0\r\nCLS\r\nBITMAP %d,%d,%d,%d,0,",
		millimetres(p.WidthMM), millimetres(p.HeightMM), millimetres(s.GapMM), s.LeftDots, s.TopDots, bytesFor(p.Width), p.Height)
	out = append(out, rows(p, 0, p.Height, blackIsZero)...)
	return append(out, "\r\nPRINT 1,1\r\n"...)
}

// mostRowsESCPOS is the least of the limits on rows of one GS v 0 among printers that take it; from memory.
const mostRowsESCPOS = 2303

// encodeESCPOS: 1 is black. ESC @ forgets what an earlier job left, GS v 0 prints dots at their own size, and GS V 66 0
// feeds the label past the knife and cuts it off. Where paper is torn by hand, printers feed and do not cut.
func encodeESCPOS(p *labels.Picture) []byte {
	wide := bytesFor(p.Width)
	out := []byte{0x1b, '@'}
	strips(p.Height, mostRowsESCPOS, func(from, to int) {
		high := to - from
		out = append(out, 0x1d, 'v', '0', 0, byte(wide), byte(wide>>8), byte(high), byte(high>>8))
		out = append(out, rows(p, from, to, blackIsOne)...)
	})
	return append(out, 0x1d, 'V', 66, 0)
}

// millimetres writes a length to the hundredth, without zeros at its end.
func millimetres(mm float64) string {
	return strconv.FormatFloat(math.Round(mm*100)/100, 'f', -1, 64)
}
