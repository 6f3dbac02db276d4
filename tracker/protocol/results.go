package protocol

import (
	"strings"
	"unicode"
)

// Groups of imaging scores, as [Protocol.ImagingGroup] gives them.
const (
	ImagingHigh = "high" // a benign answer does not go with it
	ImagingMid  = "mid"  // a benign answer is watched until both were put side by side
	ImagingLow  = "low"
)

// bethesda is the word that may stand before a thyroid's Roman numeral.
const bethesda = "BETHESDA"

// plain is a category as it is compared: capitals, no spaces. "Thy 3f" is "THY3F".
func plain(category string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return -1
		}
		return unicode.ToUpper(r)
	}, category)
}

// SameCategory reports whether two categories are the same apart from case and spaces.
func SameCategory(a, b string) bool { return plain(a) == plain(b) }

// isNumeral reports whether a plain category is a Roman numeral, which takes no letter after it.
func isNumeral(category string) bool { return category != "" && strings.Trim(category, "IV") == "" }

// indexResults makes categories and scores ready to be looked up.
func (p *Protocol) indexResults() {
	p.classes, p.scores = map[string]string{}, map[score]string{}
	for class, c := range p.Classes {
		for _, category := range c.Categories {
			p.classes[plain(category)] = class
		}
	}
	p.undivided = map[string]Undivided{}
	for _, u := range p.Meeting.Undivided {
		p.undivided[plain(u.Category)] = u
	}
	for _, text := range p.Imaging.Mid {
		if s, ok := parseScore(text); ok {
			p.scores[s] = ImagingMid
		}
	}
	for _, text := range p.Imaging.High {
		if s, ok := parseScore(text); ok {
			p.scores[s] = ImagingHigh
		}
	}
}

// ClassOf is the class of a result's category, as "B5b" is "malignant". One letter after the figure is allowed and may
// have a class of its own; a thyroid's Roman numeral stands alone or after "Bethesda". Case and spaces do not count. Text
// that is no category has no class.
func (p *Protocol) ClassOf(category string) (class string, ok bool) {
	key := plain(category)
	if class, ok = p.classes[key]; ok {
		return class, true
	}
	if numeral, cut := strings.CutPrefix(key, bethesda); cut && isNumeral(numeral) {
		class, ok = p.classes[numeral]
		return class, ok
	}
	n := len(key)
	if n < 2 || key[n-1] < 'A' || key[n-1] > 'Z' || key[n-2] < '0' || key[n-2] > '9' {
		return "", false
	}
	class, ok = p.classes[key[:n-1]]
	return class, ok
}

// score is an imaging score taken apart: "BI-RADS 4C" is BIRADS, 4, C.
type score struct {
	scale         string
	figure, minor byte
}

// parseScore reads one score: a scale in letters, one figure, at most one letter. Case, spaces and hyphens do not count.
func parseScore(text string) (s score, ok bool) {
	key := strings.ReplaceAll(plain(text), "-", "")
	n := strings.IndexFunc(key, func(r rune) bool { return r < 'A' || r > 'Z' })
	if n < 1 || key[n] < '0' || key[n] > '9' {
		return score{}, false
	}
	s = score{scale: key[:n], figure: key[n]}
	switch rest := key[n+1:]; {
	case rest == "":
	case len(rest) == 1 && rest[0] >= 'A' && rest[0] <= 'Z':
		s.minor = rest[0]
	default:
		return score{}, false
	}
	return s, true
}

// ImagingGroup is the group of an imaging score, as "BI-RADS 4C" is "high": one of [ImagingHigh], [ImagingMid],
// [ImagingLow]. Of several scores, "U4, M3" or "P5 M4 U5", the highest counts. Not ok is what cannot be read, and a score
// on a scale of which the protocol names none; among several, such a one is passed over only when another is high or mid.
func (p *Protocol) ImagingGroup(text string) (group string, ok bool) {
	read, unread := false, false
	for _, word := range p.splitScores(text) {
		s, parsed := parseScore(word)
		if !parsed || !p.knowsScale(s.scale) {
			unread = true
			continue
		}
		read = true
		switch p.scores[s] {
		case ImagingHigh:
			group = ImagingHigh
		case ImagingMid:
			if group != ImagingHigh {
				group = ImagingMid
			}
		}
	}
	switch {
	case group != "":
		return group, true
	case read && !unread:
		return ImagingLow, true
	}
	return "", false
}

func (p *Protocol) knowsScale(scale string) bool {
	for s := range p.scores {
		if s.scale == scale {
			return true
		}
	}
	return false
}

// splitScores parts "U4, M3/P2" and "P5 M4 U5" into scores. A space parts two only after a whole score, and not before a
// single letter that is no scale: "BI-RADS 4C", "BI-RADS 4 C" and "U 4" stay whole.
func (p *Protocol) splitScores(text string) []string {
	var words []string
	for _, part := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(",;/+", r) }) {
		word := ""
		for _, field := range strings.Fields(part) {
			s, whole := parseScore(word)
			if letter := len(field) == 1 && !p.knowsScale(plain(field)); whole && (s.minor != 0 || !letter) {
				words, word = append(words, word), ""
			}
			word += field
		}
		if word != "" {
			words = append(words, word)
		}
	}
	return words
}
