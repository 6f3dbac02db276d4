package web

import (
	"math"
	"slices"
	"time"
	"unicode/utf8"

	"github.com/pottrail/pottrail/cmd/internal/say"
	"github.com/pottrail/pottrail/tracker"
)

// drawing is the trail of a case as a picture: a line for each pot, its places as bands. The time axis is schematic: a
// stretch is as wide as the logarithm of its length, so that minutes in the room and weeks at the laboratory both show.
type drawing struct {
	Width, Height int
	Rows          []drawnPot
	Ticks         []drawnTick
	Axis          int // height of the time axis
	TickY         int // of its words
	NowX          int
	Label         string
}

type drawnPot struct {
	Y      int // of the bands
	NameY  int
	NoteY  int
	TextY  int // inside the bands
	MarkY  int // below them
	Bottom int // of the bands
	Name   string
	Medium string
	Bands  []drawnBand
	Marks  []drawnMark
}

type drawnBand struct {
	X, Width int
	TextX    int
	Class    string // one of three, in turn
	Text     string // as much of the place as fits
	Title    string
}

type drawnMark struct {
	X    int
	EndY int // of its stroke
	Text string
}

type drawnTick struct {
	X    int
	Text string
}

// Measures of the drawing in units of its own, which are pixels at its full width.
const (
	drawnWidth = 1120
	drawnLeft  = 120 // names of pots
	drawnRight = 20
	rowHeight  = 62
	bandHeight = 28
	daySpace   = 124 // a day and a time of day fit
	clockSpace = 48  // a time of day fits
	markSpace  = 62
	letter     = 7 // roughly, of the small type
)

// draw draws the pots that something happened to; nil when there are none.
func (s *Server) draw(name tracker.Name, all []*tracker.Event, zone *time.Location, now time.Time) *drawing {
	c := tracker.Fold(name, all)
	var pots []*tracker.Pot
	instants := []time.Time{now}
	for _, p := range c.Pots {
		if at := potInstants(c, p); len(at) > 0 {
			pots = append(pots, p)
			instants = append(instants, at...)
		}
	}
	if len(pots) == 0 {
		return nil
	}
	axis := newAxis(instants)
	d := &drawing{Width: drawnWidth, Axis: len(pots)*rowHeight + 24, Label: "Where each pot was, and since when; the list below says the same"}
	d.TickY, d.Height, d.NowX = d.Axis+18, d.Axis+28, axis.x(now)
	for i, p := range pots {
		d.Rows = append(d.Rows, s.drawPot(c, p, axis, 24+i*rowHeight, now))
	}
	d.Ticks = axis.ticks(zone)
	return d
}

// potInstants are the instants at which something about a pot changed.
func potInstants(c *tracker.Case, p *tracker.Pot) []time.Time {
	var at []time.Time
	for s := range c.PiecesIn(p.Name) {
		if !s.Taken.When.IsZero() {
			at = append(at, s.Taken.When)
		}
		if !s.Potted.When.IsZero() {
			at = append(at, s.Potted.When)
		}
	}
	for _, held := range p.Custody {
		at = append(at, held.When)
	}
	for _, seal := range p.Seals {
		at = append(at, seal.When)
	}
	if p.Loaded != nil {
		at = append(at, p.Loaded.When)
	}
	return at
}

func (s *Server) drawPot(c *tracker.Case, p *tracker.Pot, a axis, y int, now time.Time) drawnPot {
	row := drawnPot{Y: y, NameY: y + 12, NoteY: y + 28, TextY: y + 18, MarkY: y + bandHeight + 18, Bottom: y + bandHeight, Name: "Pot " + p.Name.Letter()}
	if p.Plan != nil {
		row.Medium = p.Plan.Medium
	}
	if n := len(p.Fillings); n > 0 {
		row.Medium = p.Fillings[n-1].Medium
	}
	first := slices.MinFunc(potInstants(c, p), time.Time.Compare)
	band := func(from, to time.Time, place, who string) {
		x, end := a.x(from), a.x(to)
		text := place
		if most := (end - x - 8) / letter; utf8.RuneCountInString(text) > most {
			text = ""
		}
		title := place + ", since " + say.Instant(from, s.o.Board.Zone(p.Name.Clinic()), now)
		if who != "" {
			title += ", " + who
		}
		row.Bands = append(row.Bands, drawnBand{X: x, Width: max(2, end-x-1), TextX: x + 6, Class: [...]string{"band-a", "band-b", "band-c"}[len(row.Bands)%3], Text: text, Title: title})
	}
	clinic := p.Name.Clinic()
	held := slices.Clone(p.Custody)
	if len(held) == 0 || held[0].When.After(first) {
		until := now
		if len(held) > 0 {
			until = held[0].When
		}
		band(first, until, s.o.Board.PlaceName(clinic, roomOf(c)), "")
	}
	for i, h := range held {
		until := now
		if i+1 < len(held) {
			until = held[i+1].When
		}
		band(h.When, until, s.o.Board.PlaceName(clinic, h.Place), h.Holder)
	}
	last := -markSpace
	mark := func(t time.Time, text string) {
		if t.IsZero() || a.x(t)-last < markSpace {
			return
		}
		last = a.x(t)
		row.Marks = append(row.Marks, drawnMark{X: last, EndY: row.Bottom + 5, Text: text + " " + t.In(s.o.Board.Zone(clinic)).Format("15:04")})
	}
	for piece := range c.PiecesIn(p.Name) {
		mark(piece.Taken.When, "out")
	}
	if n := len(p.Seals); n > 0 {
		mark(p.Seals[n-1].When, "sealed")
	}
	if p.Loaded != nil {
		mark(p.Loaded.When, "loaded")
	}
	return row
}

func roomOf(c *tracker.Case) string {
	if n := len(c.Checks); n > 0 && c.Checks[n-1].Room != "" {
		return c.Checks[n-1].Room
	}
	if c.Request.Room != "" {
		return c.Request.Room
	}
	return "room"
}

// axis places instants from left to right.
type axis struct {
	at []time.Time // sorted, each once
	to []int
}

func newAxis(instants []time.Time) axis {
	slices.SortFunc(instants, time.Time.Compare)
	a := axis{at: slices.CompactFunc(instants, time.Time.Equal)}
	places := make([]float64, len(a.at))
	for i := 1; i < len(a.at); i++ {
		places[i] = places[i-1] + math.Log2(2+a.at[i].Sub(a.at[i-1]).Minutes())
	}
	whole := math.Max(1, places[len(places)-1])
	for _, p := range places {
		a.to = append(a.to, drawnLeft+int(p/whole*(drawnWidth-drawnLeft-drawnRight)))
	}
	return a
}

// x is the place of an instant that the axis was made with.
func (a axis) x(t time.Time) int {
	i, _ := slices.BinarySearchFunc(a.at, t, time.Time.Compare)
	return a.to[min(i, len(a.to)-1)]
}

// ticks are the instants that there is room to name: the day is said once.
func (a axis) ticks(zone *time.Location) []drawnTick {
	var out []drawnTick
	free, day := 0, ""
	for _, t := range a.at {
		local, space := t.In(zone), daySpace
		text := local.Format("Mon 2 Jan 15:04")
		if local.Format(time.DateOnly) == day {
			text, space = local.Format("15:04"), clockSpace
		}
		x := a.x(t)
		if x < free || x+space > drawnWidth {
			continue
		}
		out = append(out, drawnTick{X: x, Text: text})
		free, day = x+space, local.Format(time.DateOnly)
	}
	return out
}
