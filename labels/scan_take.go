package labels

import (
	"strings"
	"unicode"
)

// longestRead is how much of a text is looked at, in bytes. The longest that a label of ours sends is under 100; what is
// longer is foreign, and its beginning says what it is.
const longestRead = 1024

// groupSeparator stands for FNC1 in what a scanner sends (GS1 General Specifications, from memory).
const groupSeparator = "\x1d"

// reading is a scanner's text taken apart.
type reading struct {
	prefix string // "]d1", or "" when the scanner sends none
	fnc1   bool   // the text began with a group separator: GS1's data
	raw    string // what was sent, without what scanners put around it; the prefix still before it
	body   string // what the symbol holds, spaces, hyphens and wide characters made plain
	long   bool   // there was more than is looked at
}

// take takes a text apart. It works on a bounded part of it.
func take(text string) reading {
	var r reading
	if len(text) > longestRead {
		text, r.long = text[:longestRead], true
	}
	r.raw = strings.TrimFunc(text, isAround)
	r.fnc1 = strings.Contains(text[:strings.Index(text, r.raw)], groupSeparator)
	r.body = r.raw
	if len(r.raw) >= 3 && r.raw[0] == ']' && isASCIIAlphanumeric(r.raw[1]) && isASCIIAlphanumeric(r.raw[2]) {
		r.prefix, r.body = r.raw[:3], r.raw[3:]
		r.fnc1 = r.fnc1 || strings.HasPrefix(r.body, groupSeparator)
		r.body = strings.TrimFunc(r.body, isAround)
	}
	r.body = plainly(r.body)
	return r
}

// isAround reports whether a character may stand before or behind what was scanned: white space, control characters
// (STX, ETX, Enter, Tab, GS), a byte order mark.
func isAround(c rune) bool {
	return unicode.IsSpace(c) || unicode.IsControl(c) || c == '\ufeff' || c == '\u200b'
}

// plainly puts the plain character for those that only look otherwise: the spaces and hyphens of word processors, and
// letters and digits as wide as those of Chinese (Unicode FF01 to FF5E).
func plainly(text string) string {
	return strings.Map(func(c rune) rune {
		switch {
		case c >= '\uff01' && c <= '\uff5e':
			return c - '\uff01' + '!'
		case unicode.Is(unicode.Zs, c):
			return ' '
		case c >= '\u2010' && c <= '\u2015' || c == '\u2212':
			return '-'
		}
		return c
	}, text)
}

// squeezed is a text without spaces and hyphens, in capitals.
func squeezed(text string) string {
	return strings.Map(func(c rune) rune {
		switch {
		case c == ' ' || c == '-':
			return -1
		case c >= 'a' && c <= 'z':
			return c - 'a' + 'A'
		}
		return c
	}, text)
}

func isASCIIAlphanumeric(c byte) bool {
	return c >= '0' && c <= '9' || c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z'
}

// severalCodes reports whether a read holds more than one of our codes, one behind the other: the burst of two labels in
// front of a scanner, or of one that triggers twice.
func severalCodes(body string) bool {
	found, rest := 0, body
	for found < 2 {
		rest = strings.TrimLeftFunc(rest, func(c rune) bool { return isAround(c) || c == '-' })
		if len(rest) >= 3 && rest[0] == ']' {
			rest = rest[3:]
		}
		n := codeAtStart(rest)
		if n == 0 {
			n = labelAtStart(rest)
		}
		if n == 0 {
			return false
		}
		found, rest = found+1, rest[n:]
	}
	return true
}

// codeAtStart is the length of the full code that a text begins with, spaces and hyphens in it counted; 0 for none.
func codeAtStart(text string) int {
	characters := 0
	for i := range len(text) {
		switch c := text[i]; {
		case c == ' ' || c == '-':
			continue
		case !isASCIIAlphanumeric(c):
			return 0
		}
		if characters++; characters == codeLength {
			if isCode(text[:i+1]) {
				return i + 1
			}
			return 0
		}
	}
	return 0
}

// labelAtStart is the length of the place or badge that a text begins with, up to the next code, place or badge.
func labelAtStart(text string) int {
	starts := func(text string) bool { return reading{body: text}.labelled() }
	if !starts(text) {
		return 0
	}
	i := 2
	for i < len(text) && isKeyCharacter(text[i]) && !starts(text[i:]) && codeAtStart(text[i:]) == 0 {
		i++
	}
	return i
}
