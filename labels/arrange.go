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

// bothNumbers are the ways to write birth date and all numbers there are, for where none may be left out.
func bothNumbers(p Patient) [][]span {
	lines := identifierLines(p)
	return lines[:min(len(lines), 2)]
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
	w, h := l.designed()
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
