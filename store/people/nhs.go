package people

import "errors"

// What [CheckNHSNumber] finds. The sentences never hold the number.
var (
	// ErrNHSLength says that a number is none of ten digits.
	ErrNHSLength = errors.New("an NHS number has ten digits")
	// ErrNHSCheck says that the last digit does not fit the other nine.
	ErrNHSCheck = errors.New("the check digit does not fit: one digit may be wrong")
)

// nhsDigits is how long an NHS number is, its check digit included.
const nhsDigits = 10

// HasTenDigits reports whether a number is written as an NHS number is: ten digits and nothing else but spaces, hyphens and
// the like between them.
func HasTenDigits(number string) bool { return len(tenDigits(number)) == nhsDigits }

// tenDigits are the digits of such a number, or none.
func tenDigits(number string) string {
	digits := squeeze(number)
	if len(digits) != nhsDigits {
		return ""
	}
	for _, d := range []byte(digits) {
		if d < '0' || d > '9' {
			return ""
		}
	}
	return digits
}

// CheckNHSNumber holds a number against its check digit: the first nine digits, weighted 10 down to 2, are summed modulus
// 11, and what lacks to 11 is the tenth, 11 counting as 0. Where 10 lacks there is no such number. Spaces and hyphens do not
// count. The numbers of Scotland (CHI) and of Northern Ireland (H&C) have the same check digit.
//
// Every single wrong digit is found, and every two neighbours that changed places. Source: NHS Data Dictionary; for Scotland
// and Northern Ireland from memory. The error is [ErrNHSLength] or [ErrNHSCheck].
func CheckNHSNumber(number string) error {
	digits := tenDigits(number)
	if digits == "" {
		return ErrNHSLength
	}
	sum := 0
	for i, d := range []byte(digits[:nhsDigits-1]) {
		sum += int(d-'0') * (nhsDigits - i)
	}
	if check := (11 - sum%11) % 11; check != int(digits[nhsDigits-1]-'0') { // 10 is no digit, so it never fits
		return ErrNHSCheck
	}
	return nil
}
