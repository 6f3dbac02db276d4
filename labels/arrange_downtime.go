package labels

import (
	"strings"

	"github.com/pottrail/pottrail/tracker"
)

// A downtime roll is for days without the daemon: only the code is printed, and who and what is written by hand. A
// written line is about 5 mm high where there is room (common practice, no source): it is more on 70 × 50 and 50 × 50 mm,
// 5 mm on 50 × 25, and on a piece's stock what is left of it, under 4 mm on 22 × 15, which takes a fine pen.
const (
	downtimeWide = 50  // width from which there is room for cases and pots, mm
	downtimeHigh = 45  // height from which every question has a line of its own, mm
	captionSmall = 1.5 // height of capitals of what introduces a written line, mm
	rowGap       = 0.3 // between what is written and the next line, mm
)

// blankForm is a downtime label as it is filled: rows of captions and lines to write on.
type blankForm struct{ slots []slot }

// put adds words at the foot of a row.
func (f *blankForm) put(name string, b box, cap float64, spans ...span) {
	least := SmallestMM
	if cap >= MinRequiredMM { // part of a code
		least = MinRequiredMM
	}
	f.slots = append(f.slots, slot{name: name, box: b, lines: one(spans), cap: cap, least: least, low: true})
}

// line adds a caption and a line to write on from there to the box's end.
func (f *blankForm) line(caption string, b box, captionWidth float64) {
	f.put("caption", box{b.x, b.y, captionWidth, b.h}, captionSmall, span{text: caption})
	f.put("line", box{b.x + captionWidth, b.y, b.w - captionWidth, b.h}, captionSmall, span{blank: toTheEnd})
}

// time adds a caption and two short lines with a colon between, for hours and minutes.
func (f *blankForm) time(caption string, b box, captionWidth float64) {
	f.put("caption", box{b.x, b.y, captionWidth, b.h}, captionSmall, span{text: caption})
	room := b.w - captionWidth
	f.put("line", box{b.x + captionWidth, b.y, room, b.h}, captionSmall,
		span{blank: room/2 - 0.7}, span{text: ":", face: bold, gap: 0.4}, span{blank: toTheEnd, gap: 0.4})
}

// sides adds both words, one of which is ringed: so that no abbreviation is written.
func (f *blankForm) sides(b box, cap, apart float64) {
	f.put("side", b, cap, span{text: "LEFT", face: bold}, span{text: "RIGHT", face: bold, gap: apart})
}

// code adds the code for people at the foot.
func (f *blankForm) code(c Content, b box, cap float64) {
	f.slots = append(f.slots, slot{name: "code", box: b, lines: one(codeSpans(c)), cap: cap, least: MinRequiredMM, low: true})
}

func arrangeDowntime(l Layout, c Content) sheet {
	switch {
	case l.WidthMM >= downtimeWide && l.HeightMM >= downtimeHigh:
		return downtimeLarge(l, c)
	case l.WidthMM >= downtimeWide:
		return downtimeLow(l, c)
	case l.HeightMM >= 24 && l.WidthMM >= 24:
		return downtimeSquare(l, c)
	}
	return downtimeTiny(l, c)
}

// downtimeLarge gives every question a line of its own.
func downtimeLarge(l Layout, c Content) sheet {
	w, h := l.WidthMM, l.HeightMM
	full := w - 2*edge
	const foot, rows, letterWidth = 4.6, 7, 8
	row := (h - foot - 0.4) / rows
	at := func(i int) float64 { return 0.2 + float64(i)*row }
	high := row - rowGap
	side := min(18, foot+2*row)
	symbol := box{w - side - 0.3, h - side - 0.3, side, side}
	beside := symbol.x - edge - 1
	half := full/2 - 1
	var f blankForm
	const first, second = 9, 10
	thing := c.Code.Name().Thing()
	f.line("name", box{edge, at(0), full, high}, first)
	f.line("born", box{edge, at(1), half, high}, first)
	f.line("number", box{edge + half + 2, at(1), half, high}, second)
	f.sides(box{edge, at(2), 24, high}, 2.0, 3.5)
	f.line("site", box{edge + 24, at(2), full - 24, high}, 5)
	what := map[tracker.Thing]string{tracker.ThingCase: "asked for", tracker.ThingPot: "medium", tracker.ThingPiece: "what"}[thing]
	f.line(what, box{edge, at(3), full, high}, first)
	if thing == tracker.ThingCase {
		f.line("on", box{edge, at(4), half, high}, first)
		f.line("ward", box{edge + half + 2, at(4), half, high}, second)
		f.line("by", box{edge, at(5), beside, high}, first)
	} else {
		f.line("taken on", box{edge, at(4), half, high}, first)
		f.time("at", box{edge + half + 2, at(4), half, high}, second)
		f.time("into fixative", box{edge, at(5), beside, high}, 13)
		f.line("by", box{edge, at(6), beside, high}, first)
	}
	f.code(c, box{edge, h - foot, beside, foot - 0.6}, 2.5)
	return sheet{symbol: symbol, slots: f.slots}
}

// downtimeLow is for stock as low as a pot's printed label: four rows to write on and the code.
func downtimeLow(l Layout, c Content) sheet {
	w, h := l.WidthMM, l.HeightMM
	full := w - 2*edge
	const foot, rows = 4.4, 4
	row := (h - foot - 0.2) / rows
	at := func(i int) float64 { return 0.1 + float64(i)*row }
	high := row - rowGap
	side := min(12, foot+row-0.9)
	symbol := box{w - side - 0.3, h - side - 0.2, side, side}
	beside := symbol.x - edge - 0.4
	half := full/2 - 0.7
	var f blankForm
	thing := c.Code.Name().Thing()
	f.line("name", box{edge, at(0), full, high}, 6)
	f.line("born", box{edge, at(1), half, high}, 6)
	f.line("number", box{edge + half + 1.4, at(1), half, high}, 7.5)
	f.sides(box{edge, at(2), 17, high}, 1.75, 2.5)
	f.line("site", box{edge + 17, at(2), 15, high}, 4)
	switch thing {
	case tracker.ThingCase:
		f.line("for", box{edge + 33, at(2), full - 33, high}, 4)
		f.line("on", box{edge, at(3), beside, high}, 6)
	case tracker.ThingPot:
		f.line("in", box{edge + 33, at(2), full - 33, high}, 3)
	case tracker.ThingPiece:
		f.line("what", box{edge + 33, at(2), full - 33, high}, 5)
	}
	if thing != tracker.ThingCase {
		taken := beside*0.44 - 0.6
		f.time("taken", box{edge, at(3), taken, high}, 6)
		f.time("into fixative", box{edge + taken + 1.2, at(3), beside - taken - 1.2, high}, 10.5)
	}
	const code = 29
	f.code(c, box{edge, h - foot, code, foot - 0.5}, 2.0)
	f.line("by", box{edge + code, h - foot, beside - code, foot - 0.5}, 3)
	return sheet{symbol: symbol, slots: f.slots}
}

// downtimeSquare is for the end of a slide.
func downtimeSquare(l Layout, c Content) sheet {
	w, h := l.WidthMM, l.HeightMM
	const margin = 0.9
	full := w - 2*margin
	const side, foot = 8, 3.3
	casePart, piece, _ := strings.Cut(c.Code.Name().Printed(), " ")
	row := (h - foot - side - 0.6) / 3
	symbol := box{w - side - 0.3, h - foot - side - row - 0.1, side, side}
	beside := symbol.x - margin - 0.3
	var f blankForm
	f.line("name", box{margin, 0.2, full, row - rowGap}, 5)
	f.line("born", box{margin, 0.2 + row, full, row - rowGap}, 5)
	f.put("piece", box{margin, symbol.y + 0.3, beside, 3}, 2.0, span{text: piece, face: monoBold}, span{text: c.Code.Copy().String(), cap: smallWord, gap: 0.7})
	f.sides(box{margin, symbol.y + 3.4, beside, side - 3.6}, 1.75, 1.8)
	f.time("into fixative", box{margin, h - foot - row, full, row - rowGap}, 11)
	f.put("code", box{margin, h - foot + 0.1, full, foot - 0.3}, 2.0, span{text: casePart, face: mono})
	return sheet{symbol: symbol, slots: f.slots}
}

// downtimeTiny is for a cassette or tube: name and birth date beside the symbol, then the piece, the time into fixative
// and the code over the full width.
func downtimeTiny(l Layout, c Content) sheet {
	w, h := l.WidthMM, l.HeightMM
	const margin, foot, side = 0.6, 2.6, 7.5
	full := w - 2*margin
	symbol := box{w - side - 0.2, 0.2, side, side}
	beside := symbol.x - margin - 0.1
	casePart, piece, _ := strings.Cut(c.Code.Name().Printed(), " ")
	row := (side + 0.3) / 2
	var f blankForm
	f.line("name", box{margin, 0.1, beside, row - rowGap}, 4.9)
	f.line("born", box{margin, 0.1 + row, beside, row - rowGap}, 4.9)
	y := 0.3 + side
	f.put("piece", box{margin, y, 8, h - foot - y}, 2.0, span{text: piece, face: monoBold}, span{text: c.Code.Copy().String(), cap: smallWord, gap: 0.5})
	f.time("fixed", box{margin + 8, y, full - 8, h - foot - y}, 5)
	f.put("code", box{margin, h - foot, full, foot - 0.1}, 2.0, span{text: casePart, face: mono})
	return sheet{symbol: symbol, slots: f.slots}
}
