package labels

import (
	"errors"
	"fmt"
	"image"
	"math"
)

// setter fits lines of text into their boxes and paints them.
type setter struct {
	fonts     *fonts
	layout    Layout
	dotsPerMM int
	unit      float64 // dots for one millimetre of the design: more than dotsPerMM where all is set larger
	lines     []line
	spans     []placed // of all lines, so that a label costs one piece of memory for them
}

// line is a slot fitted: every span has its pen and its size.
type line struct {
	slot       string
	box        image.Rectangle
	first, end int // in setter.spans
}

// placed is a span with the pen at the start of its baseline.
type placed struct {
	span
	setting setting
	x, y    int
	ink     image.Rectangle // of text, chip or blank, without an underline
}

// dots is a box in dots; its edges are rounded to the nearest.
func (t *setter) dots(b box) image.Rectangle {
	return image.Rect(t.round(b.x), t.round(b.y), t.round(b.x+b.w), t.round(b.y+b.h))
}

// round is a length of the design in whole dots.
func (t *setter) round(mm float64) int { return int(math.Round(mm * t.unit)) }

// least is the fewest dots that capitals of a least height may have. It is a height on paper, however large the stock.
func (t *setter) least(mm float64) int { return int(math.Ceil(mm*float64(t.dotsPerMM) - 1e-6)) }

// Room kept above and below capitals when a line is centred in its box, in heights of capitals: accents on capitals
// rise by about a third, and descenders fall by about a third.
const (
	accentRoom    = 0.36
	descenderRoom = 0.33
)

// fit finds the first way of saying a slot, at the largest size, that is wholly inside its box. An empty slot, or an
// optional one that does not fit, gives nothing.
func (t *setter) fit(s slot) error {
	if len(s.alternatives) > 0 {
		return t.fitAny(s.alternatives)
	}
	if s.paragraph != "" {
		return t.fitParagraph(s)
	}
	if len(s.lines) == 0 || isBlank(s.lines[0]) {
		return nil
	}
	if err := t.drawable(s); err != nil {
		return err
	}
	r := t.dots(s.box)
	least := t.least(s.least)
	most := max(least, t.round(s.cap))
	// First smaller type, and only then fewer characters.
	for i, spans := range s.lines {
		from := most
		if i > 0 {
			from = least
		}
		for cap := from; cap >= least; {
			width, ok := t.try(s, spans, r, cap)
			if ok {
				return nil
			}
			// Far too wide: go on near where it may fit. One more than in proportion, since widths are whole dots.
			cap = min(cap-1, cap*r.Dx()/max(width, 1)+1)
		}
	}
	if s.optional {
		return nil
	}
	return t.unfit(s)
}

func (t *setter) unfit(s slot) error {
	return &FitError{Layout: t.layout.Name, Field: s.name, Detail: fmt.Sprintf(
		"it does not fit its %.1f × %.1f mm with capitals of %.2f mm, the least allowed there%s; %s",
		s.box.w*t.layout.scale, s.box.h*t.layout.scale, s.least, shortened(s), remedy(s))}
}

// fitAll fits slots one after another; the first that fails ends it.
func (t *setter) fitAll(slots []slot) error {
	for _, s := range slots {
		if err := t.fit(s); err != nil {
			return err
		}
	}
	return nil
}

// fitAny fits the first of several alternatives that fits as a whole.
func (t *setter) fitAny(alternatives [][]slot) error {
	lines, spans := len(t.lines), len(t.spans)
	var err error
	for _, slots := range alternatives {
		var unfit *FitError
		if err = t.fitAll(slots); !errors.As(err, &unfit) {
			return err // nil, or no question of room
		}
		t.lines, t.spans = t.lines[:lines], t.spans[:spans]
	}
	return err
}

// drawable refuses a character that the typeface lacks, in whatever way the slot would be said.
func (t *setter) drawable(s slot) error {
	for _, spans := range s.lines {
		for _, sp := range spans {
			if r, position, lacking := t.fonts.lacks(sp.face, sp.text); lacking {
				return &CharacterError{Field: s.name, Character: r, Position: position,
					Detail: "the label's typeface has no drawing of it; write it in another accepted form"}
			}
		}
	}
	return nil
}

func shortened(s slot) string {
	if len(s.lines) > 1 {
		return ", even shortened"
	}
	return ""
}

func remedy(s slot) string {
	switch s.name {
	case "name", "given name":
		return "use larger stock, or write the name by hand on a label for that"
	}
	return "use larger stock or fewer words"
}

func isBlank(spans []span) bool {
	for _, s := range spans {
		if s.text != "" || s.blank != 0 {
			return false
		}
	}
	return true
}

// baseline is where a line stands in its box: as laid out, on the box's foot, or so that it is centred with room for
// accents above and descenders below.
func (t *setter) baseline(s slot, r image.Rectangle, cap int) int {
	if s.base != 0 {
		return t.round(s.base)
	}
	if s.low {
		return r.Max.Y - int(math.Ceil(descenderRoom*float64(cap)))
	}
	slack := float64(r.Dy()) - (1+accentRoom+descenderRoom)*float64(cap)
	return r.Min.Y + int(math.Round(slack/2+(1+accentRoom)*float64(cap)))
}

// try sets one way of saying a slot at one size, and keeps it if it is wholly inside the box. It says how wide it is.
func (t *setter) try(s slot, spans []span, r image.Rectangle, cap int) (width int, ok bool) {
	n := t.unit
	baseline := t.baseline(s, r, cap)
	first := len(t.spans)
	pen := r.Min.X
	var ink image.Rectangle
	for _, sp := range spans {
		if sp.text == "" && sp.blank == 0 {
			continue
		}
		p := placed{span: sp, y: baseline, setting: setting{sp.face, cap}}
		switch {
		case sp.cap != 0:
			p.setting.cap = max(min(cap, t.round(sp.cap)), t.least(SmallestMM))
		case sp.scale != 0:
			p.setting.cap = max(int(math.Round(float64(cap)*sp.scale)), t.least(SmallestMM))
		}
		if len(t.spans) > first {
			pen += int(math.Round(sp.gap * n))
		}
		pad := 0
		if sp.inverse {
			pad = max(2, int(math.Round(0.3*float64(p.setting.cap))))
		}
		p.x = pen + pad
		if sp.blank != 0 {
			end := pen + int(math.Round(sp.blank*n))
			if sp.blank == toTheEnd {
				end = r.Max.X
			}
			p.ink = image.Rect(pen, baseline, end, baseline+max(1, t.dotsPerMM/8))
			pen = p.ink.Max.X
		} else {
			textInk, advance := t.fonts.set(p.setting).measure(sp.text)
			if len(t.spans) == first && !sp.inverse {
				p.x -= textInk.Min.X // the first stem stands on the box's edge, so that lines are flush
			}
			p.ink = textInk.Add(image.Pt(p.x, baseline))
			pen = p.x + advance
			if sp.inverse {
				p.ink = p.chip(pad)
				pen = p.ink.Max.X
			}
		}
		t.spans = append(t.spans, p)
		ink = ink.Union(p.ink)
		if sp.underline {
			ink = ink.Union(t.underline(&p))
		}
	}
	// What rises or falls over the edge of a low box is moved in, if the whole is not too high for it.
	var by image.Point
	if s.align == right {
		by.X = r.Max.X - ink.Max.X
	}
	by.Y = max(0, r.Min.Y-ink.Min.Y)
	by.Y -= max(0, ink.Max.Y+by.Y-r.Max.Y)
	if !ink.Add(by).In(r) {
		t.spans = t.spans[:first]
		return ink.Dx(), false
	}
	for i := first; i < len(t.spans); i++ {
		t.spans[i].x += by.X
		t.spans[i].y += by.Y
		t.spans[i].ink = t.spans[i].ink.Add(by)
	}
	t.lines = append(t.lines, line{slot: s.name, box: r, first: first, end: len(t.spans)})
	return ink.Dx(), true
}

// chip is the black box behind inverse text: as high for every word, so that it is calm.
func (p *placed) chip(pad int) image.Rectangle {
	return image.Rect(p.ink.Min.X-pad, min(p.ink.Min.Y, p.y-p.setting.cap)-pad/2-1, p.ink.Max.X+pad, max(p.ink.Max.Y, p.y+pad/3)+pad/2+1)
}

// underline is the bar under a span; its thickness is that of a bold stem.
func (t *setter) underline(p *placed) image.Rectangle {
	thick := max(2, int(math.Round(0.14*float64(p.setting.cap))))
	top := p.y + max(1, int(math.Round(0.16*float64(p.setting.cap))))
	return image.Rect(p.ink.Min.X, top, p.ink.Max.X, top+thick)
}

// paint sets a fitted line's dots.
func (t *setter) paint(p *Picture, l line) {
	var ink image.Rectangle
	spans := t.spans[l.first:l.end:l.end]
	for i := range spans {
		sp := &spans[i]
		if sp.blank != 0 {
			p.fill(sp.ink, black)
		} else {
			t.write(p, sp.setting, sp.text, sp.x, sp.y)
		}
		if sp.inverse {
			p.fill(sp.ink, inverted)
		}
		ink = ink.Union(sp.ink)
		if sp.underline {
			bar := t.underline(sp)
			p.fill(bar, black)
			ink = ink.Union(bar)
		}
	}
	p.runs = append(p.runs, run{slot: l.slot, box: l.box, ink: ink, spans: spans})
}

// write stamps the characters of a text with the pen at x on the baseline y.
func (t *setter) write(p *Picture, s setting, text string, x, y int) {
	set := t.fonts.set(s)
	for _, r := range text {
		g := set.glyph(r)
		if g.width > 0 {
			p.stamp(g, x+g.left, y+g.top)
		}
		x += g.advance
	}
}
