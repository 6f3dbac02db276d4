package labels

import (
	"fmt"
	"strings"
)

// Sheet is a page of adhesive places in rows and columns, for office printers. Lengths are in millimetres.
type Sheet struct {
	Name                        string // "a4-3x10"; empty for one made by hand
	PageWidthMM, PageHeightMM   float64
	LeftMM, TopMM               float64 // of the first place
	PitchXMM, PitchYMM          float64 // from one place's corner to the next
	PlaceWidthMM, PlaceHeightMM float64 // of the adhesive itself; labels stand in its middle
	Columns, Rows               int
	Used                        int // places already taken from the first page
}

// Sheets are the predefined ones: page sizes by ISO 216 (A4) and ANSI/ASME Y14.1 (letter), grids as adhesive sheets for
// office printers are sold. Common practice, no source for the grids: measure a sheet before printing on it.
func Sheets() []Sheet {
	a4 := Sheet{PageWidthMM: 210, PageHeightMM: 297}
	letter := Sheet{PageWidthMM: 215.9, PageHeightMM: 279.4}
	return []Sheet{
		a4.grid("a4-3x10", 3, 10, 60, 27, 60, 27),
		a4.grid("a4-3x8", 3, 8, 70, 37, 70, 37),
		a4.grid("a4-5x13", 5, 13, 40.6, 21.2, 38.1, 21.2),
		letter.grid("letter-3x10", 3, 10, 69.85, 25.4, 66.675, 25.4),
		letter.grid("letter-2x5", 2, 5, 106.4, 50.8, 101.6, 50.8),
	}
}

// grid is the page with its places in the middle.
func (s Sheet) grid(name string, columns, rows int, pitchX, pitchY, width, height float64) Sheet {
	s.Name, s.Columns, s.Rows = name, columns, rows
	s.PitchXMM, s.PitchYMM, s.PlaceWidthMM, s.PlaceHeightMM = pitchX, pitchY, width, height
	s.LeftMM = (s.PageWidthMM - float64(columns-1)*pitchX - width) / 2
	s.TopMM = (s.PageHeightMM - float64(rows-1)*pitchY - height) / 2
	return s
}

// SheetNamed finds a predefined sheet; the error lists them.
func SheetNamed(name string) (Sheet, error) {
	var names []string
	for _, s := range Sheets() {
		if s.Name == name {
			return s, nil
		}
		names = append(names, s.Name)
	}
	return Sheet{}, fmt.Errorf("sheet %q is unknown; there are %s", name, strings.Join(names, ", "))
}

// SheetA4 is 3 × 10 places on A4 for labels up to 60 × 27 mm, centred on the page.
func SheetA4() Sheet { return Sheets()[0] }

// Places is how many labels a page holds.
func (s Sheet) Places() int { return s.Columns * s.Rows }

// UsedAfter is how many places of the last page are taken once so many labels were written: 0 when it is full.
func (s Sheet) UsedAfter(labels int) int { return (s.Used + labels) % s.Places() }

// at is where a label's top left stands, and whether a page begins with it.
func (s Sheet) at(i int, p *Picture) (x, y float64, fresh bool) {
	place := (s.Used + i) % s.Places()
	width, height := s.place()
	fresh = i == 0 || place == 0
	if p == nil {
		return 0, 0, fresh
	}
	x = s.LeftMM + float64(place%s.Columns)*s.PitchXMM + max(0, width-p.WidthMM)/2
	y = s.TopMM + float64(place/s.Columns)*s.PitchYMM + max(0, height-p.HeightMM)/2
	return x, y, fresh
}

// Together spreads pictures over sheets so that a group stands on one: where it does not fit on what is left of a page, the
// rest is left free, as nil. A group larger than a page begins on a fresh one.
func (s Sheet) Together(groups [][]*Picture) []*Picture {
	var out []*Picture
	for _, group := range groups {
		if left := s.Places() - s.UsedAfter(len(out)); len(group) > left && left < s.Places() {
			out = append(out, make([]*Picture, left)...)
		}
		out = append(out, group...)
	}
	return out
}

// place is the size of the adhesive, by the pitch where it is not given.
func (s Sheet) place() (width, height float64) {
	width, height = s.PlaceWidthMM, s.PlaceHeightMM
	if width == 0 {
		width = s.PitchXMM
	}
	if height == 0 {
		height = s.PitchYMM
	}
	return width, height
}

func (s Sheet) check(pictures []*Picture) error {
	if s.Columns < 1 || s.Rows < 1 {
		return fmt.Errorf("a sheet of %d × %d places: give one column and one row at least", s.Columns, s.Rows)
	}
	if s.Used < 0 || s.Used >= s.Places() {
		return fmt.Errorf("%d places used of a sheet's %d: start with a fresh sheet", s.Used, s.Places())
	}
	width, height := s.place()
	// Written so that a NaN is refused too.
	if !(width <= s.PitchXMM || s.Columns == 1) || !(height <= s.PitchYMM || s.Rows == 1) {
		return fmt.Errorf("places of %g × %g mm overlap at a pitch of %g × %g mm; measure the sheet again", width, height, s.PitchXMM, s.PitchYMM)
	}
	const hair = 1e-6 // of a millimetre: sums of tenths are not exact
	right := s.LeftMM + float64(s.Columns-1)*s.PitchXMM + width
	bottom := s.TopMM + float64(s.Rows-1)*s.PitchYMM + height
	if !(s.LeftMM >= -hair && s.TopMM >= -hair && right <= s.PageWidthMM+hair && bottom <= s.PageHeightMM+hair) {
		return fmt.Errorf("the last place of the sheet ends at %g × %g mm, the page at %g × %g mm; use fewer places or measure the sheet again",
			right, bottom, s.PageWidthMM, s.PageHeightMM)
	}
	for i, p := range pictures {
		if p == nil {
			continue
		}
		if p.WidthMM > width+hair || p.HeightMM > height+hair {
			return fmt.Errorf("label %d is %g × %g mm, a place on the sheet %g × %g mm; use a sheet with larger places",
				i+1, p.WidthMM, p.HeightMM, width, height)
		}
	}
	return nil
}
