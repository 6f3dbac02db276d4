package labels

import (
	"strconv"
	"strings"

	"github.com/pottrail/pottrail/tracker"
)

// ScanKind says what sort of label was read.
type ScanKind uint8

// The sorts of label.
const (
	ScanItem  ScanKind = iota + 1 // a case, pot, piece or bag
	ScanPlace                     // "P:hatch"
	ScanBadge                     // "B:nurse.osei"
)

// String is the word used in sentences.
func (k ScanKind) String() string {
	switch k {
	case ScanItem:
		return "item"
	case ScanPlace:
		return "place"
	case ScanBadge:
		return "badge"
	}
	return "unknown"
}

// Scan is what one read of a label says.
type Scan struct {
	Kind ScanKind
	Item tracker.Item // of a ScanItem: name, and copy if a full code was read
	Key  string       // of a place or badge, in lower case
}

const (
	placePrefix = "P:"
	badgePrefix = "B:"
	longestKey  = 64
	codeLength  = 15
)

// PlaceText is what a place's label holds; [Read] is its inverse for keys of small letters, digits, ".", "-" and "_".
func PlaceText(key string) string { return placePrefix + key }

// BadgeText is what a badge holds; [Read] is its inverse, as for [PlaceText].
func BadgeText(key string) string { return badgePrefix + key }

// Read makes sense of a scanner's text, or of a code or name typed by hand. Either case will do; an AIM prefix ("]" and
// two characters) and what scanners send around a text (Enter, Tab, STX, GS) are taken off; in codes and names spaces
// and hyphens count for nothing, also those that word processors put in their place. A colon in the second place tells
// places and badges from things, whose codes have none.
//
// A symbol holds a full code: a bare name is taken only as people write it, with its hyphens or spaces, since without
// them it may as well be the beginning of a code whose end was lost, or a patient's number.
//
// Nothing is guessed. An error is one of these, and those that wrap [ErrScan] never repeat what was read:
//
//   - [*tracker.CodeError]: a code or name of ours with something wrong in it, and where;
//   - [ErrTwoCodes]: more than one code in a read;
//   - [ErrKeyboard]: a keyboard layout has changed the characters on their way;
//   - [*ForeignError]: not one of our labels, with what it seems to be;
//   - others that wrap [ErrScan], about places, badges and lost characters.
func Read(text string) (Scan, error) {
	r := take(text)
	if r.long {
		return Scan{}, foreign(r)
	}
	scan, err := ours(r)
	if err == nil {
		return scan, nil
	}
	switch {
	case severalCodes(r.body):
		return Scan{}, ErrTwoCodes
	case r.labelled():
		return Scan{}, err // a place or badge with a fault in its key
	}
	if wrong := keyboardFault(r, err); wrong != nil {
		return Scan{}, wrong
	}
	if strange := surelyForeign(r); strange != nil {
		return Scan{}, strange
	}
	switch near(r.body) {
	case nearWhole:
		return Scan{}, err
	case nearPart:
		return Scan{}, partOf(err)
	}
	return Scan{}, foreign(r)
}

// ours reads what is on a label of ours.
func ours(r reading) (Scan, error) {
	if r.labelled() {
		key, err := readKey(r.body[2:])
		if err != nil {
			return Scan{}, err
		}
		if strings.EqualFold(r.body[:2], placePrefix) {
			return Scan{Kind: ScanPlace, Key: key}, nil
		}
		return Scan{Kind: ScanBadge, Key: key}, nil
	}
	// The prefix goes along: a second one behind it is a fault.
	item, err := tracker.ParseItem(r.prefix + r.body)
	if err != nil {
		return Scan{}, err
	}
	if item.Copy == 0 && (r.prefix != "" || !spelledOut(r.body)) {
		return Scan{}, &tracker.CodeError{Reason: tracker.ReasonLength, Detail: strconv.Itoa(len(strings.ReplaceAll(string(item.Name), "-", ""))) +
			" characters, a code has 15; a name that is typed has its hyphens, as in MBY-26-00417-A03"}
	}
	return Scan{Kind: ScanItem, Item: item}, nil
}

// spelledOut reports whether a name stands as people write it: clinic, year and serial apart.
func spelledOut(body string) bool {
	parts := strings.FieldsFunc(body, func(r rune) bool { return r == ' ' || r == '-' })
	return len(parts) >= 3 && len(parts[0]) == 3 && len(parts[1]) == 2
}

// labelled reports whether the text begins as a place's or a badge's does.
func (r reading) labelled() bool {
	return len(r.body) >= 2 && (strings.EqualFold(r.body[:2], placePrefix) || strings.EqualFold(r.body[:2], badgePrefix))
}

// readKey folds a key to lower case, since a scanner set to capitals sends it so, and refuses what no key holds.
func readKey(key string) (string, error) {
	if key == "" {
		return "", scanErrorf("there is no key after the colon; scan the label again")
	}
	if len(key) > longestKey {
		return "", scanErrorf("%d characters after the colon, a key has %d at most; scan the label again", len(key), longestKey)
	}
	out := []byte(key)
	for i, c := range out {
		switch {
		case c >= 'A' && c <= 'Z':
			out[i] = c - 'A' + 'a'
		case isKeyCharacter(c):
		default:
			return "", scanErrorf("character %d after the colon cannot stand in a key; scan the label again", i+1)
		}
	}
	if n := len(key) - codeLength; n >= 0 && isCode(key[n:]) {
		return "", ErrTwoCodes // the label of a place and that of a thing
	}
	return string(out), nil
}

func isKeyCharacter(c byte) bool {
	return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '.' || c == '-' || c == '_'
}

// isCode reports whether a text is a full code.
func isCode(text string) bool {
	_, err := tracker.ParseCode(text)
	return err == nil
}
