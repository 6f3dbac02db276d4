package evidence

import (
	"encoding/hex"
	"strconv"
	"strings"
)

// shortDigits is how many hexadecimal digits of a root [Checkpoint.Short] shows.
const shortDigits = 20

// ParseShort reads what [Checkpoint.Short] prints, as a person types it: either case, with or without hyphens, spaces
// and the thousands' commas. Root is the first digits of the root, in small letters.
func ParseShort(text string) (size uint64, root string, err error) {
	number, rest, ok := strings.Cut(strings.TrimSpace(text), " ")
	if !ok {
		return 0, "", ErrShort
	}
	size, err = strconv.ParseUint(strings.ReplaceAll(number, ",", ""), 10, 63)
	if err != nil {
		return 0, "", ErrShort
	}
	root = strings.ToLower(strings.NewReplacer("-", "", " ", "").Replace(rest))
	if _, err := hex.DecodeString(root); err != nil || len(root) != shortDigits {
		return 0, "", ErrShort
	}
	return size, root, nil
}
