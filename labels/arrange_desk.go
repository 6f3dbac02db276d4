package labels

// barsWide is the least room, in millimetres on paper, in which bars of any code fit with their quiet zones at every
// resolution: TestBarsOfEveryCodeFit.
const barsWide = 64

// arrangeCase: the label of a request form says who and which case, and leaves the rest to the form: where the tissue is
// from stands on each pot, and a case may have several places. On wide stock the code stands there as bars too.
func arrangeCase(l Layout, c Content) sheet {
	w, h := l.designed()
	const barsHeight, barsMargin = 6.3, 2.4
	symbol := symbolBox{box{w - 12.4, h - 12.4, 12.4, 12.4}, w - edge, h - 1.4, 0}
	if (symbol.x-barsMargin)*l.scale >= barsWide && barsHeight*l.scale >= MinBarHeightMM {
		symbol.right = w - barsMargin
		symbol.x -= barsMargin - edge
		symbol.bottom = h - 1.8
		return arrangeCaseWide(c, w, h, barsMargin, barsHeight, symbol)
	}
	full, beside := w-2*edge, symbol.x-edge-0.3
	record, national := c.Patient, ""
	if record.RecordNumber != "" {
		record.NationalNumber, national = "", record.NationalNumber // it has a row of its own here
	}
	who := column{x: edge, w: full, top: 0.1}
	who.line("name", 4.1, 3.0, MinRequiredMM, nameLines(c.Patient, bold))
	who.line("identifiers", 7.5, 2.125, MinRequiredMM, identifierLines(record))
	if national != "" {
		second := words("national", national)
		second[0].gap = 0
		who.line("second number", 10.6, 2.125, MinRequiredMM, one(second))
	}
	what := column{x: edge, w: beside, top: h - 12.4}
	what.line("thing", h-8.7, 2.25, 1.75, one([]span{{text: "Request form", face: bold}}))
	what.line("printed", h-5.7, 1.5, SmallestMM, one([]span{printedAt(c.Printed)}))
	what.line("code", symbol.bottom, 2.625, MinRequiredMM, one(codeSpans(c)))
	return sheet{symbol: symbol, rules: []box{{edge, h - 12.9, full, 0.125}}, slots: append(who.slots, what.slots...)}
}

// arrangeCaseWide has the bars between what it is and the code for people, all flush on the left: the margin there is the
// bars' quiet zone.
func arrangeCaseWide(c Content, w, h, margin, barsHeight float64, symbol symbolBox) sheet {
	full, beside := w-2*margin, symbol.x-margin-0.3
	printed := printedAt(c.Printed)
	printed.gap, printed.scale = 1.8, 0.75
	who := column{x: margin, w: full, top: 0.1}
	who.line("name", 4.1, 3.0, MinRequiredMM, nameLines(c.Patient, bold))
	who.line("identifiers", 7.5, 2.125, MinRequiredMM, bothNumbers(c.Patient))
	ruleAt := h - 16.2
	what := column{x: margin, w: beside, top: ruleAt + 0.3}
	what.line("thing", h-12.8, 2.0, 1.75, one([]span{{text: "Request form", face: bold}, printed}))
	bars := box{margin, h - 11.2, symbol.x - margin, barsHeight}
	what.top = bars.y + bars.h
	what.line("code", symbol.bottom, 2.4, MinRequiredMM, one(codeSpans(c)))
	return sheet{symbol: symbol, linear: bars, rules: []box{{margin, ruleAt, full, 0.125}}, slots: append(who.slots, what.slots...)}
}

// arrangeBag: a bag is read in lifts and vans, so it carries no identifier; its code and symbol are large.
func arrangeBag(l Layout, c Content) sheet {
	w, h := l.designed()
	full := w - 2*edge
	const titleCap, titleBase = 3.0, 5.0
	symbol := symbolBox{box: box{w - 14.4, 0.3, 14.4, 14.4}, right: w - edge, top: titleBase - titleCap}
	beside := symbol.x - edge - 0.3
	above := column{x: edge, w: beside, top: 0.3}
	above.line("thing", titleBase, titleCap, 2.25, one([]span{{text: "Transport bag", face: bold}}))
	to := span{text: "to", cap: smallWord}
	room := box{edge, above.top, beside, h - 9.4 - above.top}
	var whither slot
	if c.To == "" {
		whither = slot{name: "destination", box: room, base: 11.5, lines: one([]span{to, {blank: toTheEnd, gap: 0.8}}), cap: 2.25, least: 1.5}
	} else {
		const indent, base, cap, rows, down = 2.9, 10.8, 2.0, 3, 0.9
		// A long destination goes over several lines.
		whither = slot{name: "destination", alternatives: [][]slot{
			{{name: "destination", box: room, base: base, lines: one([]span{to, {text: c.To, face: bold, gap: 0.8}}), cap: 2.25, least: 2}},
			{
				{name: "to", box: box{room.x, room.y, indent, room.h}, base: room.y + down + (1+accentRoom)*cap, lines: one([]span{to}), cap: smallWord, least: SmallestMM},
				{name: "destination", box: box{room.x + indent, room.y + down, room.w - indent, room.h - down}, paragraph: c.To, face: bold, rows: rows, cap: cap, least: 1.5},
			},
		}}
	}
	below := column{x: edge, w: full, top: h - 9}
	below.line("code", h-4.5, 3.25, MinRequiredMM, one(codeSpans(c)))
	below.line("printed", h-1.4, 1.5, SmallestMM, one([]span{printedAt(c.Printed)}))
	return sheet{symbol: symbol, rules: []box{{edge, h - 9.4, full, 0.125}}, slots: append(append(above.slots, whither), below.slots...)}
}

// arrangePlace: read from across a corridor, so its words are as large as they can be, over the full width; below them
// where it is, its key, and the symbol.
func arrangePlace(l Layout, c Content) sheet { return arrangeKeyed(l, c) }

// arrangeBadge: the name of who wears it as large as it can be, below it the role, the key and the symbol.
func arrangeBadge(l Layout, c Content) sheet { return arrangeKeyed(l, c) }

func arrangeKeyed(l Layout, c Content) sheet {
	w, h := l.designed()
	full := w - 2*edge
	// A key of 64 letters has a symbol of 36 modules, which needs 15 mm at 8 dots/mm with modules of 0.375 mm.
	const largestSymbol, lowTitle, highTitle, high = 22, 9.4, 18.2, 33
	titleRoom := lowTitle
	if h >= high {
		titleRoom = highTitle // two lines of the largest type
	}
	side := min(largestSymbol, h-titleRoom)
	symbol := symbolBox{box{w - side - 0.3, h - side - 0.2, side + 0.3, side + 0.2}, w - edge, h - 1.3, 0}
	beside := symbol.x - edge - 0.6
	const keyHeight, keyCap, largest, oneRow = 7.3, 1.75, 5.0, 8.6
	key := slot{name: "key", box: box{edge, symbol.bottom + descenderRoom*keyCap - keyHeight, beside, keyHeight}, low: true,
		paragraph: c.Key, anywhere: true, face: mono, rows: 3, cap: keyCap, least: SmallestMM}
	// words sets the title over so many rows and the detail below them.
	words := func(rows int, least, y float64) []slot {
		return []slot{
			{name: "title", box: box{edge, 0.3, full, y - 0.3}, paragraph: c.Title, face: bold, rows: rows, cap: largest, least: least},
			{name: "detail", box: box{edge, y, beside, key.box.y - y}, paragraph: c.Detail, rows: 3, cap: 2.25, least: SmallestMM},
		}
	}
	// One line if it is nearly of the largest type; else two lines where there is room for large type; else what fits.
	twoRows := min(symbol.y, highTitle)
	ways := [][]slot{words(1, 4.4*l.scale, oneRow)}
	if h >= high {
		ways = append(ways, words(2, 3.6*l.scale, twoRows))
	}
	ways = append(ways, words(1, 3*l.scale, oneRow), words(2, MinRequiredMM, twoRows))
	return sheet{symbol: symbol, slots: []slot{{name: "title", alternatives: ways}, key}}
}
