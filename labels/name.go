package labels

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// leastFamily is how many characters of a family name are left at the least when it is cut.
const leastFamily = 8

// longestLine bounds, in characters, how much of a name is tried on one line, so that a hostile name costs little.
const longestLine = 60

// maxGiven bounds how many initials are kept, against names that are all spaces and letters.
const maxGiven = 6

// nameLines are the ways to write a name on one line, best first:
//
//  1. in full, "Halvorsen, Ingrid Marie";
//  2. given names as initials, "Halvorsen, I. M.";
//  3. the first initial only, "Halvorsen, I.";
//  4. the family name cut to ever fewer characters, never under eight, with "…" for what is missing.
//
// A family name of eight characters or fewer is never cut. Common practice, no source (CLSI AUTO12-A has truncation
// rules that are not public); the second identifier is never touched.
func nameLines(p Patient, face typeface) [][]span {
	var lines [][]span
	add := func(text string) { lines = append(lines, []span{{text: text, face: face}}) }
	with := func(family, given string) string {
		if given == "" {
			return family
		}
		return family + ", " + given
	}
	all := initials(p.Given, maxGiven)
	first := initials(p.Given, 1)
	add(with(p.Family, p.Given))
	if all != p.Given {
		add(with(p.Family, all))
	}
	if first != all {
		add(with(p.Family, first))
	}
	for _, family := range cuts(p.Family) {
		add(with(family, first))
	}
	return lines
}

// nameBlock are the ways to write a name on two lines, best first:
//
//  1. the family name in full, given names below it, in full or as initials;
//  2. the family name broken over both lines at its own space or hyphen, initials after it;
//  3. broken after any letter, with a hyphen;
//  4. the same, with what does not fit on the second line cut and marked "…", never under eight characters in all.
//
// Common practice, no source; the second identifier is never touched.
func nameBlock(p Patient, first, second slot, familyFace, givenFace typeface) slot {
	family := []rune(p.Family)
	first.lines = one([]span{{text: p.Family, face: familyFace}})
	second.lines = nil
	all, initial := initials(p.Given, maxGiven), initials(p.Given, 1)
	for _, text := range []string{p.Given, all, initial} {
		second.lines = append(second.lines, []span{{text: text, face: givenFace}})
	}
	alternatives := [][]slot{{first, second}}

	first.cap, second.cap = first.least, second.least
	broken := func(n int, mark string, cut bool) {
		one := first
		one.lines = [][]span{{{text: strings.TrimSpace(string(family[:n])) + mark, face: familyFace}}}
		two := second
		two.lines = nil
		rest := strings.TrimSpace(string(family[n:]))
		add := func(rest, given string) {
			spans := []span{{text: rest, face: familyFace}}
			if given != "" {
				spans = []span{{text: rest + ",", face: familyFace}, {text: given, face: givenFace, gap: 0.7}}
			}
			two.lines = append(two.lines, spans)
		}
		if cut {
			for _, shorter := range cutsTo([]rune(rest), max(1, leastFamily-n)) {
				add(shorter, initial)
			}
		} else {
			add(rest, all)
			if initial != all {
				add(rest, initial)
			}
		}
		if len(two.lines) > 0 {
			alternatives = append(alternatives, []slot{one, two})
		}
	}
	for n := min(len(family)-1, longestLine); n > 0; n-- {
		if family[n-1] == '-' || unicode.IsSpace(family[n-1]) {
			broken(n, "", false)
		}
	}
	for _, cut := range []bool{false, true} {
		// A piece of one letter on either side would be taken for an initial.
		for n := min(len(family)-2, longestLine); n > 1; n-- {
			if unicode.IsLetter(family[n-1]) && unicode.IsLetter(family[n]) {
				broken(n, "-", cut)
			}
		}
	}
	return slot{name: "name", alternatives: alternatives}
}

// cuts are ever shorter beginnings of a family name with an ellipsis, the shortest of eight characters.
func cuts(family string) []string { return cutsTo([]rune(family), leastFamily) }

func cutsTo(characters []rune, least int) []string {
	var out []string
	for n := min(len(characters)-1, longestLine); n >= least; n-- {
		kept := strings.TrimRightFunc(string(characters[:n]), func(r rune) bool { return unicode.IsSpace(r) || r == '-' })
		if utf8.RuneCountInString(kept) < least {
			break
		}
		if cut := kept + "…"; len(out) == 0 || out[len(out)-1] != cut {
			out = append(out, cut)
		}
	}
	return out
}

// initials turns "Anne-Marie Louise" into "A.-M. L.", at most so many letters.
func initials(given string, most int) string {
	var b strings.Builder
	start, count := true, 0
	separator := ""
	for _, r := range given {
		switch {
		case unicode.IsSpace(r):
			start, separator = true, " "
		case r == '-' || r == '‐':
			start, separator = true, "-"
		case start && (unicode.IsLetter(r) || unicode.IsDigit(r)):
			if count == most {
				return b.String()
			}
			if count > 0 {
				b.WriteString(separator)
			}
			b.WriteRune(r)
			b.WriteByte('.')
			start, count = false, count+1
		}
	}
	return b.String()
}
