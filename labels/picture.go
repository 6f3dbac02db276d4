package labels

import (
	"image"
	"image/color"
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

	runs []run // what was drawn where, for tests
}

// Symbol says where a picture's Data Matrix stands, so that it can be drawn again as vectors or cropped.
type Symbol struct {
	X, Y       int // dots from the picture's left and top to the first module
	Modules    int // a side
	ModuleDots int // side of a module in dots

	dark []bool // row by row
}

// Dark reports whether a module is black; column and row count from 0 at the top left.
func (s *Symbol) Dark(column, row int) bool { return s.dark[row*s.Modules+column] }

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
	slot string
	text string
	box  image.Rectangle
	ink  image.Rectangle
	cap  int // capital height in dots, 0 for marks
}

func newPicture(l Layout, dotsPerMM int) *Picture {
	w, h := wholeDots(l.WidthMM, dotsPerMM), wholeDots(l.HeightMM, dotsPerMM)
	stride := (w + 7) / 8
	return &Picture{Layout: l.Name, Width: w, Height: h, Stride: stride, Bits: make([]byte, stride*h),
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

// fill blackens or whitens a rectangle, clipped to the picture.
func (p *Picture) fill(r image.Rectangle, black bool) {
	r = r.Intersect(p.Bounds())
	if r.Empty() {
		return
	}
	first, last := r.Min.X/8, (r.Max.X-1)/8
	head, tail := byte(0xff)>>(r.Min.X%8), byte(0xff)<<(7-(r.Max.X-1)%8)
	for y := r.Min.Y; y < r.Max.Y; y++ {
		row := p.Bits[y*p.Stride : (y+1)*p.Stride]
		for i := first; i <= last; i++ {
			mask := byte(0xff)
			if i == first {
				mask &= head
			}
			if i == last {
				mask &= tail
			}
			if black {
				row[i] |= mask
			} else {
				row[i] &^= mask
			}
		}
	}
}

// stamp lays a glyph's black dots over the picture with its top left at x, y; dots outside are left out, but callers
// have made sure that there are none.
func (p *Picture) stamp(g *glyph, x, y int) {
	for line := range g.height {
		if y+line < 0 || y+line >= p.Height {
			continue
		}
		row := p.Bits[(y+line)*p.Stride : (y+line+1)*p.Stride]
		source := g.bits[line*g.stride : (line+1)*g.stride]
		at, shift := x>>3, x&7
		for i, b := range source {
			if k := at + i; k >= 0 && k < len(row) {
				row[k] |= b >> shift
			}
			if k := at + i + 1; shift != 0 && k >= 0 && k < len(row) {
				row[k] |= b << (8 - shift)
			}
		}
	}
}

// invert swaps black and white in a rectangle.
func (p *Picture) invert(r image.Rectangle) {
	r = r.Intersect(p.Bounds())
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			p.Bits[y*p.Stride+x/8] ^= 0x80 >> (x % 8)
		}
	}
}
