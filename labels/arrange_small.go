package labels

import "strings"

// Slides and small containers are exempt from what else CLSI AUTO12-A asks of a label: number, date and time, collector.
// Those stand on the pot's label and in the record; here two identifiers stand, name and birth date, with the code and
// the side.

// arrangePiece: on a cassette or tube there is room for the name on two lines beside the symbol, then birth date, case,
// piece and side, each at the least size.
func arrangePiece(l Layout, c Content) sheet {
	w, h := l.designed()
	const margin, pitch = 0.6, 2.43
	full := w - 2*margin
	foot := h - 0.5
	symbol := symbolBox{box: box{w - 7.6, 0, 7.6, 7.55}, right: w - margin, top: 0.75}
	beside := symbol.x - margin - 0.1
	casePart, piece, _ := strings.Cut(c.Code.Name().Printed(), " ")
	name := column{x: margin, w: beside, top: 0.1}
	name.line("name", 3.0, 2.25, MinRequiredMM, nil)
	name.line("given name", 6.5, 2.0, MinRequiredMM, nil)
	low := column{x: margin, w: full, top: symbol.h, hang: 0.17} // figures and capitals: of these only Q hangs
	low.line("identifiers", foot-2*pitch, 2.0, MinRequiredMM, one(bornSpans(c.Patient)))
	low.line("code", foot-pitch, 2.0, MinRequiredMM, one([]span{{text: casePart, face: mono}}))
	const pieceWidth = 8
	number, side := low, low
	number.slots, side.slots = nil, nil
	number.hang, side.hang = 0.25, 0.25
	number.w, side.x, side.w = pieceWidth, margin+pieceWidth, full-pieceWidth
	number.line("piece", foot, 2.0, MinRequiredMM, one([]span{{text: piece, face: monoBold}, {text: c.Code.Copy().String(), cap: smallWord, gap: 0.6}}))
	side.line("side", foot, 2.0, 1.5, sideLines(c, false)).align = right
	slots := append([]slot{nameBlock(c.Patient, name.slots[0], name.slots[1], plain, plain)}, low.slots...)
	return sheet{symbol: symbol, slots: append(append(slots, number.slots...), side.slots...)}
}

// sideLines is the side in capitals, bold if it fits: "left" and "right" always do.
func sideLines(c Content, underline bool) [][]span {
	if c.Side == "" {
		return nil
	}
	word := strings.ToUpper(c.Side)
	return [][]span{{{text: word, face: bold, underline: underline}}, {{text: word, underline: underline}}}
}

// arrangeSlide: the end of a slide is as high as it is wide, so the name has two full lines and the symbol is larger.
func arrangeSlide(l Layout, c Content) sheet {
	w, h := l.designed()
	const margin = 0.9
	full := w - 2*margin
	foot := h - 1
	piece := foot - 3.5 // baseline of the piece's number, and lower edge of the symbol
	symbol := symbolBox{box{w - 10.2, piece - 9.1, 10.2, 10.2}, w - margin, piece, 0}
	beside := symbol.x - margin - 0.3
	casePart, number, _ := strings.Cut(c.Code.Name().Printed(), " ")
	who := column{x: margin, w: full, top: 0.1}
	who.line("name", 3.1, 2.25, MinRequiredMM, nil)
	who.line("given name", 6.6, 2.0, MinRequiredMM, nil)
	who.line("identifiers", 9.4, 2.0, MinRequiredMM, one(bornSpans(c.Patient)))
	what := column{x: margin, w: beside, top: symbol.y}
	what.line("side", piece-6.45, 2.5, 1.5, sideLines(c, true))
	what.top += 0.3 // the bar under the side
	what.slots[0].box.h += 0.3
	what.line("organ", piece-3.75, 1.75, SmallestMM, one([]span{{text: c.Organ}})).optional = true
	what.line("piece", piece, 2.75, MinRequiredMM, one([]span{{text: number, face: monoBold}, {text: c.Code.Copy().String(), cap: smallWord, gap: 0.7}}))
	last := column{x: margin, w: full, top: symbol.y + symbol.h}
	last.line("code", foot, 2.125, MinRequiredMM, one([]span{{text: casePart, face: mono}}))
	slots := append([]slot{nameBlock(c.Patient, who.slots[0], who.slots[1], bold, plain)}, who.slots[2:]...)
	return sheet{symbol: symbol, slots: append(append(slots, what.slots...), last.slots...)}
}
