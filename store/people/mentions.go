package people

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// Mentions reports whether a text holds identifiers of the patient under a ref: a number, the birth date in any common
// order, the telephone number, the first line of the address, the family name, or given names beside it. A family name
// that is also a word of the trade (White, Long, Field) counts only beside a given name or a title, since "firm white
// core" must not be refused. A given name alone counts for nothing. It is false for a ref that nobody has.
func (f *File) Mentions(ref, text string) (bool, error) {
	if strings.TrimSpace(text) == "" {
		return false, nil
	}
	p, ok, err := f.Get(ref)
	if err != nil || !ok {
		return false, err
	}
	return mentions(p, text), nil
}

// Mentions is [File.Mentions] for a person at hand.
func (p Person) Mentions(text string) bool { return mentions(p, text) }

func mentions(p Person, text string) bool {
	said := wordsOf(text)
	return len(said) > 0 &&
		(holdsNumber(said, p.RecordNumber) || holdsNumber(said, p.NationalNumber) || holdsTelephone(said, p.Telephone) ||
			holdsDate(said, p.BirthDate) || holdsAddress(said, p.Address) || holdsName(said, p))
}

// word is a stretch of letters or of digits in a text, folded, and what stood between it and the one before.
type word struct {
	text string
	gap  string
}

// wordsOf folds case, accents and width away and splits a text where letters, digits and all else meet. An apostrophe
// inside a word goes, a possessive s with it.
func wordsOf(text string) []word {
	var out []word
	var now, gap strings.Builder
	kind := 0
	end := func() {
		if now.Len() > 0 {
			out = append(out, word{text: now.String(), gap: gap.String()})
			now.Reset()
			gap.Reset()
		}
	}
	runes := []rune(fold(text))
	for i, r := range runes {
		next := 0
		switch {
		case unicode.IsDigit(r):
			next = 1
		case unicode.IsLetter(r):
			next = 2
		case unicode.Is(unicode.Mn, r):
			continue // an accent, taken off its letter by fold
		case isApostrophe(r) && kind == 2 && i+1 < len(runes) && unicode.IsLetter(runes[i+1]):
			if runes[i+1] == 's' && (i+2 == len(runes) || !unicode.IsLetter(runes[i+2])) {
				next = 0 // "Wenlock's": the s becomes a word of its own, which says nothing
				break
			}
			continue
		}
		if next != kind {
			end()
		}
		kind = next
		if next == 0 {
			gap.WriteRune(r)
			continue
		}
		now.WriteRune(r)
	}
	end()
	return out
}

func isApostrophe(r rune) bool { return r == '\'' || r == '’' || r == '`' || r == 'ʼ' }

// fold takes case, accents and width away.
func fold(text string) string { return strings.ToLower(norm.NFKD.String(text)) }

// squeeze is a number or name as the index keeps it: folded, letters and digits only.
func squeeze(text string) string {
	var out strings.Builder
	for _, w := range wordsOf(text) {
		out.WriteString(w.text)
	}
	return out.String()
}

// holdsNumber looks for a number by whole words, so that a longer number that holds it by chance does not count.
func holdsNumber(said []word, number string) bool {
	want := squeeze(number)
	const shortest = 4 // shorter ones are met by chance
	return len(want) >= shortest && holdsJoined(said, want)
}

// holdsJoined reports whether neighbouring words, joined, are the one that is wanted.
func holdsJoined(said []word, want string) bool {
	for i := range said {
		rest, ok := want, true
		for j := i; ok && rest != "" && j < len(said); j++ {
			rest, ok = strings.CutPrefix(rest, said[j].text)
			if ok && rest == "" && !(j+1 < len(said) && said[j+1].gap == "") && said[i].gapBefore(i) {
				return true
			}
		}
	}
	return false
}

// gapBefore reports whether something stands before the word, or it is the first.
func (w word) gapBefore(i int) bool { return i == 0 || w.gap != "" }

// holdsTelephone compares the last nine digits, so that it does not matter how the country is written.
func holdsTelephone(said []word, number string) bool {
	const tail = 9
	digits := strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, fold(number))
	if len(digits) < 6 {
		return false
	}
	want := digits[max(0, len(digits)-tail):]
	run := ""
	for _, w := range said {
		if w.text[0] < '0' || w.text[0] > '9' {
			run = ""
			continue
		}
		if run += w.text; strings.HasSuffix(run, want) {
			return true
		}
	}
	return false
}

// holdsDate looks for a birth date: year, month and day in any order and with names of months, run together, or with a
// year of two digits when written with points, dashes or strokes.
func holdsDate(said []word, date string) bool {
	parts := strings.Split(date, "-")
	if len(parts) != 3 {
		return false
	}
	year, err1 := strconv.Atoi(parts[0])
	month, err2 := strconv.Atoi(parts[1])
	day, err3 := strconv.Atoi(parts[2])
	if err1 != nil || err2 != nil || err3 != nil {
		return false
	}
	joined := []string{fmt.Sprintf("%04d%02d%02d", year, month, day), fmt.Sprintf("%02d%02d%04d", day, month, year), fmt.Sprintf("%02d%02d%04d", month, day, year)}
	for i := range said {
		if slices.Contains(joined, said[i].text) {
			return true
		}
		window := ordinalsOut(said[i:], 3)
		if len(window) < 3 {
			continue
		}
		a, b, c := number(window[0].text), number(window[1].text), number(window[2].text)
		dayMonth := a == day && b == month || a == month && b == day
		if a == year && b == month && c == day || dayMonth && c == year {
			return true
		}
		const marks = "/.-"
		short := len(window[1].gap) == 1 && strings.Contains(marks, window[1].gap) && window[1].gap == window[2].gap
		if short && dayMonth && len(window[2].text) == 2 && c == year%100 {
			return true
		}
	}
	return false
}

// ordinalsOut gives the first n words without the th of "14th".
func ordinalsOut(said []word, n int) []word {
	out := make([]word, 0, n)
	for i, w := range said[:min(len(said), 2*n+2)] { // "14th of February 1961" has six
		if i > 0 && w.gap == "" && slices.Contains([]string{"st", "nd", "rd", "th"}, w.text) || w.text == "of" {
			continue
		}
		if out = append(out, w); len(out) == n {
			break
		}
	}
	return out
}

// number is the value of digits or of a month's name, and -1 for other words.
func number(text string) int {
	if n, err := strconv.Atoi(text); err == nil {
		return n
	}
	for i, name := range []string{"january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november", "december"} {
		if text == name || text == name[:3] || text == "sept" && i == 8 {
			return i + 1
		}
	}
	return -1
}

// holdsAddress looks for the first line of an address, if it has at least two words.
func holdsAddress(said []word, address string) bool {
	line, _, _ := strings.Cut(strings.ReplaceAll(address, "\n", ","), ",")
	want := wordsOf(line)
	return len(want) >= 2 && holdsWords(said, want)
}

// holdsWords reports whether the words stand one after the other.
func holdsWords(said, want []word) bool { return findWords(said, want) >= 0 }

func findWords(said, want []word) int {
	for i := 0; len(want) > 0 && i+len(want) <= len(said); i++ {
		same := true
		for j := range want {
			same = same && said[i+j].text == want[j].text
		}
		if same {
			return i
		}
	}
	return -1
}

// holdsName looks for the family name, whole or a part of it that is not a mere particle.
func holdsName(said []word, p Person) bool {
	family, given := wordsOf(p.Family), wordsOf(p.Given)
	if len(family) == 0 {
		return false
	}
	if holdsFamily(said, family, given) {
		return true
	}
	const shortest = 4 // of a part: "van", "de", "Ben"
	for _, part := range family {
		if len(family) > 1 && len(part.text) >= shortest && holdsFamily(said, []word{part}, given) {
			return true
		}
	}
	return false
}

func holdsFamily(said, family, given []word) bool {
	ordinary := len(family) == 1 && (len([]rune(family[0].text)) < 3 || slices.Contains(tradeWords(), family[0].text))
	for from := 0; from < len(said); {
		at := findWords(said[from:], family)
		if at < 0 {
			return false
		}
		at += from
		if !ordinary || besideName(said, at, at+len(family), given) {
			return true
		}
		from = at + 1
	}
	return false
}

// besideName reports whether a title or given name stands right before or after a family name.
func besideName(said []word, start, end int, given []word) bool {
	titles := []string{"mr", "mrs", "ms", "miss", "mx", "dr", "madam", "sir"}
	for _, at := range []int{start - 1, end} {
		if at < 0 || at >= len(said) {
			continue
		}
		text := said[at].text
		if at < start && slices.Contains(titles, text) || slices.ContainsFunc(given, func(w word) bool { return w.text == text }) {
			return true
		}
	}
	return false
}

// tradeWords are family names that a text about tissue uses as ordinary words. Common practice, no source.
func tradeWords() []string {
	return []string{"all", "bag", "bank", "best", "black", "block", "bloom", "blue", "bone", "bowl", "bright", "brown", "burn", "call",
		"case", "clay", "close", "cole", "cook", "core", "cross", "dark", "day", "down", "dry", "early", "east", "false", "field", "fine",
		"fish", "fixed", "flat", "flood", "fox", "french", "frost", "good", "gold", "gray", "green", "grey", "hall", "hand", "hard", "hart",
		"head", "hill", "hole", "house", "ice", "just", "key", "label", "lake", "large", "last", "late", "lay", "left", "light", "little",
		"long", "low", "main", "mark", "marsh", "may", "more", "needle", "new", "night", "noble", "north", "old", "page", "pain", "park",
		"peel", "pink", "place", "pool", "poor", "post", "pot", "price", "read", "red", "rest", "right", "ring", "rose", "round", "sample",
		"sharp", "short", "silver", "slide", "small", "smart", "snow", "soft", "south", "stain", "stone", "store", "strong", "summer",
		"swift", "tall", "test", "thick", "thin", "tissue", "true", "two", "van", "walk", "wall", "warm", "waters", "week", "well", "west",
		"wet", "white", "wide", "winter", "wood", "wright", "young"}
}
