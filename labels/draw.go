package labels

import (
	"fmt"
	"image"
	"math"
	"sync"
)

// Options say how a label is drawn.
type Options struct {
	DotsPerMM int  // 8, 12 or 24 on most printers; any whole number from 8 to 48
	Preview   bool // without its symbol, so that a picture on a screen or a trial print can never be scanned
}

// Drawer draws labels. It owns the typefaces and the characters drawn so far, so that later labels are cheap; it is
// safe for use by several goroutines, one label at a time.
type Drawer struct {
	mu    sync.Mutex
	fonts *fonts
}

// NewDrawer makes a drawer from the typefaces compiled in. It fails only if these are damaged.
func NewDrawer() (*Drawer, error) {
	f, err := newFonts()
	if err != nil {
		return nil, err
	}
	return &Drawer{fonts: f}, nil
}

// Draw makes one label's picture. What is missing is a [*ContentError], what cannot be drawn a [*CharacterError], what
// does not fit a [*FitError]; with an error there is no picture.
func (d *Drawer) Draw(l Layout, c Content, o Options) (*Picture, error) {
	if l.arrange == nil {
		return nil, fmt.Errorf("the layout is empty; take one from Layouts or NewLayout")
	}
	if o.DotsPerMM < MinDotsPerMM || o.DotsPerMM > MaxDotsPerMM {
		return nil, fmt.Errorf("%d dots/mm: labels are drawn at %d to %d; give the printer's own resolution", o.DotsPerMM, MinDotsPerMM, MaxDotsPerMM)
	}
	c, err := c.prepared()
	if err != nil {
		return nil, err
	}
	if err := c.check(l); err != nil {
		return nil, err
	}
	symbol, err := encode(c.says(l))
	if err != nil {
		return nil, err
	}
	laid := l.arrange(l, c)
	if err := symbol.place(l, laid.symbol, o.DotsPerMM); err != nil {
		return nil, err
	}
	bars, err := c.bars(l, laid.linear, o.DotsPerMM)
	if err != nil {
		return nil, err
	}

	d.mu.Lock()
	defer d.mu.Unlock()
	// All is fitted before a dot is set, so that a failure leaves nothing half drawn.
	setter := setter{fonts: d.fonts, layout: l, dotsPerMM: o.DotsPerMM, unit: l.scale * float64(o.DotsPerMM),
		lines: make([]line, 0, len(laid.slots)+1), spans: make([]placed, 0, 3*len(laid.slots))}
	if err := setter.fitAll(laid.slots); err != nil {
		return nil, err
	}
	p := newPicture(l, o.DotsPerMM)
	p.runs = make([]run, 0, len(setter.lines)+len(laid.rules)+1)
	for _, r := range laid.rules {
		setter.rule(p, r)
	}
	for _, fitted := range setter.lines {
		setter.paint(p, fitted)
	}
	if o.Preview {
		return p, setter.preview(p, symbol, bars)
	}
	p.Symbol, p.Linear = symbol, bars
	p.paintSymbol()
	p.paintLinear()
	return p, nil
}

// paintSymbol draws each dark module as a square of whole dots; neighbours in a row at once.
func (p *Picture) paintSymbol() {
	s := p.Symbol
	for row := range s.Modules {
		y := s.Y + row*s.ModuleDots
		for column := 0; column < s.Modules; column++ {
			end := s.darkUntil(column, row)
			if end == column {
				continue
			}
			p.fill(image.Rect(s.X+column*s.ModuleDots, y, s.X+end*s.ModuleDots, y+s.ModuleDots), black)
			column = end
		}
	}
	quiet := s.Quiet()
	p.runs = append(p.runs, run{slot: "symbol", box: quiet, ink: image.Rect(s.X, s.Y, s.X+s.Modules*s.ModuleDots, s.Y+s.Modules*s.ModuleDots)})
}

// rule draws a line between parts of a label.
func (t *setter) rule(p *Picture, b box) {
	r := t.dots(b)
	r.Max.Y = r.Min.Y + max(1, t.round(b.h))
	p.fill(r, black)
	p.runs = append(p.runs, run{slot: "rule", box: r, ink: r})
}

// preview hatches the places of the symbol and the bars, and says why there are none.
func (t *setter) preview(p *Picture, s *Symbol, bars *Linear) error {
	side := s.Modules * s.ModuleDots
	area := image.Rect(s.X, s.Y, s.X+side, s.Y+side)
	t.hatch(p, "preview", area)
	if bars != nil {
		t.hatch(p, "bars", image.Rect(bars.X, bars.Y, bars.X+bars.Modules*bars.ModuleDots, bars.Y+bars.Height))
	}
	st := setting{bold, wholeDots(smallWord, t.dotsPerMM)}
	const word = "preview"
	ink, _ := t.fonts.set(st).measure(word)
	pad := int(math.Ceil(0.3 * float64(t.dotsPerMM)))
	for ink.Dx()+2*pad > side-2 && st.cap > 4 {
		st.cap--
		ink, _ = t.fonts.set(st).measure(word)
	}
	at := image.Pt(area.Min.X+(side-ink.Dx())/2-ink.Min.X, area.Min.Y+(side-ink.Dy())/2-ink.Min.Y)
	ink = ink.Add(at)
	p.fill(ink.Inset(-pad), white)
	t.write(p, st, word, at.X, at.Y)
	return nil
}

// hatch fills a place with a frame and slanting lines.
func (t *setter) hatch(p *Picture, what string, area image.Rectangle) {
	pitch := wholeDots(0.9, t.dotsPerMM)
	for y := area.Min.Y; y < area.Max.Y; y++ {
		for x := area.Min.X; x < area.Max.X; x++ {
			onEdge := x == area.Min.X || y == area.Min.Y || x == area.Max.X-1 || y == area.Max.Y-1
			if onEdge || (x+y)%pitch == 0 {
				p.fill(image.Rect(x, y, x+1, y+1), black)
			}
		}
	}
	p.runs = append(p.runs, run{slot: what, box: area, ink: area})
}
