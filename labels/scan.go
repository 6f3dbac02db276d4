package labels

import (
	"errors"
	"fmt"
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

// ErrScan is wrapped by every error of [Read] about places and badges; those about codes are [*tracker.CodeError].
var ErrScan = errors.New("not one of our labels")

const (
	placePrefix = "P:"
	badgePrefix = "B:"
	longestKey  = 64
)

// PlaceText is what a place's label holds; [Read] is its inverse for keys of small letters, digits, ".", "-" and "_".
func PlaceText(key string) string { return placePrefix + key }

// BadgeText is what a badge holds; [Read] is its inverse, as for [PlaceText].
func BadgeText(key string) string { return badgePrefix + key }

// Read makes sense of a scanner's text, or of a code or name typed by hand: either case, an AIM prefix ("]" and two
// characters) stripped, white space at the ends ignored. A colon in the second place tells places and badges from
// things, whose codes have none.
func Read(text string) (Scan, error) {
	body := strings.TrimSpace(text)
	if strings.HasPrefix(body, "]") && len(body) >= 3 {
		body = body[3:]
	}
	if len(body) >= 2 && body[1] == ':' {
		key, err := readKey(body[2:])
		if err != nil {
			return Scan{}, err
		}
		switch strings.ToUpper(body[:2]) {
		case placePrefix:
			return Scan{Kind: ScanPlace, Key: key}, nil
		case badgePrefix:
			return Scan{Kind: ScanBadge, Key: key}, nil
		}
		return Scan{}, fmt.Errorf("%q before the colon: a place's label begins with P:, a badge with B:: %w", body[:1], ErrScan)
	}
	item, err := tracker.ParseItem(strings.TrimSpace(text))
	if err != nil {
		return Scan{}, err
	}
	return Scan{Kind: ScanItem, Item: item}, nil
}

// readKey folds a key to lower case, since a scanner set to capitals sends it so, and refuses what no key holds.
func readKey(key string) (string, error) {
	if key == "" {
		return "", fmt.Errorf("there is no key after the colon; scan the label again: %w", ErrScan)
	}
	if len(key) > longestKey {
		return "", fmt.Errorf("%d characters after the colon, a key has %d at most: %w", len(key), longestKey, ErrScan)
	}
	out := []byte(key)
	for i, c := range out {
		switch {
		case c >= 'A' && c <= 'Z':
			out[i] = c - 'A' + 'a'
		case c >= 'a' && c <= 'z', c >= '0' && c <= '9', c == '.', c == '-', c == '_':
		default:
			return "", fmt.Errorf("character %d after the colon cannot stand in a key; scan the label again: %w", i+1, ErrScan)
		}
	}
	return string(out), nil
}
