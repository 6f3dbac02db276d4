package labels

import (
	"strings"
	"unicode"
)

// leastFamily is how many characters of a family name are left at the least when it is cut.
const leastFamily = 8

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

// familyLines are the ways to write a family name on a line of its own: in full, then cut as in [nameLines].
func familyLines(p Patient, face typeface) [][]span {
	lines := [][]span{{{text: p.Family, face: face}}}
	for _, family := range cuts(p.Family) {
		lines = append(lines, []span{{text: family, face: face}})
	}
	return lines
}

// givenLines are the ways to write given names on a line of their own: in full, as initials, the first initial.
func givenLines(p Patient, face typeface) [][]span {
	var lines [][]span
	for _, text := range []string{p.Given, initials(p.Given, maxGiven), initials(p.Given, 1)} {
		lines = append(lines, []span{{text: text, face: face}})
	}
	return lines
}

// cuts are ever shorter beginnings of a name with an ellipsis, the shortest of eight characters.
func cuts(family string) []string {
	characters := []rune(family)
	var out []string
	for n := len(characters) - 1; n >= leastFamily; n-- {
		kept := strings.TrimRightFunc(string(characters[:n]), func(r rune) bool { return unicode.IsSpace(r) || r == '-' })
		if len([]rune(kept)) < leastFamily {
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
