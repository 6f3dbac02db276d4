package labels

import (
	"strings"

	"github.com/pottrail/pottrail/tracker"
)

// DowntimeWideMM is the width, in millimetres, from which a label of a downtime roll has room to write who and what a case
// or a pot is.
const DowntimeWideMM = 50

// A downtime roll is for days without the daemon: only the code is printed, and who and what is written by hand. A
// written line is about 5 mm high where there is room (common practice, no source): it is more on 70 × 50 and 50 × 50 mm,
// 5 mm on 50 × 25, and on a piece's stock what is left of it, under 4 mm on 22 × 15, which takes a fine pen.
const (
	downtimeHigh = 45  // height from which every question has a line of its own, mm
	captionSmall = 1.5 // height of capitals of what introduces a written line, mm
	captionFoot  = 0.5 // from a row's lines to its end, where captions hang, mm
	rowGap       = 0.3 // between a row and the next, mm
)

// blankForm is a downtime label as it is filled: rows of captions and lines to write on, each row on one baseline.
type blankForm struct{ slots []slot }

// put adds words at the foot of a row.
func (f *blankForm) put(name string, b box, cap float64, spans ...span) {
	least := SmallestMM
	if name == "code" || name == "piece" {
		least = MinRequiredMM
	}
	f.slots = append(f.slots, slot{name: name, box: b, lines: one(spans), cap: cap, least: least, base: b.y + b.h - captionFoot})
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

func arrangeDowntime(l Layout, c Content) sheet {
	switch {
	case l.WidthMM >= DowntimeWideMM && l.HeightMM >= downtimeHigh:
		return downtimeLarge(l, c)
	case l.WidthMM >= DowntimeWideMM:
		return downtimeLow(l, c)
	case l.HeightMM >= 24 && l.WidthMM >= 24:
		return downtimeSquare(l, c)
	}
	return downtimeTiny(l, c)
}

// downtimeLarge gives every question a line of its own, or shares one where the stock is wide.
func downtimeLarge(l Layout, c Content) sheet {
	w, h := l.WidthMM, l.HeightMM
	full := w - 2*edge
	const foot, shares = 5.4, 65
	shared := w >= shares // born and number stand on one line
	rows, first, codeCap := 8, 9.5, 2.5
	if shared {
		rows, first, codeCap = 7, 13.5, 3
	}
	thing := c.Code.Name().Thing()
	if thing == tracker.ThingCase {
		rows-- // nothing of it goes into fixative
	}
	row := (h - foot - 0.2) / float64(rows)
	high := row - rowGap
	next := 0
	at := func(x, w float64) box { return box{edge + x, 0.2 + float64(next)*row, w, high} }
	side := min(18, foot+2*row-0.3)
	if thing == tracker.ThingCase {
		side = min(18, foot+row-0.3)
	}
	symbol := symbolBox{box{w - side - 0.3, h - side - 0.3, side + 0.3, side + 0.3}, w - edge, h - 1.4, 0}
	beside := symbol.x - edge - 1
	half := full/2 - 1
	const second = 9
	var f blankForm
	f.line("name", at(0, full), first)
	next++
	if shared {
		f.line("born", at(0, half), first)
		f.line("number", at(half+2, half), second)
	} else {
		f.line("born", at(0, full), first)
		next++
		f.line("number", at(0, full), first)
	}
	next++
	f.put("caption", at(0, first), captionSmall, span{text: "ring"})
	const sides = 18.5
	f.sides(at(first, sides), 2.0, 3)
	f.line("site", at(first+sides+1, full-first-sides-1), 4.5)
	next++
	what := map[tracker.Thing]string{tracker.ThingCase: "asked for", tracker.ThingPot: "medium", tracker.ThingPiece: "what"}[thing]
	f.line(what, at(0, full), first)
	next++
	if thing == tracker.ThingCase {
		f.line("on", at(0, half), first)
		f.line("room", at(half+2, half), second)
		next++
	} else {
		f.line("taken on", at(0, half), first)
		f.time("at", at(half+2, half), 3.5)
		next++
		f.time("into fixative", at(0, beside), max(first, 12))
		next++
	}
	f.line("by", at(0, beside), first)
	f.slots = append(f.slots, slot{name: "code", box: box{edge, h - foot + 0.2, beside, foot - 0.3}, base: symbol.bottom,
		lines: one(codeSpans(c)), cap: codeCap, least: MinRequiredMM})
	return sheet{symbol: symbol, slots: f.slots}
}

// downtimeLow is for stock as low as a pot's printed label: four rows to write on and the code.
func downtimeLow(l Layout, c Content) sheet {
	w, h := l.WidthMM, l.HeightMM
	full := w - 2*edge
	const foot, rows, first = 4.3, 4, 6.2
	row := (h - foot - 0.1) / rows
	at := func(i int, x, w float64) box { return box{edge + x, 0.1 + float64(i)*row, w, row - rowGap} }
	side := min(12, foot+row-0.8)
	symbol := symbolBox{box{w - side - 0.3, h - side, side + 0.3, side}, w - edge, h - 1.2, 0}
	beside := symbol.x - edge - 0.4
	half := full/2 - 0.7
	const site, what = 18, 33.5
	thing := c.Code.Name().Thing()
	var f blankForm
	f.line("name", at(0, 0, full), first)
	f.line("born", at(1, 0, half), first)
	f.line("number", at(1, half+1.4, half), 8.2)
	f.sides(at(2, 0, site-1), 1.75, 2.5)
	f.line("site", at(2, site, what-site-1.2), 4.2)
	switch thing {
	case tracker.ThingCase:
		f.line("for", at(2, what, full-what), 3.7)
		f.line("on", at(3, 0, beside), first)
	case tracker.ThingPot:
		f.line("in", at(2, what, full-what), 2.5)
	case tracker.ThingPiece:
		f.line("what", at(2, what, full-what), 5.4)
	}
	if thing != tracker.ThingCase {
		taken := beside*0.42 - 0.6
		f.time("taken", at(3, 0, taken), first)
		f.time("into fixative", at(3, taken+1.2, beside-taken-1.2), 11.3)
	}
	code := 28.0
	if thing == tracker.ThingPiece {
		code = 31.5
	}
	last := box{edge, h - foot + 0.2, code, symbol.bottom + captionFoot - h + foot - 0.2}
	f.put("code", last, 2.0, codeSpans(c)...)
	f.line("by", box{edge + code, last.y, beside - code, last.h}, 3)
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
	symbol := symbolBox{box: box{w - side - 0.3, h - foot - side - row - 0.1, side + 0.3, side}, right: w - margin, top: h - foot - side - row + 0.7}
	beside := symbol.x - margin - 0.3
	var f blankForm
	f.line("name", box{margin, 0.2, full, row - rowGap}, 5.6)
	f.line("born", box{margin, 0.2 + row, full, row - rowGap}, 5.6)
	f.put("piece", box{margin, symbol.y + 0.3, beside, 3}, 2.0, span{text: piece, face: monoBold}, span{text: c.Code.Copy().String(), cap: smallWord, gap: 0.7})
	f.sides(box{margin, symbol.y + 3.4, beside, side - 3.6}, 1.75, 1.8)
	f.time("into fixative", box{margin, h - foot - row, full, row - rowGap}, 11.4)
	f.put("code", box{margin, h - foot + 0.1, full, foot - 0.3}, 2.0, span{text: casePart, face: mono})
	return sheet{symbol: symbol, slots: f.slots}
}

// downtimeTiny is for a cassette or tube: name and birth date beside the symbol, then the piece, the time into fixative
// and the code over the full width.
func downtimeTiny(l Layout, c Content) sheet {
	w, h := l.WidthMM, l.HeightMM
	const margin, foot, side = 0.6, 2.9, 7.5
	full := w - 2*margin
	symbol := symbolBox{box: box{w - side - 0.2, 0, side + 0.2, side + 0.1}, right: w - margin, top: 0.75}
	beside := symbol.x - margin - 0.1
	casePart, piece, _ := strings.Cut(c.Code.Name().Printed(), " ")
	row := (side+0.1)/2 + (h-15)/3 // on higher stock all three rows grow
	var f blankForm
	f.line("name", box{margin, 0.1, beside, row - 0.1}, 5.3)
	f.line("born", box{margin, 0.1 + row, beside, row - 0.1}, 5.3)
	y := 0.1 + 2*row
	f.put("piece", box{margin, y, 8, h - foot - y}, 2.0, span{text: piece, face: monoBold}, span{text: c.Code.Copy().String(), cap: smallWord, gap: 0.5})
	f.time("fixed", box{margin + 8, y, full - 8, h - foot - y}, 5.2)
	f.put("code", box{margin, h - foot, full, foot - 0.1}, 2.0, span{text: casePart, face: mono})
	return sheet{symbol: symbol, slots: f.slots}
}
