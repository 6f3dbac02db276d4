package tracker

import (
	"fmt"
	"strings"
)

// Thing says what sort of thing a [Name] stands for.
type Thing byte

// The four things that have names, and the day of a room, which is watched but has no code.
const (
	ThingCase Thing = iota + 1
	ThingPot
	ThingPiece
	ThingBag
	ThingRoomDay
)

// String gives the word used in sentences: "case", "pot", "piece", "bag" or "day of a room".
func (t Thing) String() string {
	switch t {
	case ThingCase:
		return "case"
	case ThingPot:
		return "pot"
	case ThingPiece:
		return "piece"
	case ThingBag:
		return "bag"
	case ThingRoomDay:
		return "day of a room"
	}
	return "unknown"
}

const (
	lengthClinic = len("MBY")
	lengthCase   = len("MBY-26-00417")
	lengthPot    = len("MBY-26-00417-A")
	lengthPiece  = len("MBY-26-00417-A03")

	bagLetter = 'Z'
	// MaxSerial is the last serial of a clinic in a year; cases and bags share the series.
	MaxSerial = 99999
	// MaxPiece is the highest number of a piece in one pot.
	MaxPiece = 99
)

// Name is what a thing is called when typed, filed or shown: its code without copy and check character, with hyphens.
// The shapes are "MBY-26-00417" (case), "MBY-26-00417-A" (pot), "MBY-26-00417-A03" (piece), "MBY-26-00012-Z" (bag).
// The zero value "" names nothing. Names made by this package are always well formed.
type Name string

// CaseName builds the name of a case. Clinic is three characters, year is its last two digits.
func CaseName(clinic string, year, serial int) (Name, error) {
	if err := checkClinic(clinic); err != nil {
		return "", err
	}
	if year < 0 || year > 99 {
		return "", &CodeError{Reason: ReasonYear, Detail: fmt.Sprintf("year %d is not in 0 to 99", year)}
	}
	if serial < 1 || serial > MaxSerial {
		return "", &CodeError{Reason: ReasonSerial, Detail: fmt.Sprintf("serial %d is not in 1 to %d", serial, MaxSerial)}
	}
	return Name(fmt.Sprintf("%s-%02d-%05d", clinic, year, serial)), nil
}

// BagName builds the name of a transport bag; bags share the serials of cases.
func BagName(clinic string, year, serial int) (Name, error) {
	n, err := CaseName(clinic, year, serial)
	if err != nil {
		return "", err
	}
	return n + "-" + Name(rune(bagLetter)), nil
}

// CheckClinic says what is wrong with a clinic key, or nil: three characters, the first a capital letter, the others
// capitals or digits.
func CheckClinic(clinic string) error { return checkClinic(clinic) }

func checkClinic(clinic string) error {
	if len(clinic) != 3 {
		return &CodeError{Reason: ReasonClinic, Detail: fmt.Sprintf("a clinic key has three characters, not %d", len(clinic))}
	}
	for i := range 3 {
		c := clinic[i]
		if isCapital(c) || (i > 0 && isDigit(c)) {
			continue
		}
		return &CodeError{Reason: ReasonClinic, Position: i + 1, Detail: fmt.Sprintf("%q cannot stand at position %d of a clinic key", rune(c), i+1)}
	}
	return nil
}

// Thing says what the name stands for, or 0 for the empty name.
func (n Name) Thing() Thing {
	if len(n) > lengthClinic && n[lengthClinic] == roomSlash {
		return ThingRoomDay
	}
	switch len(n) {
	case lengthCase:
		return ThingCase
	case lengthPot:
		if n[lengthPot-1] == bagLetter {
			return ThingBag
		}
		return ThingPot
	case lengthPiece:
		return ThingPiece
	}
	return 0
}

// Clinic is the key of the clinic that issued the name.
func (n Name) Clinic() string { return string(n[:3]) }

// Year is the two-digit year in the name.
func (n Name) Year() int { return int(n[4]-'0')*10 + int(n[5]-'0') }

// Serial is the number in that clinic and year.
func (n Name) Serial() int {
	serial := 0
	for _, c := range []byte(n[7:lengthCase]) {
		serial = serial*10 + int(c-'0')
	}
	return serial
}

// Case is the case of a case, pot or piece, and "" for what belongs to no case: a bag, the day of a room.
func (n Name) Case() Name {
	switch n.Thing() {
	case ThingCase, ThingPot, ThingPiece:
		return n[:lengthCase]
	}
	return ""
}

// Pot is the pot of a pot or piece, and "" for others.
func (n Name) Pot() Name {
	switch n.Thing() {
	case ThingPot, ThingPiece:
		return n[:lengthPot]
	}
	return ""
}

// Letter is the pot letter of a pot or piece ("A"), and "" for others.
func (n Name) Letter() string {
	if n.Pot() == "" {
		return ""
	}
	return string(n[lengthPot-1])
}

// PieceNumber is 1 to 99 for a piece and 0 for others.
func (n Name) PieceNumber() int {
	if n.Thing() != ThingPiece {
		return 0
	}
	return int(n[lengthPiece-2]-'0')*10 + int(n[lengthPiece-1]-'0')
}

// WithPot is the name of a pot of the case; the letter must be A to Y without I and O.
func (n Name) WithPot(letter string) (Name, error) {
	if n.Thing() != ThingCase {
		return "", &CodeError{Reason: ReasonThing, Detail: fmt.Sprintf("%s is not a case", n)}
	}
	if len(letter) != 1 || !isPotLetter(letter[0]) {
		return "", &CodeError{Reason: ReasonPot, Detail: fmt.Sprintf("pot letter %q is not one of A to Y without I and O", letter)}
	}
	return n + "-" + Name(letter), nil
}

// WithPiece is the name of a piece of the pot; the number is 1 to 99.
func (n Name) WithPiece(number int) (Name, error) {
	if n.Thing() != ThingPot {
		return "", &CodeError{Reason: ReasonThing, Detail: fmt.Sprintf("%s is not a pot", n)}
	}
	if number < 1 || number > MaxPiece {
		return "", &CodeError{Reason: ReasonPiece, Detail: fmt.Sprintf("piece %d is not in 1 to %d", number, MaxPiece)}
	}
	return n + Name(fmt.Sprintf("%02d", number)), nil
}

// Printed is the spelling for people on labels: "MBY-26-00417 A03".
func (n Name) Printed() string {
	if len(n) > lengthCase {
		return string(n[:lengthCase]) + " " + string(n[lengthCase+1:])
	}
	return string(n)
}

// ParseName reads a name in either case; spaces and hyphens are ignored, as in typed input. A full code is not a name.
func ParseName(text string) (Name, error) {
	item, err := ParseItem(text)
	if err != nil {
		return "", err
	}
	if item.Copy != 0 {
		return "", &CodeError{Text: text, Reason: ReasonLength, Detail: "this is a full code, a name is wanted"}
	}
	return item.Name, nil
}

// Item is one thing an event is about: its name, and the copy when a label was scanned (0 when it was named).
type Item struct {
	Name Name
	Copy Copy
}

// String is the full code when a copy was scanned, else the name.
func (i Item) String() string {
	if i.Copy == 0 {
		return string(i.Name)
	}
	return Code{name: i.Name, copy: i.Copy}.String()
}

// ParseItem reads a code or a name as scanned or typed: either case, spaces and hyphens ignored, an AIM prefix
// stripped. Errors are [*CodeError] and say what is wrong where.
func ParseItem(text string) (Item, error) {
	plain, err := squeeze(text)
	if err != nil {
		return Item{}, err
	}
	switch len(plain) {
	case codeLength:
		code, err := parseSqueezed(text, plain)
		if err != nil {
			return Item{}, err
		}
		return Item{Name: code.name, Copy: code.copy}, nil
	case 10, 11, 13:
		name, err := nameOf(text, plain)
		if err != nil {
			return Item{}, err
		}
		return Item{Name: name}, nil
	}
	return Item{}, &CodeError{Reason: ReasonLength,
		Detail: fmt.Sprintf("%d characters: a code has 15, a name of a case 10, of a pot or bag 11, of a piece 13 (hyphens not counted)", len(plain))}
}

// nameOf checks the characters of a squeezed name, "MBY2600417A03", and spells it with hyphens.
func nameOf(text, plain string) (Name, error) {
	bad := func(i int, reason CodeReason, want string) error {
		return &CodeError{Text: shown(text, plain), Reason: reason, Position: i + 1, Detail: fmt.Sprintf("%q at position %d: %s", rune(plain[i]), i+1, want)}
	}
	for i := range 3 {
		if !isCapital(plain[i]) && (i == 0 || !isDigit(plain[i])) {
			return "", bad(i, ReasonClinic, "the clinic key is three characters, the first a letter")
		}
	}
	for i := 3; i < 10; i++ {
		if !isDigit(plain[i]) {
			return "", bad(i, ReasonSerial, "year and serial are digits")
		}
	}
	if plain[5:10] == "00000" {
		return "", bad(9, ReasonSerial, "serials start at 00001")
	}
	out := plain[:3] + "-" + plain[3:5] + "-" + plain[5:10]
	if len(plain) == 10 {
		return Name(out), nil
	}
	letter := plain[10]
	if !isPotLetter(letter) && letter != bagLetter {
		return "", bad(10, ReasonPot, "a pot letter is A to Y without I and O, a bag is Z")
	}
	out += "-" + string(letter)
	if len(plain) == 11 {
		return Name(out), nil
	}
	if letter == bagLetter {
		return "", bad(11, ReasonPiece, "a bag has no pieces")
	}
	for i := 11; i < 13; i++ {
		if !isDigit(plain[i]) {
			return "", bad(i, ReasonPiece, "a piece has two digits, 01 to 99")
		}
	}
	if plain[11:13] == "00" {
		return "", bad(12, ReasonPiece, "pieces are 01 to 99")
	}
	return Name(out + plain[11:13]), nil
}

// shown is the text that an error may repeat: the text itself where each place holds what codes and names have there,
// else nothing.
func shown(text, plain string) string {
	switch len(plain) {
	case 10, 11, 13, codeLength:
	default:
		return ""
	}
	for i := range len(plain) {
		c := plain[i]
		switch i {
		case 0:
			if !isCapital(c) {
				return ""
			}
		case 3, 4, 5, 6, 7, 8, 9, 11, 12:
			if !isDigit(c) {
				return ""
			}
		case 10:
			if !isPotLetter(c) && c != bagLetter && (c != '0' || len(plain) != codeLength) {
				return ""
			}
		}
	}
	return text
}

func isCapital(c byte) bool { return c >= 'A' && c <= 'Z' }
func isDigit(c byte) bool   { return c >= '0' && c <= '9' }
func isPotLetter(c byte) bool {
	return c >= 'A' && c <= 'Y' && c != 'I' && c != 'O'
}

// squeeze upper-cases scanner or typed text, strips an AIM prefix, spaces and hyphens, and refuses everything that
// is not a digit or an ASCII letter.
func squeeze(text string) (string, error) {
	const longest = 64
	if len(text) > longest {
		return "", &CodeError{Reason: ReasonLength, Detail: fmt.Sprintf("%d characters are too many for a code", len(text))}
	}
	body, offset := text, 0
	if strings.HasPrefix(body, "]") && len(body) >= 3 {
		body, offset = body[3:], 3
	}
	out := make([]byte, 0, len(body))
	for i, r := range body {
		switch {
		case r == ' ' || r == '-':
		case r >= 'a' && r <= 'z':
			out = append(out, byte(r)-'a'+'A')
		case r >= 'A' && r <= 'Z' || r >= '0' && r <= '9':
			out = append(out, byte(r))
		default:
			return "", &CodeError{Reason: ReasonCharacter, Position: len(out) + 1,
				Detail: fmt.Sprintf("%q at position %d (byte %d of the text) is neither a letter A to Z nor a digit", r, len(out)+1, offset+i+1)}
		}
	}
	return string(out), nil
}
