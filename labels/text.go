package labels

import (
	"fmt"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// longestField is more than any label can hold, in bytes; it bounds the work on hostile input.
const longestField = 400

// CharacterError says that a character of a field cannot be drawn. Nothing has been drawn then.
type CharacterError struct {
	Field     string // "family name"
	Character rune
	Position  int    // counted in characters from 1; 0 when it is about the length of the whole
	Detail    string // why, and what to do
}

// Error is a sentence for people; it names the character and holds nothing else of the field.
func (e *CharacterError) Error() string {
	if e.Position == 0 {
		return e.Field + ": " + e.Detail
	}
	if unicode.IsGraphic(e.Character) && !unicode.Is(unicode.Mn, e.Character) {
		return fmt.Sprintf("%s, character %d, %q (%U): %s", e.Field, e.Position, e.Character, e.Character, e.Detail)
	}
	return fmt.Sprintf("%s, character %d (%U): %s", e.Field, e.Position, e.Character, e.Detail)
}

// unshaped are the scripts whose letters stand in the font but whose order or joining this package does not know.
var unshaped = []*unicode.RangeTable{unicode.Hebrew, unicode.Arabic, unicode.Syriac, unicode.Thaana, unicode.Nko}

// prepare composes a field's characters (Unicode normal form C) and refuses those that no label can show as meant:
// controls, invisible formatting, broken UTF-8, combining marks that have no composed letter, right-to-left scripts.
func prepare(field, text string) (string, error) {
	if len(text) > longestField {
		return "", &CharacterError{Field: field,
			Detail: fmt.Sprintf("%d bytes are more than any label holds; shorten it", len(text))}
	}
	plain := true
	for i := range len(text) {
		if text[i] < ' ' || text[i] > '~' {
			plain = false
			break
		}
	}
	if plain {
		return text, nil
	}
	if !utf8.ValidString(text) {
		return "", &CharacterError{Field: field, Character: utf8.RuneError, Position: invalidAt(text), Detail: "this is not UTF-8; enter the text again"}
	}
	text = norm.NFC.String(text)
	position := 0
	for _, r := range text {
		position++
		fail := func(detail string) error {
			return &CharacterError{Field: field, Character: r, Position: position, Detail: detail}
		}
		switch {
		case r == utf8.RuneError:
			return "", fail("it stands for text lost in a conversion; enter the field again")
		case unicode.IsControl(r):
			return "", fail("a control character cannot be printed; enter the field again")
		case unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp, unicode.Co, unicode.Cs):
			return "", fail("it is invisible or has no agreed shape; enter the field again without it")
		case unicode.In(r, unicode.Mn, unicode.Me, unicode.Mc):
			return "", fail("this mark has no letter with it that the font can draw as one; write the name in another accepted form")
		case unicode.In(r, unshaped...):
			return "", fail("right-to-left and joined scripts cannot be set rightly yet; write the name in its Latin form")
		}
	}
	return text, nil
}

func invalidAt(text string) int {
	position := 0
	for len(text) > 0 {
		position++
		r, size := utf8.DecodeRuneInString(text)
		if r == utf8.RuneError && size == 1 {
			return position
		}
		text = text[size:]
	}
	return position
}
