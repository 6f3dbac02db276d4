package labels

import (
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"log/slog"
)

// Picture is one label in dots: one bit each, 1 is black, rows of whole bytes with the leftmost dot in the highest bit.
// Padding bits are 0. It is an [image.Image]. Callers must not change it.
type Picture struct {
	Layout    string // name of the layout it was drawn by
	Width     int    // dots
	Height    int    // dots
	Stride    int    // bytes a row
	Bits      []byte // Stride × Height
	DotsPerMM int
	WidthMM   float64 // of the label's stock, millimetres; the dots may fall short of it by part of one
	HeightMM  float64
	Symbol    *Symbol // nil in a preview
	Linear    *Linear // the same code as bars; nil where there are none

	runs []run // what was drawn where, for tests
}

// Format writes which label it is and how large, whatever the verb: a picture shows a patient and is no matter for logs.
func (p *Picture) Format(state fmt.State, _ rune) {
	_, _ = fmt.Fprintf(state, "[%s label, %d × %d dots]", p.Layout, p.Width, p.Height)
}

// LogValue is as short as [Picture.Format].
func (p *Picture) LogValue() slog.Value { return slog.StringValue(fmt.Sprint(p)) }

// Symbol says where a picture's Data Matrix stands, so that it can be drawn again as vectors or cropped.
type Symbol struct {
	X, Y       int // dots from the picture's left and top to the first module
	Modules    int // a side
	ModuleDots int // side of a module in dots

	dark []bool // row by row
}

// Dark reports whether a module is black; column and row count from 0 at the top left.
func (s *Symbol) Dark(column, row int) bool { return s.dark[row*s.Modules+column] }

// darkUntil is the first column from the given one on that is not dark.
func (s *Symbol) darkUntil(column, row int) int {
	for column < s.Modules && s.Dark(column, row) {
		column++
	}
	return column
}

// ModuleMM is the side of a module in millimetres on a printer with so many dots.
func (s *Symbol) ModuleMM(dotsPerMM int) float64 { return float64(s.ModuleDots) / float64(dotsPerMM) }

// Quiet is the square of the symbol with the white that belongs to it.
func (s *Symbol) Quiet() image.Rectangle {
	margin := QuietModules * s.ModuleDots
	side := s.Modules * s.ModuleDots
	return image.Rect(s.X-margin, s.Y-margin, s.X+side+margin, s.Y+side+margin)
}

// run is one piece of text or one mark on the label: the box it was given and the dots it took.
type run struct {
	slot  string
	box   image.Rectangle
	ink   image.Rectangle
	spans []placed
}

func newPicture(l Layout, dotsPerMM int) *Picture {
	w, h := wholeDots(l.WidthMM, dotsPerMM), wholeDots(l.HeightMM, dotsPerMM)
	stride := (w + 7) / 8
	// Room for one word past the end lets stamp write whole words.
	return &Picture{Layout: l.Name, Width: w, Height: h, Stride: stride, Bits: make([]byte, stride*h, stride*h+8),
		DotsPerMM: dotsPerMM, WidthMM: l.WidthMM, HeightMM: l.HeightMM}
}

// Black reports whether the dot is black; outside the picture it is white.
func (p *Picture) Black(x, y int) bool {
	if x < 0 || y < 0 || x >= p.Width || y >= p.Height {
		return false
	}
	return p.Bits[y*p.Stride+x/8]&(0x80>>(x%8)) != 0
}

// ColorModel is gray.
func (p *Picture) ColorModel() color.Model { return color.GrayModel }

// Bounds are the picture's dots.
func (p *Picture) Bounds() image.Rectangle { return image.Rect(0, 0, p.Width, p.Height) }

// At is black or white.
func (p *Picture) At(x, y int) color.Color {
	if p.Black(x, y) {
		return color.Gray{}
	}
	return color.Gray{Y: 255}
}

// ink is what is done to a rectangle's dots.
type ink uint8

const (
	black ink = iota
	white
	inverted
)

// fill blackens, whitens or inverts a rectangle, clipped to the picture.
func (p *Picture) fill(r image.Rectangle, with ink) {
	r = r.Intersect(p.Bounds())
	if r.Empty() {
		return
	}
	first, last := r.Min.X/8, (r.Max.X-1)/8
	head, tail := byte(0xff)>>(r.Min.X%8), byte(0xff)<<(7-(r.Max.X-1)%8)
	for y := r.Min.Y; y < r.Max.Y; y++ {
		row := p.Bits[y*p.Stride+first : y*p.Stride+last+1]
		for i := range row {
			mask := byte(0xff)
			if i == 0 {
				mask = head
			}
			if i == last-first {
				mask &= tail
			}
			switch with {
			case black:
				row[i] |= mask
			case white:
				row[i] &^= mask
			case inverted:
				row[i] ^= mask
			}
		}
	}
}

// stamp lays a glyph's black dots over the picture with its top left at x, y. Callers have made sure that it is wholly
// inside; one that is not is left out, since half a character could be taken for another.
func (p *Picture) stamp(g *glyph, x, y int) {
	if x < 0 || y < 0 || x+g.width > p.Width || y+g.height > p.Height {
		return
	}
	shift := x & 7
	at := y*p.Stride + x>>3
	if g.rows != nil {
		all := p.Bits[:len(p.Bits)+8]
		for _, row := range g.rows {
			word := all[at : at+8]
			binary.BigEndian.PutUint64(word, binary.BigEndian.Uint64(word)|row>>shift)
			at += p.Stride
		}
		return
	}
	for line := range g.height {
		for i, b := range g.bits[line*g.stride : (line+1)*g.stride] {
			p.Bits[at+i] |= b >> shift
			if spill := b << (8 - shift); spill != 0 {
				p.Bits[at+i+1] |= spill
			}
		}
		at += p.Stride
	}
}
