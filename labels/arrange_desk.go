package labels

// barsWide is the least room, in millimetres on paper, in which bars of any code fit with their quiet zones at every
// resolution: TestBarsOfEveryCodeFit.
const barsWide = 64

// arrangeCase: the label of a request form says who and which case, and leaves the rest to the form: where the tissue is
// from stands on each pot, and a case may have several places. On wide stock the code stands there as bars too.
func arrangeCase(l Layout, c Content) sheet {
	w, h := l.designed()
	full := w - 2*edge
	const symbolSide, barsHeight = 12, 6.5
	symbol := box{w - symbolSide - 0.3, h - symbolSide - 0.3, symbolSide, symbolSide}
	beside := symbol.x - edge - 0.4
	wide := beside*l.scale >= barsWide && barsHeight*l.scale >= MinBarHeightMM
	s := sheet{symbol: symbol}
	s.slots = append(s.slots, slot{name: "name", box: box{edge, 0.3, full, 5.2}, lines: nameLines(c.Patient, bold), cap: 3.0, least: MinRequiredMM})
	thing, printed := []span{{text: "Request form", face: bold}}, printedAt(c.Printed)
	if wide {
		printed.gap, printed.scale = 1.8, 0.75
		s.rules = []box{{edge, 8.9, full, 0.125}}
		s.linear = box{edge, h - 10.9, beside, barsHeight}
		s.slots = append(s.slots,
			slot{name: "identifiers", box: box{edge, 5.6, full, 2.9}, lines: bothNumbers(c.Patient), cap: 2.125, least: MinRequiredMM},
			slot{name: "thing", box: box{edge, 9.6, beside, 3.2}, lines: one(append(thing, printed)), cap: 2.0, least: 1.75},
			slot{name: "code", box: box{edge, h - 4.2, beside, 3.6}, lines: one(codeSpans(c)), cap: 2.625, least: MinRequiredMM})
		return s
	}
	s.rules = []box{{edge, h - 13, full, 0.125}}
	record, national := c.Patient, Patient{}
	if record.RecordNumber != "" {
		national.NationalNumber, record.NationalNumber = record.NationalNumber, "" // it has a row of its own here
	}
	s.slots = append(s.slots, slot{name: "identifiers", box: box{edge, 5.7, full, 2.9}, lines: identifierLines(record), cap: 2.125, least: MinRequiredMM})
	if national.NationalNumber != "" {
		second := words("national", national.NationalNumber)
		second[0].gap = 0
		s.slots = append(s.slots, slot{name: "second number", box: box{edge, 8.7, full, 2.9}, lines: one(second), cap: 2.125, least: MinRequiredMM})
	}
	s.slots = append(s.slots,
		slot{name: "thing", box: box{edge, h - 12.0, beside, 3.4}, lines: one(thing), cap: 2.25, least: 1.75},
		slot{name: "printed", box: box{edge, h - 7.6, beside, 2.2}, lines: one([]span{printed}), cap: 1.5, least: SmallestMM},
		slot{name: "code", box: box{edge, h - 4.2, beside, 3.6}, lines: one(codeSpans(c)), cap: 2.625, least: MinRequiredMM})
	return s
}

// arrangeBag: a bag is read in lifts and vans, so it carries no identifier; its code and symbol are large.
func arrangeBag(l Layout, c Content) sheet {
	w, h := l.designed()
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

// arrangePlace: read from across a corridor, so its words are as large as they can be, over the full width; below them
// where it is, its key, and the symbol.
func arrangePlace(l Layout, c Content) sheet { return arrangeKeyed(l, c, "place") }

// arrangeBadge: the name of who wears it as large as it can be, below it the role, the key and the symbol.
func arrangeBadge(l Layout, c Content) sheet { return arrangeKeyed(l, c, "badge") }

func arrangeKeyed(l Layout, c Content, what string) sheet {
	w, h := l.designed()
	full := w - 2*edge
	// A key of 64 letters has a symbol of 36 modules, which needs 15 mm at 8 dots/mm with modules of 0.375 mm.
	side := min(22, h-9.4)
	symbol := box{w - side - 0.3, h - side - 0.3, side, side}
	beside := symbol.x - edge - 0.6
	const keyHeight = 7.3
	return sheet{symbol: symbol, slots: []slot{
		{name: "title", box: box{edge, 0.6, full, symbol.y - 0.6}, paragraph: c.Title, face: bold, rows: 2, cap: 5, least: MinRequiredMM},
		{name: "detail", box: box{edge, symbol.y + 0.6, beside, h - symbol.y - keyHeight - 1}, paragraph: c.Detail, rows: 3, cap: 2.25, least: SmallestMM},
		{name: "key", box: box{edge, h - keyHeight - 0.3, beside, keyHeight}, paragraph: c.Key, anywhere: true, face: mono, rows: 3, cap: 2.0, least: SmallestMM, low: true},
	}}
}
