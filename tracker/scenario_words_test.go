package tracker_test

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"github.com/pottrail/pottrail/tracker"
)

// spoken is one word of a line; a text in quotes is one word.
type spoken struct {
	text   string
	quoted bool
}

// tokens splits a line into words; a comma after a word is for the reader alone.
func tokens(line string) ([]spoken, error) {
	var out []spoken
	for line = strings.TrimSpace(line); line != ""; line = strings.TrimSpace(line) {
		if rest, ok := strings.CutPrefix(line, `"`); ok {
			text, after, closed := strings.Cut(rest, `"`)
			if !closed {
				return nil, fmt.Errorf("a quote is not closed")
			}
			out = append(out, spoken{text, true})
			line = strings.TrimPrefix(after, ",")
			continue
		}
		word, rest, _ := strings.Cut(line, " ")
		out = append(out, spoken{strings.TrimSuffix(word, ","), false})
		line = rest
	}
	return out, nil
}

const (
	storyCase = tracker.Name("MBY-26-00417")
	storyBag  = tracker.Name("MBY-26-00012-Z")
)

var thingWord = regexp.MustCompile(`^(case|bag\d*|[A-HJ-NP-Y](\d\d)?|\d{3,5}(-[A-HJ-NP-Y](\d\d)?)?|[A-Z][A-Z0-9]{2}-\d\d-\d{5}(-[A-HJ-NP-Z](\d\d)?)?)(/[1-9A-Z])?$`)

// thing reads "case", "A", "A01", "bag", "bag13", "418", "418-A01", a name in full, and "A01/2" for a scan of copy 2.
func thing(word string) (item tracker.Item, ok bool) {
	if !thingWord.MatchString(word) {
		return item, false
	}
	word, copies, scanned := strings.Cut(word, "/")
	if scanned {
		item.Copy = tracker.Copy(copies[0])
	}
	base, rest := storyCase, ""
	switch {
	case word == "case":
	case word == "bag":
		base = storyBag
	case strings.HasPrefix(word, "bag"):
		number, _ := strconv.Atoi(word[3:])
		base = tracker.Name(fmt.Sprintf("MBY-26-%05d-Z", number))
	case word[0] >= '0' && word[0] <= '9':
		serial, pot, _ := strings.Cut(word, "-")
		number, _ := strconv.Atoi(serial)
		base, rest = tracker.Name(fmt.Sprintf("MBY-26-%05d", number)), pot
	case len(word) > 3:
		base = tracker.Name(word)
	default:
		rest = word
	}
	if rest != "" {
		base += "-" + tracker.Name(rest)
	}
	item.Name = base
	return item, true
}

// things reads one thing, or several: "A01..A04".
func things(word string) (items []tracker.Item, ok bool) {
	first, last, many := strings.Cut(word, "..")
	from, ok := thing(first)
	if !many || !ok {
		return []tracker.Item{from}, ok
	}
	to, ok := thing(last)
	if !ok || from.Name.Pot() != to.Name.Pot() || from.Name.PieceNumber() == 0 || to.Name.PieceNumber() <= from.Name.PieceNumber() {
		return nil, false
	}
	for n := from.Name.PieceNumber(); n <= to.Name.PieceNumber(); n++ {
		name, err := from.Name.Pot().WithPiece(n)
		if err != nil {
			return nil, false
		}
		items = append(items, tracker.Item{Name: name, Copy: from.Copy})
	}
	return items, true
}
