package people

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// Mentions reports whether a text holds identifiers of the patient under a ref: a number, the birth date in any common
// order, the telephone number, the first line of the address or a postcode in it, the family name, or given names beside
// it. Capitals, accents, spacing and marks between do not matter. A family name that is also an ordinary word (White, Long,
// March) counts only beside a given name or a title, since "firm white core" must not be refused. A given name alone counts
// for nothing. It is false for a ref that nobody has.
//
// It finds what is written as people write it. It does not find a name that is misspelled, run together with another word,
// or in another script than on the record.
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
		case unicode.Is(unicode.Mn, r), unicode.Is(unicode.Cf, r):
			continue // an accent, taken off its letter by fold; what shows as nothing
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

// fold takes case, accents and width away, and strokes through letters, which are no accents of Unicode's.
func fold(text string) string { return plainLetters.Replace(strings.ToLower(norm.NFKD.String(text))) }

var plainLetters = strings.NewReplacer("ł", "l", "ø", "o", "đ", "d", "ð", "d", "ħ", "h", "ı", "i", "ŧ", "t", "ß", "ss", "æ", "ae", "œ", "oe", "þ", "th", "ς", "σ")

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

// surelyANumber is how many digits in a row are never met by chance, so that letters may touch them: "NHS9434765919".
const surelyANumber = 7

// mayTouch reports whether letters may stand right beside a number that begins and ends so.
func mayTouch(want string) bool {
	return len(want) >= surelyANumber && strings.Trim(want, "0123456789") == ""
}

// holdsJoined reports whether neighbouring words, joined, are the one that is wanted.
func holdsJoined(said []word, want string) bool {
	for i := range said {
		rest, ok := want, true
		for j := i; ok && rest != "" && j < len(said); j++ {
			rest, ok = strings.CutPrefix(rest, said[j].text)
			if ok && rest == "" && (mayTouch(want) || !(j+1 < len(said) && said[j+1].gap == "") && said[i].gapBefore(i)) {
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
		short := len(window[1].gap) == 1 && strings.Contains(marks, window[1].gap) && window[1].gap == window[2].gap ||
			!isDigit(window[0].text) || !isDigit(window[1].text) // a month by its name
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

func isDigit(text string) bool { return text != "" && text[0] >= '0' && text[0] <= '9' }

// postcode is one of the United Kingdom, whose like stands for some fifteen houses. From memory.
var postcode = regexp.MustCompile(`(?i)\b[A-Z]{1,2}[0-9][A-Z0-9]?\s*[0-9][A-Z]{2}\b`)

// holdsAddress looks for the first line of an address that has at least two words, and for postcodes in it.
func holdsAddress(said []word, address string) bool {
	for _, code := range postcode.FindAllString(address, -1) {
		if holdsJoined(said, squeeze(code)) {
			return true
		}
	}
	first := strings.FieldsFunc(address, func(r rune) bool { return r == ',' || r == '\n' || r == ';' })
	want := []word{}
	for _, line := range first { // a house number alone, "17, Vornickle Row", is not the line
		if want = append(want, wordsOf(line)...); len(want) >= 2 {
			break
		}
	}
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
