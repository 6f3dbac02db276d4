package staff

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// Lengths of a PIN in characters. Six digits are what NIST SP 800-63B (5.1.1.2, since revision 3) asks at least of a secret
// that the verifier checks under a limit of tries, and 64 is the least maximum there; short ones count only at an enrolled
// station, which is the other factor.
const (
	ShortestPIN = 6
	LongestPIN  = 64
)

// mostPINBytes bounds what is hashed of what somebody sends.
const mostPINBytes = 4 * LongestPIN * 4

// tidyPIN is a PIN as it is hashed: however a keyboard puts accents together (NIST SP 800-63B, 5.1.1.2: normalise before
// hashing), and no longer than any can be.
func tidyPIN(pin string) string {
	if len(pin) > mostPINBytes {
		pin = pin[:mostPINBytes]
	}
	return norm.NFKC.String(pin)
}

// common are PINs that people choose first. From memory of published lists of leaked ones; runs and repeats are found by rule.
var common = []string{
	"password", "passwort", "passw0rd", "password1", "welcome", "welcome1", "changeme", "letmein", "secret", "pottrail", "biopsy", "hospital", "clinic",
	"qwerty", "qwertz", "azerty", "qwertyuiop", "asdfgh", "asdfghjkl", "yxcvbn", "zxcvbn", "1q2w3e", "1q2w3e4r", "q1w2e3", "qazwsx", "abc123",
	"112233", "445566", "778899", "123321", "321123", "654321", "123654", "159753", "147258", "258369", "147369", "741852", "852963", "963852", "789456",
	"456789", "121314", "131415", "102030", "112358", "314159", "271828", "142536", "102938", "110110", "100100", "696969", "420420", "007007",
}

// CheckPIN says why somebody should take another PIN, as a [PINError]; nil if it is good enough. Staff is their key.
func CheckPIN(staff, pin string) error {
	if !utf8.ValidString(pin) || strings.ContainsFunc(pin, func(r rune) bool { return unicode.IsControl(r) || r == utf8.RuneError }) {
		return &PINError{"a PIN is made of characters that can be typed"}
	}
	pin = tidyPIN(pin)
	low := strings.ToLower(pin)
	switch n := utf8.RuneCountInString(pin); {
	case n < ShortestPIN:
		return &PINError{"a PIN has at least 6 characters"}
	case n > LongestPIN:
		return &PINError{"a PIN has at most 64 characters"}
	case strings.TrimSpace(pin) != pin:
		return &PINError{"a PIN neither begins nor ends with a space"}
	case repeats([]rune(low)):
		return &PINError{"that PIN repeats one thing: take one that is harder to guess"}
	case runs([]rune(low)):
		return &PINError{"that PIN counts up or down: take one that is harder to guess"}
	case slices.Contains(common, low):
		return &PINError{"that PIN is one of those that are tried first: take another"}
	case echoes(strings.ToLower(staff), low):
		return &PINError{"that PIN is on the badge: take one that is not"}
	}
	return nil
}

// repeats reports whether a text is one beginning of at most three characters, over and over.
func repeats(pin []rune) bool {
	for n := 1; n <= 3; n++ {
		same := true
		for i := n; i < len(pin) && same; i++ {
			same = pin[i] == pin[i-n]
		}
		if same {
			return true
		}
	}
	return false
}

// runs reports whether each character follows the one before it, up or down; after 9 comes 0.
func runs(pin []rune) bool {
	for _, step := range []rune{1, -1} {
		run := true
		for i := 1; i < len(pin) && run; i++ {
			next := pin[i-1] + step
			wraps := pin[i-1] == '9' && step == 1 && pin[i] == '0' || pin[i-1] == '0' && step == -1 && pin[i] == '9'
			run = pin[i] == next || wraps
		}
		if run {
			return true
		}
	}
	return false
}

// echoes reports whether a PIN is made of the staff key: as it is, or without its dots and hyphens, or backwards.
func echoes(staff, pin string) bool {
	bare := strings.NewReplacer(".", "", "-", "").Replace(staff)
	back := []rune(bare)
	slices.Reverse(back)
	plain := strings.NewReplacer(".", "", "-", "", " ", "").Replace(pin)
	return plain != "" && (plain == bare || plain == string(back) || plain == "b:"+bare)
}
