package tracker

import "fmt"

const codeLength = 15

// Copy tells prints of the same thing apart: '1' for the first, then 2 to 9 and A to Z, 35 in all. 0 means none.
type Copy byte

// Next is the copy that follows; ok is false after the 35th, 'Z'.
func (c Copy) Next() (next Copy, ok bool) {
	switch {
	case c == 0:
		return '1', true
	case c >= '1' && c < '9', c >= 'A' && c < 'Z':
		return c + 1, true
	case c == '9':
		return 'A', true
	}
	return 0, false
}

// Valid reports whether c is one of the 35 copies.
func (c Copy) Valid() bool { return c >= '1' && c <= '9' || c >= 'A' && c <= 'Z' }

// String is the one character, or "" for none.
func (c Copy) String() string {
	if c == 0 {
		return ""
	}
	return string(rune(c))
}

// Code is what a label's symbol holds: a name, a copy and a check character. The zero value is no code.
type Code struct {
	name Name
	copy Copy
}

// MakeCode builds the code of one copy of a thing.
func MakeCode(name Name, copy Copy) (Code, error) {
	if name.Thing() == 0 {
		return Code{}, &CodeError{Text: string(name), Reason: ReasonLength, Detail: "not a name"}
	}
	if !copy.Valid() {
		return Code{}, &CodeError{Text: string(name), Reason: ReasonCopy, Position: 14, Detail: "a copy is 1 to 9 or A to Z, 35 in all"}
	}
	return Code{name: name, copy: copy}, nil
}

// Name is the thing the code stands for.
func (c Code) Name() Name { return c.name }

// Copy is which print of it.
func (c Code) Copy() Copy { return c.copy }

// Item is the code as an event keeps it.
func (c Code) Item() Item { return Item{Name: c.name, Copy: c.copy} }

// String is the 15 characters in the symbol; [ParseCode] is its inverse.
func (c Code) String() string {
	if c.name == "" {
		return ""
	}
	body := make([]byte, 0, codeLength)
	body = append(body, c.name[0:3]...)
	body = append(body, c.name[4:6]...)
	body = append(body, c.name[7:lengthCase]...)
	switch c.name.Thing() {
	case ThingCase:
		body = append(body, "000"...)
	case ThingPot, ThingBag:
		body = append(body, c.name[lengthPot-1], '0', '0')
	case ThingPiece:
		body = append(body, c.name[lengthPot-1:]...)
	}
	body = append(body, byte(c.copy))
	return string(append(body, CheckCharacter(string(body))))
}

// ParseCode reads scanner input: either case, spaces and hyphens ignored, an AIM prefix ("]" and two characters)
// stripped, always 15 characters. Errors are [*CodeError] with the position and what is wrong.
func ParseCode(text string) (Code, error) {
	plain, err := squeeze(text)
	if err != nil {
		return Code{}, err
	}
	return parseSqueezed(text, plain)
}

func parseSqueezed(text, plain string) (Code, error) {
	if len(plain) != codeLength {
		return Code{}, &CodeError{Reason: ReasonLength, Detail: fmt.Sprintf("%d characters, a code has 15", len(plain))}
	}
	// The check comes first: a misread character is likelier than a code of a strange shape that checks.
	if want := CheckCharacter(plain[:codeLength-1]); want != plain[codeLength-1] {
		return Code{}, &CodeError{Text: shown(text, plain), Reason: ReasonCheckCharacter, Position: codeLength,
			Detail: "position 15: the check character does not fit: one character may be misread"}
	}
	copy := Copy(plain[13])
	if !copy.Valid() {
		return Code{}, &CodeError{Text: shown(text, plain), Reason: ReasonCopy, Position: 14, Detail: "position 14: copies are 1 to 9 and A to Z"}
	}
	short := plain[:13]
	switch {
	case plain[10] == '0' && plain[11:13] != "00":
		return Code{}, &CodeError{Text: shown(text, plain), Reason: ReasonPiece, Position: 12, Detail: "position 12: a case has no pieces: 00 belongs there"}
	case plain[10] == '0':
		short = plain[:10]
	case plain[11:13] == "00":
		short = plain[:11]
	}
	name, err := nameOf(text, short)
	if err != nil {
		return Code{}, err
	}
	return Code{name: name, copy: copy}, nil
}

// CodeReason is the machine word for what is wrong with a code or name; verdicts carry it as error code.
type CodeReason string

// What can be wrong with a code or name.
const (
	ReasonLength         CodeReason = "bad-length"
	ReasonCharacter      CodeReason = "bad-character"
	ReasonCheckCharacter CodeReason = "bad-check-character"
	ReasonClinic         CodeReason = "bad-clinic"
	ReasonYear           CodeReason = "bad-year"
	ReasonSerial         CodeReason = "bad-serial"
	ReasonPot            CodeReason = "bad-pot-letter"
	ReasonPiece          CodeReason = "bad-piece-number"
	ReasonCopy           CodeReason = "bad-copy"
	ReasonThing          CodeReason = "wrong-thing"
)

// CodeError says what is wrong with a code or name, and at which character, counted from 1 after spaces, hyphens and
// prefix are taken off (0 when it is about the whole).
type CodeError struct {
	// Text is what was read, only where it has the shape of a code or name of ours. Whatever else gets into a scanner may
	// be the patient's own number, and is repeated to nobody.
	Text     string
	Reason   CodeReason
	Position int
	Detail   string
}

// Error is a sentence for people.
func (e *CodeError) Error() string {
	if e.Text == "" {
		return e.Detail
	}
	return fmt.Sprintf("%q: %s", e.Text, e.Detail)
}

// MarshalText is the one character.
func (c Copy) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// UnmarshalText reads one of the 35 copies.
func (c *Copy) UnmarshalText(text []byte) error {
	if len(text) != 1 || !Copy(text[0]).Valid() {
		return &CodeError{Reason: ReasonCopy, Detail: "a copy is one of 1 to 9 and A to Z"}
	}
	*c = Copy(text[0])
	return nil
}
