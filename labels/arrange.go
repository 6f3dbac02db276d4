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

// organSmall is a site whose organ is set smaller, so that a long one leaves the side as it is.
func organSmall(spans []span) []span {
	last := &spans[len(spans)-1] // a pot always has an organ
	last.face, last.scale = plain, 0.76
	return spans
}

func one(spans []span) [][]span { return [][]span{spans} }

func printedAt(t time.Time) span {
	return span{text: "printed " + t.Format(printedForm)}
}

// column is a part of a label whose lines stand on stated baselines one below another; each has the room from the line
// above it, so that its accents may rise there.
type column struct {
	x, w, top float64
	hang      float64 // how far descenders fall, in heights of capitals; 0 for the usual
	slots     []slot
}

// line adds a line on a baseline, with capitals of a preferred and a least height.
func (c *column) line(name string, base, cap, least float64, lines [][]span) *slot {
	hang := c.hang
	if hang == 0 {
		hang = descenderRoom
	}
	bottom := base + hang*cap
	c.slots = append(c.slots, slot{name: name, box: box{c.x, c.top, c.w, bottom - c.top}, base: base, lines: lines, cap: cap, least: least})
	c.top = bottom
	return &c.slots[len(c.slots)-1]
}

// arrangePot: who on top over the full width, where it is from below, then what is in it and when, with the code at the
// foot and the symbol in the corner. Patient's name top left: CLSI AUTO12-A. The time taken is a blank, since the label is
// there before the core.
func arrangePot(l Layout, c Content) sheet {
	w, h := l.designed()
	full := w - 2*edge
	foot := h - 1 // baseline of the code, and lower edge of the symbol
	symbol := symbolBox{box{w - 10.3, h - 10.2, 10.3, 10.2}, w - edge, foot, 0}
	beside := symbol.x - edge - 0.3

	medium := func(face typeface) []span {
		spans := []span{{text: c.Medium, face: face}}
		if c.Caution != "" {
			spans = append(spans, span{text: c.Caution, face: bold, scale: 0.75, inverse: true, gap: 1.4})
		}
		return spans
	}
	taken := func(blank float64) []span {
		spans := []span{{text: "taken", cap: smallWord}, {blank: blank, gap: 0.6}, {text: ":", face: bold, gap: 0.5}, {blank: blank, gap: 0.5},
			{text: "by", cap: smallWord, gap: 1.6}}
		if c.Collector == "" {
			return append(spans, span{blank: toTheEnd, gap: 0.6})
		}
		return append(spans, span{text: c.Collector, gap: 0.6})
	}

	const lines = 8 // room for all of them at once
	who := column{x: edge, w: full, top: 0.1, slots: make([]slot, 0, lines)}
	who.line("name", 3.5, 2.75, MinRequiredMM, nameLines(c.Patient, bold))
	who.line("identifiers", 6.4, 2.125, MinRequiredMM, identifierLines(c.Patient))
	ruleAt := who.top

	// The letter stands large above the symbol: on a tray it tells pots apart from afar.
	const letterWidth = 6
	where := full - letterWidth - 0.6
	const underRule = 0.3
	oneLine, twoLines := column{x: edge, w: where, top: ruleAt + underRule}, column{x: edge, w: where, top: ruleAt + underRule}
	oneLine.line("site", 11.3, 2.75, 2.25, one(site(c, true)))
	twoLines.line("site", 10.0, 2.25, 1.75, [][]span{site(c, false), organSmall(site(c, false))})
	twoLines.line("position", 12.75, 1.625, SmallestMM, one([]span{{text: c.Position}}))

	what := column{x: edge, w: beside, top: twoLines.top, slots: make([]slot, 0, lines)}
	what.line("medium", 15.7, 2.25, SmallestMM, [][]span{medium(bold), medium(plain)})
	what.line("printed", h-7.15, smallWord, smallWord, printedLines(c))
	what.line("time taken and collector", h-4.3, 1.75, SmallestMM, [][]span{taken(5.6), taken(4)})
	what.line("code", foot, 2.25, MinRequiredMM, one(codeSpans(c)))

	slots := append(who.slots,
		slot{name: "site", alternatives: [][]slot{oneLine.slots, twoLines.slots}},
		slot{name: "letter", box: box{w - edge - letterWidth, ruleAt + underRule, letterWidth, 5.6}, base: 11.6,
			lines: one([]span{{text: c.Code.Name().Letter(), face: bold}}), cap: 3.75, least: 3, align: right})
	return sheet{symbol: symbol, rules: []box{{edge, ruleAt, full, 0.125}}, slots: append(slots, what.slots...)}
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
