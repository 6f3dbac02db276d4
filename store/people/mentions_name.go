package people

import (
	"slices"
	"strings"

	"golang.org/x/text/unicode/norm"
)

// holdsName looks for the family name, whole or a part of it that is not a mere particle. Letters that are written out in
// plain ones by some ("Møllerup", "Moellerup", "Mollerup") count as the same.
func holdsName(said []word, p Person) bool {
	family, given := wordsOf(p.Family), wordsOf(p.Given)
	if holdsSpelled(said, family, given) {
		return true
	}
	return strings.ContainsAny(strings.ToLower(norm.NFC.String(p.Family)), "äöüåøæœ") && holdsSpelled(shortened(said), shortened(family), given)
}

// shortened gives words with letters that were written out by one letter.
func shortened(words []word) []word {
	out := slices.Clone(words)
	for i := range out {
		out[i].text = writtenOut.Replace(out[i].text)
	}
	return out
}

var writtenOut = strings.NewReplacer("ae", "a", "oe", "o", "ue", "u", "aa", "a")

func holdsSpelled(said, family, given []word) bool {
	if len(family) == 0 {
		return false
	}
	if holdsFamily(said, family, given) || holdsApart(said, family) {
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

// holdsApart looks for a name whose parts are joined or parted otherwise than on the record: "O Brien", "Mc Leod",
// "VanDerWick". Other names are not put together from neighbours: "white head" is not Mr Whitehead.
func holdsApart(said, family []word) bool {
	const shortest = 5
	name := ""
	for _, part := range family {
		name += part.text
	}
	if len(name) < shortest {
		return false
	}
	if len(family) > 1 && slices.ContainsFunc(said, func(w word) bool { return w.text == name }) {
		return true
	}
	for i := range said {
		if particle(said[i].text) && strings.HasPrefix(name, said[i].text) && holdsJoined(said[i:], name) && startsJoined(said[i:], name) {
			return true
		}
	}
	return false
}

// startsJoined reports whether the first words, joined, are the one that is wanted.
func startsJoined(said []word, want string) bool {
	for _, w := range said {
		rest, ok := strings.CutPrefix(want, w.text)
		if !ok || rest == "" {
			return ok
		}
		want = rest
	}
	return false
}

// particle reports whether a word is one that names begin with. From memory.
func particle(text string) bool {
	return slices.Contains([]string{"o", "d", "l", "mc", "mac", "fitz", "st", "ap", "de", "di", "da", "du", "del", "la", "le", "van", "von", "der", "den", "ter", "ten", "al", "el", "abd", "abu", "ben", "bin", "ibn"}, text)
}

func holdsFamily(said, family, given []word) bool {
	ordinary := len(family) == 1 && (len([]rune(family[0].text)) < 3 || ordinaryWords()[family[0].text])
	const surelyAName = 6 // letters after which an s is a plural: "the Wenlocks rang"
	if len(family) == 1 && !ordinary && len(family[0].text) >= surelyAName && slices.ContainsFunc(said, func(w word) bool { return w.text == family[0].text+"s" }) {
		return true
	}
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
