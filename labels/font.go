package labels

import (
	"fmt"
	"image"

	"github.com/go-fonts/dejavu/dejavusanscondensed"
	"github.com/go-fonts/dejavu/dejavusanscondensedbold"
	"github.com/go-fonts/dejavu/dejavusansmono"
	"github.com/go-fonts/dejavu/dejavusansmonobold"
	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// typeface is one of the cuts of DejaVu that labels are set in: the condensed sans for words, the fixed-width one for
// codes, since a code is compared character by character.
type typeface uint8

const (
	plain typeface = iota
	bold
	mono
	monoBold
	typefaces
)

// capitalShare is the height of a capital over the size of the type, in every cut of DejaVu Sans and DejaVu Sans Mono:
// 1493 of 2048 units (OS/2 table, sCapHeight). A size made from it has capitals of whole dots.
const capitalShare = 1493.0 / 2048.0

// setting is a typeface at a size, the size given by the height of its capitals in dots.
type setting struct {
	face typeface
	cap  int
}

// glyph is one character in dots. Offsets are from the pen on the baseline to the top left of the dots.
type glyph struct {
	left, top     int
	width, height int
	rows          []uint64 // of a narrow glyph: a row each, leftmost dot in the highest bit
	bits          []byte   // of a glyph wider than narrow: rows of stride bytes
	stride        int
	advance       int
}

// narrow is the most dots a row of a glyph may have to be moved by any part of a byte within one machine word.
const narrow = 64 - 7

// glyphs are the characters of one setting drawn so far.
type glyphs struct {
	setting setting
	face    font.Face
	ascii   [128]*glyph
	others  map[rune]*glyph
}

// fonts owns the parsed typefaces and the characters drawn so far. It grows with the number of different characters
// and sizes used, which the fonts bound, and is not safe for concurrent use.
type fonts struct {
	parsed [typefaces]*sfnt.Font
	sets   [typefaces][]*glyphs // by height of capitals
	buffer sfnt.Buffer
}

func newFonts() (*fonts, error) {
	f := &fonts{}
	for i, ttf := range [typefaces][]byte{dejavusanscondensed.TTF, dejavusanscondensedbold.TTF, dejavusansmono.TTF, dejavusansmonobold.TTF} {
		parsed, err := opentype.Parse(ttf)
		if err != nil {
			return nil, fmt.Errorf("typeface %d compiled into this program: %w", i, err)
		}
		f.parsed[i] = parsed
	}
	return f, nil
}

// lacks is the first character that the typeface has no drawing of.
func (f *fonts) lacks(face typeface, text string) (missing rune, position int, lacking bool) {
	for _, r := range text {
		position++
		if r > ' ' && r < 0x7f {
			continue
		}
		if index, err := f.parsed[face].GlyphIndex(&f.buffer, r); err != nil || index == 0 {
			return r, position, true
		}
	}
	return 0, 0, false
}

// set is the characters of a setting.
func (f *fonts) set(s setting) *glyphs {
	for len(f.sets[s.face]) <= s.cap {
		f.sets[s.face] = append(f.sets[s.face], nil)
	}
	if g := f.sets[s.face][s.cap]; g != nil {
		return g
	}
	g := &glyphs{setting: s, others: map[rune]*glyph{}}
	face, err := opentype.NewFace(f.parsed[s.face], &opentype.FaceOptions{Size: float64(s.cap) / capitalShare, DPI: 72, Hinting: font.HintingNone})
	if err == nil { // options of this shape have no error
		g.face = face
	}
	f.sets[s.face][s.cap] = g
	return g
}

// glyph is a character, drawn on first use.
func (s *glyphs) glyph(r rune) *glyph {
	if r >= 0 && r < 128 {
		if s.ascii[r] == nil {
			s.ascii[r] = s.draw(r)
		}
		return s.ascii[r]
	}
	g := s.others[r]
	if g == nil {
		g = s.draw(r)
		s.others[r] = g
	}
	return g
}

// draw makes a character's dots. Of four positions a quarter of a dot apart, it takes the one whose edges fall best on
// the grid, so that stems are equally wide and crisp; the pen still moves by whole dots.
func (s *glyphs) draw(r rune) *glyph {
	if s.face == nil {
		return &glyph{}
	}
	best, bestDoubt := (*glyph)(nil), 0.0
	for _, shift := range [...]fixed.Int26_6{0, 16, 32, 48} {
		bounds, mask, maskAt, advance, ok := s.face.Glyph(fixed.Point26_6{X: shift}, r)
		if !ok {
			return &glyph{}
		}
		alpha, isAlpha := mask.(*image.Alpha)
		if !isAlpha {
			return &glyph{}
		}
		w, h := bounds.Dx(), bounds.Dy()
		g := &glyph{left: bounds.Min.X, top: bounds.Min.Y, width: w, height: h, stride: (w + 7) / 8, advance: advance.Round()}
		g.bits = make([]byte, g.stride*h)
		doubt := 0.0
		for y := range h {
			row := alpha.Pix[(maskAt.Y+y)*alpha.Stride+maskAt.X:]
			for x := range w {
				v := int(row[x])
				if v >= 128 {
					g.bits[y*g.stride+x/8] |= 0x80 >> (x % 8)
				}
				doubt += float64(min(v, 255-v))
			}
		}
		if best == nil || doubt < bestDoubt {
			best, bestDoubt = g, doubt
		}
	}
	return best.trimmed()
}

// trimmed drops white rows and columns at the edges, so that a glyph's box is its ink.
func (g *glyph) trimmed() *glyph {
	black := func(x, y int) bool { return g.bits[y*g.stride+x/8]&(0x80>>(x%8)) != 0 }
	x0, y0, x1, y1 := g.width, g.height, 0, 0
	for y := range g.height {
		for x := range g.width {
			if black(x, y) {
				x0, x1, y0, y1 = min(x0, x), max(x1, x+1), min(y0, y), max(y1, y+1)
			}
		}
	}
	if x0 >= x1 {
		return &glyph{advance: g.advance}
	}
	out := &glyph{left: g.left + x0, top: g.top + y0, width: x1 - x0, height: y1 - y0, advance: g.advance}
	if out.width <= narrow {
		out.rows = make([]uint64, out.height)
		for y := range out.height {
			for x := range out.width {
				if black(x+x0, y+y0) {
					out.rows[y] |= 1 << (63 - x)
				}
			}
		}
		return out
	}
	out.stride = (out.width + 7) / 8
	out.bits = make([]byte, out.stride*out.height)
	for y := range out.height {
		for x := range out.width {
			if black(x+x0, y+y0) {
				out.bits[y*out.stride+x/8] |= 0x80 >> (x % 8)
			}
		}
	}
	return out
}

// measure is the ink of a text whose pen starts at 0 on the baseline at 0, and where the pen ends.
func (s *glyphs) measure(text string) (ink image.Rectangle, advance int) {
	first := true
	for _, r := range text {
		g := s.glyph(r)
		if g.width > 0 {
			x := advance + g.left
			if first {
				ink = image.Rect(x, g.top, x+g.width, g.top+g.height)
				first = false
			} else {
				ink.Min.X, ink.Max.X = min(ink.Min.X, x), max(ink.Max.X, x+g.width)
				ink.Min.Y, ink.Max.Y = min(ink.Min.Y, g.top), max(ink.Max.Y, g.top+g.height)
			}
		}
		advance += g.advance
	}
	return ink, advance
}
