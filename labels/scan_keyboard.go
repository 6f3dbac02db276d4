package labels

import (
	"errors"
	"strings"
	"unicode"

	"github.com/pottrail/pottrail/tracker"
)

// keyboards lists what a scanner that types as on a keyboard of the United States makes appear on a computer set to
// another layout: in from what appears, in to what was meant. Keys that give the same on both are left out. A code holds
// capitals and digits, a place's label small letters and ":-._" too, an AIM prefix "]". Source: the layouts as computers
// have them, from memory.
var keyboards = []struct{ name, from, to string }{
	{"German", "yzYZßÖ?+", "zyZY-:_]"},
	{"French", `qawzQAWZ,?&é"'(-è_çàM)°:$`, `aqzwAQZWmM1234567890:-_.]`},
	{"Belgian", `qawzQAWZ,?&é"'(§è!çàM)°:$`, `aqzwAQZWmM1234567890:-_.]`},
	{"Czech", `yzYZ+ěščřžýáíé=" %)`, `zyZY1234567890-: _]`},
	{"Slovak", `yzYZ+ľščťžýáíé=" %ä`, `zyZY1234567890-: _]`},
	{"Hungarian", "yzYZöüÉÜú", "zyZY0-:_]"},
	{"Spanish", "'Ñ?+", "-:_]"},
	{"Italian", "'ç?+", "-:_]"},
	{"Swedish", "+Ö?å", "-:_]"},
	{"Danish", "+Æ?å", "-:_]"},
	{"Norwegian", "+Ø?å", "-:_]"},
	{"Portuguese", "'Ç?", "-:_"},
	{"Turkish", "ıi*Şç?ü", "ii-:._]"},
	{"shift held, American", "!@#$%^&*()_", "1234567890-"},
	{"shift held, British", `!"£$%^&*()_`, "1234567890-"},
	{"shift held, German", `yzYZ!"§$%&/()=?`, "zyZY1234567890-"},
}

// digitRows are the keys of the digits, 1 to 0, where they give no digits.
var digitRows = []string{`&é"'(-è_çà`, `&é"'(§è!çà`, "+ěščřžýáíé", "+ľščťžýáíé", "!@#$%^&*()", `!"£$%^&*()`, `!"§$%&/()=`}

// keyboardFault says that a text is one of ours changed by a keyboard layout, or nil. It is sure when the characters meant
// give a right code; otherwise nothing but the signs of a digit row, or letters of another script among digits, count. What
// was meant is never taken: another layout could have meant another code.
func keyboardFault(r reading, err error) error {
	for _, k := range keyboards {
		meant := translated(r.raw, k.from, k.to)
		if meant == r.raw {
			continue
		}
		m := take(meant)
		scan, wrong := ours(m)
		if wrong != nil {
			continue
		}
		if scan.Kind == ScanItem {
			if scan.Item.Copy == 0 {
				continue // a name has no check character, so nothing shows that it was meant
			}
			var code *tracker.CodeError
			if errors.As(err, &code) && code.Reason == tracker.ReasonCheckCharacter {
				// Letters have changed places, all else is in order: the reader of the label may have typed it too.
				return &scanError{says: code.Detail + ". With letters changed as between two countries' keyboards it does: " + ErrKeyboard.Error() + "; " + keyboardRemedy,
					wraps: []error{ErrKeyboard, err}}
			}
			return keyboardSet()
		}
		// The colon came as another character, and what follows it is written small, as keys are and names are not.
		if behind := strings.TrimPrefix(r.raw, m.prefix); m.prefix != "" || !strings.ContainsFunc(behind[1:], func(c rune) bool { return c >= 'A' && c <= 'Z' }) {
			return keyboardSet()
		}
	}
	if digitsAsSigns(r.raw) || lettersOfAnotherScript(r.body) {
		return keyboardSet()
	}
	return nil
}

func keyboardSet() error {
	return &scanError{says: ErrKeyboard.Error() + ": what came is not what the label holds; " + keyboardRemedy, wraps: []error{ErrKeyboard}}
}

// translated puts for each character in from the one in the same place of to.
func translated(text, from, to string) string {
	meant := []rune(to)
	place := make(map[rune]rune, len(meant))
	i := 0
	for _, c := range from {
		place[c] = meant[i]
		i++
	}
	return strings.Map(func(c rune) rune {
		if m, ok := place[c]; ok {
			return m
		}
		return c
	}, text)
}

// digitsAsSigns reports whether a text of about a code's length has no digit, but at least eight signs of one digit row.
func digitsAsSigns(text string) bool {
	characters := []rune(text)
	if len(characters) < 12 || len(characters) > 24 || strings.ContainsFunc(text, func(c rune) bool { return unicode.IsDigit(c) || c == ' ' }) {
		return false
	}
	for _, row := range digitRows {
		signs := 0
		seen := map[rune]bool{}
		for _, c := range characters {
			if c != '-' && strings.ContainsRune(row, c) {
				signs++
				seen[c] = true
			}
		}
		if signs >= 8 && len(seen) >= 3 {
			return true
		}
	}
	return false
}

// lettersOfAnotherScript reports whether a text of a code's length has the digits of a code, but letters that are not
// Latin: the computer is set to Greek, Russian, Hebrew, Arabic or the like.
func lettersOfAnotherScript(body string) bool {
	characters := []rune(squeezed(body))
	if len(characters) < codeLength || len(characters) > codeLength+len("]d1") {
		return false
	}
	digits, strange := 0, 0
	for _, c := range characters {
		switch {
		case c >= '0' && c <= '9':
			digits++
		case unicode.IsLetter(c) && !unicode.Is(unicode.Latin, c):
			strange++
		}
	}
	return digits >= 8 && strange > 0
}
