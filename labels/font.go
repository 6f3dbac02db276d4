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

// glyph is one character in dots. Offsets are from the pen on the baseline to the top left of the bits.
type glyph struct {
	left, top     int
	width, height int
	stride        int
	bits          []byte
	advance       int
}

// fonts owns the parsed typefaces and the characters drawn so far. It grows with the number of different characters
// and sizes used, which the fonts bound, and is not safe for concurrent use.
type fonts struct {
	parsed [typefaces]*sfnt.Font
	faces  map[setting]font.Face
	ascii  map[setting]*[128]*glyph
	others map[setting]map[rune]*glyph
	buffer sfnt.Buffer
}

func newFonts() (*fonts, error) {
	f := &fonts{faces: map[setting]font.Face{}, ascii: map[setting]*[128]*glyph{}, others: map[setting]map[rune]*glyph{}}
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

// glyph is a character at a setting, drawn on first use.
func (f *fonts) glyph(s setting, r rune) *glyph {
	if r < 128 {
		table := f.ascii[s]
		if table == nil {
			table = new([128]*glyph)
			f.ascii[s] = table
		}
		if table[r] == nil {
			table[r] = f.draw(s, r)
		}
		return table[r]
	}
	table := f.others[s]
	if table == nil {
		table = map[rune]*glyph{}
		f.others[s] = table
	}
	g := table[r]
	if g == nil {
		g = f.draw(s, r)
		table[r] = g
	}
	return g
}

// draw makes a character's dots. Of four positions a quarter of a dot apart, it takes the one whose edges fall best on
// the grid, so that stems are equally wide and crisp; the pen still moves by whole dots.
func (f *fonts) draw(s setting, r rune) *glyph {
	face := f.faces[s]
	if face == nil {
		made, err := opentype.NewFace(f.parsed[s.face], &opentype.FaceOptions{Size: float64(s.cap) / capitalShare, DPI: 72, Hinting: font.HintingNone})
		if err != nil {
			return &glyph{} // cannot be: options of this shape have no error
		}
		face = made
		f.faces[s] = face
	}
	best, bestDoubt := (*glyph)(nil), 0.0
	for _, shift := range [...]fixed.Int26_6{0, 16, 32, 48} {
		bounds, mask, maskAt, advance, ok := face.Glyph(fixed.Point26_6{X: shift}, r)
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
func (f *fonts) measure(s setting, text string) (ink image.Rectangle, advance int) {
	for _, r := range text {
		g := f.glyph(s, r)
		if g.width > 0 {
			x, y := advance+g.left, g.top
			box := image.Rectangle{image.Pt(x, y), image.Pt(x+g.width, y+g.height)}
			if ink.Empty() {
				ink = box
			} else {
				ink = ink.Union(box)
			}
		}
		advance += g.advance
	}
	return ink, advance
}
