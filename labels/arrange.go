package labels

import (
	"strings"
	"time"
)

// Heights of capitals, mm, and shares that all layouts use.
const (
	smallWord = 1.33 // words that introduce: "born", "record"
	edge      = 1.2  // white at the left and right of pot, request and bag labels
)

const printedForm = "2006-01-02 15:04"

// words introduces a value: "born 1961-02-14".
func words(introduction, value string) []span {
	return []span{{text: introduction, cap: smallWord, gap: 1.4}, {text: value, gap: 0.5}}
}

// codeSpans is the code for people: the case, then pot letter and piece number stronger, then the copy small.
func codeSpans(c Content) []span {
	casePart, rest, _ := strings.Cut(c.Code.Name().Printed(), " ")
	spans := []span{{text: casePart, face: mono}}
	if rest != "" {
		spans = append(spans, span{text: rest, face: monoBold, scale: 1.2, gap: 1.1})
	}
	return append(spans, span{text: c.Code.Copy().String(), cap: smallWord, gap: 0.7})
}

// identifierLines are the ways to write birth date and numbers beside the name, best first: all with words that
// introduce them, all bare, birth date and record number. So the national number is left out of a row that cannot hold
// both, and a label never lacks the birth date and one number.
func identifierLines(p Patient) [][]span {
	number, introduction := p.RecordNumber, "record"
	if number == "" {
		number, introduction = p.NationalNumber, "national"
	}
	short := bornSpans(p)
	if number != "" {
		short = append(short, words(introduction, number)...)
	}
	if p.RecordNumber == "" || p.NationalNumber == "" {
		return one(short)
	}
	whole := append(short[:len(short):len(short)], words("national", p.NationalNumber)...)
	bare := []span{{text: string(p.BirthDate)}, {text: p.RecordNumber, gap: 1.8}, {text: p.NationalNumber, gap: 1.8}}
	return [][]span{whole, bare, short}
}

func bornSpans(p Patient) []span {
	born := words("born", string(p.BirthDate))
	born[0].gap = 0
	return born
}

// site is side, organ and position in words; the side in capitals and underlined, so that nobody misses it.
func site(c Content, withPosition bool) []span {
	var spans []span
	if c.Side != "" {
		spans = append(spans, span{text: strings.ToUpper(c.Side), face: bold, underline: true})
	}
	if c.Organ != "" {
		spans = append(spans, span{text: c.Organ, face: bold, gap: 1.2})
	}
	if withPosition && c.Position != "" {
		spans = append(spans, span{text: c.Position, scale: 0.8, gap: 1.8})
	}
	if len(spans) > 0 {
		spans[0].gap = 0
	}
	return spans
}

func one(spans []span) [][]span { return [][]span{spans} }

func printedAt(t time.Time) span {
	return span{text: "printed " + t.Format(printedForm)}
}

// arrangePot: who on top over the full width, where it is from below, then what is in it and when, with the code at the
// foot and the symbol in the corner. Patient's name top left: CLSI AUTO12-A.
func arrangePot(l Layout, c Content) sheet {
	w, h := l.WidthMM, l.HeightMM
	full := w - 2*edge
	symbol := box{w - 10.3, h - 10.3, 10, 10}
	beside := symbol.x - edge - 0.4 // room to the left of the symbol
	foot := h - 3.2

	medium := func(face typeface) []span {
		spans := []span{{text: c.Medium, face: face}}
		if c.Caution != "" {
			spans = append(spans, span{text: c.Caution, face: bold, scale: 0.75, inverse: true, gap: 1.4})
		}
		return spans
	}
	taken := []span{{text: "taken", cap: smallWord}, {blank: 5.6, gap: 0.6}, {text: ":", face: bold, gap: 0.5}, {blank: 5.6, gap: 0.5},
		{text: "by", cap: smallWord, gap: 1.6}}
	if c.Collector == "" {
		taken = append(taken, span{blank: 13, gap: 0.6})
	} else {
		taken = append(taken, span{text: c.Collector, gap: 0.6})
	}
	// The letter stands large above the symbol: on a tray it tells pots apart from afar.
	const letterWidth = 6
	where := full - letterWidth - 0.6
	return sheet{symbol: symbol, rules: []box{{edge, 7.05, full, 0.125}}, slots: []slot{
		{name: "name", box: box{edge, 0.1, full, 4.2}, lines: nameLines(c.Patient, bold), cap: 2.75, least: MinRequiredMM},
		{name: "identifiers", box: box{edge, 4.3, full, 2.6}, lines: identifierLines(c.Patient), cap: 2.125, least: MinRequiredMM},
		{name: "site", alternatives: [][]slot{
			{{name: "site", box: box{edge, 7.6, where, 4.9}, lines: one(site(c, true)), cap: 2.75, least: 2.25}},
			{
				{name: "site", box: box{edge, 7.4, where, 3.4}, lines: one(site(c, false)), cap: 2.25, least: 1.75},
				{name: "position", box: box{edge, 11.0, where, 2.15}, lines: one([]span{{text: c.Position}}), cap: 1.75, least: SmallestMM},
			},
		}},
		{name: "letter", box: box{w - edge - letterWidth, 7.6, letterWidth, 6}, lines: one([]span{{text: c.Code.Name().Letter(), face: bold}}), cap: 3.75, least: 3, align: right},
		{name: "medium", box: box{edge, 13.15, beside, 3.1}, lines: [][]span{medium(bold), medium(plain)}, cap: 2.25, least: SmallestMM},
		{name: "printed", box: box{edge, 16.25, beside, 1.95}, lines: printedLines(c), cap: smallWord, least: smallWord},
		{name: "taken", box: box{edge, 18.3, beside, foot - 18.4}, lines: one(taken), cap: 1.75, least: SmallestMM, low: true},
		{name: "code", box: box{edge, foot, beside, 3.0}, lines: one(codeSpans(c)), cap: 2.25, least: MinRequiredMM},
	}}
}

// printedLines is when the label was printed, after the studies if there is room for them.
func printedLines(c Content) [][]span {
	printed := printedAt(c.Printed)
	if len(c.Studies) == 0 {
		return one([]span{printed})
	}
	after := printed
	after.gap = 1.4
	return [][]span{{{text: strings.Join(c.Studies, ", ")}, after}, {printed}}
}

// arrangePiece: on a cassette or tube there is room for the name on two lines beside the symbol, then birth date, case,
// piece and side, each at the least size.
func arrangePiece(l Layout, c Content) sheet {
	w, h := l.WidthMM, l.HeightMM
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
	w, h := l.WidthMM, l.HeightMM
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

// arrangeCase: the label of a request form says who and which case, and leaves the rest to the form.
func arrangeCase(l Layout, c Content) sheet {
	w, h := l.WidthMM, l.HeightMM
	full := w - 2*edge
	symbol := box{w - 12.3, h - 12.3, 12, 12}
	beside := symbol.x - edge - 0.4
	s := sheet{symbol: symbol, rules: []box{{edge, h - 13, full, 0.125}}}
	record, national := c.Patient, Patient{NationalNumber: c.Patient.NationalNumber}
	if record.RecordNumber != "" {
		record.NationalNumber = "" // it has a row of its own here
	} else {
		national = Patient{}
	}
	s.slots = append(s.slots,
		slot{name: "name", box: box{edge, 0.3, full, 5.2}, lines: nameLines(c.Patient, bold), cap: 3.0, least: MinRequiredMM},
		slot{name: "identifiers", box: box{edge, 5.7, full, 2.9}, lines: identifierLines(record), cap: 2.125, least: MinRequiredMM})
	if national.NationalNumber != "" {
		second := words("national", national.NationalNumber)
		second[0].gap = 0
		s.slots = append(s.slots, slot{name: "second number", box: box{edge, 8.7, full, 2.9}, lines: one(second), cap: 2.125, least: MinRequiredMM})
	}
	printed := printedAt(c.Printed)
	s.slots = append(s.slots,
		slot{name: "thing", box: box{edge, h - 12.0, beside, 3.4}, lines: one([]span{{text: "Request form", face: bold}}), cap: 2.25, least: 1.75},
		slot{name: "printed", box: box{edge, h - 7.6, beside, 2.2}, lines: one([]span{printed}), cap: 1.5, least: SmallestMM},
		slot{name: "code", box: box{edge, h - 4.2, beside, 3.6}, lines: one(codeSpans(c)), cap: 2.625, least: MinRequiredMM})
	return s
}

// arrangeBag: a bag is read in lifts and vans, so it carries no identifier; its code and symbol are large.
func arrangeBag(l Layout, c Content) sheet {
	w, h := l.WidthMM, l.HeightMM
	full := w - 2*edge
	symbol := box{w - 14.3, 0.3, 14, 14}
	beside := symbol.x - edge - 0.6
	to := []span{{text: "to", cap: smallWord}}
	if c.To == "" {
		to = append(to, span{blank: beside - 4, gap: 0.8})
	} else {
		to = append(to, span{text: c.To, face: bold, gap: 0.8})
	}
	return sheet{symbol: symbol, rules: []box{{edge, h - 8.9, full, 0.125}}, slots: []slot{
		{name: "thing", box: box{edge, 1.2, beside, 5.2}, lines: one([]span{{text: "Transport bag", face: bold}}), cap: 3.0, least: 2.25},
		{name: "destination", box: box{edge, 7.6, beside, 4}, lines: one(to), cap: 2.25, least: 1.5},
		{name: "code", box: box{edge, h - 8.3, full, 5.2}, lines: one(codeSpans(c)), cap: 3.25, least: MinRequiredMM},
		{name: "printed", box: box{edge, h - 2.8, full, 2.4}, lines: one([]span{printedAt(c.Printed)}), cap: 1.5, least: SmallestMM},
	}}
}
