package labels

import "strings"

// arrangePiece: on a cassette or tube there is room for the name on two lines beside the symbol, then birth date, case,
// piece and side, each at the least size.
func arrangePiece(l Layout, c Content) sheet {
	w, h := l.designed()
	const margin = 0.6
	full := w - 2*margin
	symbol := box{w - 7.7, 0.2, 7.5, 7.5}
	beside := symbol.x - margin - 0.1
	casePart, piece, _ := strings.Cut(c.Code.Name().Printed(), " ")
	s := sheet{symbol: symbol, slots: []slot{
		nameBlock(c.Patient,
			slot{name: "name", box: box{margin, 0.1, beside, 3.4}, cap: 2.25, least: MinRequiredMM},
			slot{name: "given name", box: box{margin, 3.5, beside, 3.4}, cap: 2.0, least: MinRequiredMM}, plain, plain),
		{name: "identifiers", box: box{margin, h - 7.3, full, 2.15}, lines: one(bornSpans(c.Patient)), cap: 2.0, least: MinRequiredMM},
		{name: "code", box: box{margin, h - 5.1, full, 2.45}, lines: one([]span{{text: casePart, face: mono}}), cap: 2.0, least: MinRequiredMM},
		{name: "piece", box: box{margin, h - 2.6, 8, 2.45}, lines: one([]span{{text: piece, face: monoBold},
			{text: c.Code.Copy().String(), cap: smallWord, gap: 0.6}}), cap: 2.0, least: MinRequiredMM},
		{name: "side", box: box{margin + 8, h - 2.6, full - 8, 2.45}, lines: sideLines(c, false), cap: 2.0, least: 1.5, align: right},
	}}
	return s
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
	symbol := box{w - 10.3, h - 13.7, 10, 10}
	beside := symbol.x - margin - 0.3
	casePart, piece, _ := strings.Cut(c.Code.Name().Printed(), " ")
	top := symbol.y
	s := sheet{symbol: symbol, slots: []slot{
		nameBlock(c.Patient,
			slot{name: "name", box: box{margin, 0.2, full, 3.8}, cap: 2.25, least: MinRequiredMM},
			slot{name: "given name", box: box{margin, 4.0, full, 3.4}, cap: 2.0, least: MinRequiredMM}, bold, plain),
		{name: "identifiers", box: box{margin, 7.5, full, 2.4}, lines: one(bornSpans(c.Patient)), cap: 2.0, least: MinRequiredMM},
		{name: "side", box: box{margin, top + 0.3, beside, 3.6}, lines: sideLines(c, true), cap: 2.5, least: 1.5},
		{name: "organ", box: box{margin, top + 3.9, beside, 2.5}, lines: one([]span{{text: c.Organ}}), cap: 1.75, least: SmallestMM, optional: true},
		{name: "piece", box: box{margin, top + 6.6, beside, 3.3}, lines: one([]span{{text: piece, face: monoBold},
			{text: c.Code.Copy().String(), cap: smallWord, gap: 0.7}}), cap: 2.75, least: MinRequiredMM},
		{name: "code", box: box{margin, h - 3.5, full, 3.0}, lines: one([]span{{text: casePart, face: mono}}), cap: 2.125, least: MinRequiredMM},
	}}
	return s
}
