package labels

import (
	"regexp"
	"strings"
	"unicode"
)

// surelyForeign finds what is not ours by a sign that no code of ours has: GS1's data, a web address, another symbology's
// own number. It is nil when there is no such sign.
func surelyForeign(r reading) error {
	if sort, ok := r.sure(); ok {
		return &ForeignError{Symbology: r.symbology(), Sort: sort}
	}
	return nil
}

// foreign says of a text that is not ours what it seems to be.
func foreign(r reading) error {
	e := &ForeignError{Symbology: r.symbology()}
	if sort, ok := r.sure(); ok {
		e.Sort = sort
		return e
	}
	letters, digits, others := 0, 0, 0
	for _, c := range squeezed(r.body) {
		switch {
		case unicode.IsLetter(c):
			letters++
		case unicode.IsDigit(c):
			digits++
		default:
			others++
		}
	}
	switch {
	case letters == 0 && digits > 0 && others <= digits/2:
		e.Sort = SortNumber
	case letters > 0 && digits <= letters && others <= letters:
		e.Sort = SortWords
	}
	return e
}

// beginnings tell some texts by how they begin, in small letters. Sources: RFC 3986 (web), RFC 6350 (vCard), RFC 5545
// (calendar), the usual forms of telephones for networks and contacts (common practice, no source), ISO/IEC 15434 (the
// envelope "[)>" on parcels) and ANSI MH10.8.2, AAMVA's card ("@", "ansi "), from memory.
var beginnings = []struct {
	with string
	sort Sort
}{
	{"http://", SortWeb}, {"https://", SortWeb}, {"www.", SortWeb}, {"ftp://", SortWeb},
	{"wifi:", SortSecret}, {"otpauth:", SortSecret}, {"dpp:", SortSecret},
	{"begin:v", SortContact}, {"mecard:", SortContact}, {"bizcard:", SortContact}, {"mailto:", SortContact}, {"matmsg:", SortContact},
	{"smtp:", SortContact}, {"tel:", SortContact}, {"sms:", SortContact}, {"smsto:", SortContact}, {"geo:", SortContact},
	{"[)>", SortShipment},
	{"@\n", SortIdentity}, {"@\r", SortIdentity}, {"@\x1e", SortIdentity}, {"@ansi ", SortIdentity},
	{"p<", SortIdentity}, {"i<", SortIdentity}, {"id<", SortIdentity}, {"v<", SortIdentity},
}

var (
	calibrationSymbol = regexp.MustCompile(`^cal [0-9]{1,2}$`) // CalibrationText
	mailAddress       = regexp.MustCompile(`^[^\s@]+@[^\s@]+\.[^\s@]+$`)
	// accession has the three orders of kind, year and number that CAP/NSH Uniform Labeling names (Arch Pathol Lab Med
	// 2015;139:1515-24, statements 1 and 2): S14-9999, 14-9999S, 14S-9999. Ours begin with three characters and a hyphen.
	accession = regexp.MustCompile(`^(?:[A-Za-z]{1,2}[0-9]{2}-[0-9]{1,6}|[0-9]{2}-[0-9]{1,6}[A-Za-z]{1,2}|[0-9]{2}[A-Za-z]{1,2}-[0-9]{1,6})$`)
	// donation is a data identifier of ISBT 128: "=" or "&" and one character, then the data. Source: ISBT 128 Standard
	// Technical Specification, from memory.
	donation = regexp.MustCompile(`^[=&][A-Za-z0-9!-/:-@]?[A-Za-z0-9]{4,}`)
	// supplier and provider are the primary data of HIBC: "+" and a letter on products, "+/" in care. Source: ANSI/HIBC 2.6
	// and the provider applications standard, from memory.
	supplier = regexp.MustCompile(`^\+(?:[A-Za-z][A-Za-z0-9]{5,}|\$)`)
	provider = regexp.MustCompile(`^\+/[A-Za-z0-9]`)
)

// sure is what a text is by a sign that no code of ours has.
func (r reading) sure() (Sort, bool) {
	small := strings.ToLower(r.body)
	for _, b := range beginnings {
		if strings.HasPrefix(small, b.with) {
			if b.sort == SortWeb {
				return webAddress(r.body), true
			}
			return b.sort, true
		}
	}
	if sort, ok := r.gs1(); ok {
		return sort, true
	}
	switch {
	case calibrationSymbol.MatchString(small):
		return SortCalibration, true
	case strings.Contains(small, "://"):
		return SortWeb, true
	case len(r.body) <= 254 && mailAddress.MatchString(r.body):
		return SortContact, true
	case accession.MatchString(r.body):
		return SortAccession, true
	case provider.MatchString(r.body):
		return SortWristband, true
	case supplier.MatchString(r.body):
		return SortProduct, true
	case donation.MatchString(r.body):
		return SortBlood, true
	}
	return r.sureNumber()
}

// sureNumber is for digits alone: no code of ours has none but digits. Eight digits count as a product's only when the
// scanner says so, since one record number in ten has the check digit by chance.
func (r reading) sureNumber() (Sort, bool) {
	number := squeezed(r.body)
	if !allDigits(number) {
		return SortOther, false
	}
	if strings.HasPrefix(r.prefix, "]E") {
		return SortProduct, true
	}
	switch len(number) {
	case 10:
		if modulus11Fits(number) {
			return SortPatient, true
		}
	case 12, 13, 14:
		if number == r.body && gs1CheckFits(number) {
			return SortProduct, true
		}
	}
	return SortNumber, true
}

// webAddress is a web address, or what GS1's Digital Link says in its path ("/01/" and a GTIN, "/8018/" and a GSRN).
func webAddress(address string) Sort {
	parts := strings.FieldsFunc(address, func(c rune) bool { return c == '/' || c == '?' })
	for i := range len(parts) - 1 {
		for _, ai := range applicationIdentifiers {
			if parts[i] == ai.id && len(parts[i+1]) == ai.digits && gs1CheckFits(parts[i+1]) {
				return ai.sort
			}
		}
	}
	return SortWeb
}

// nearness is how much a text resembles a code of ours.
type nearness uint8

const (
	nearNot   nearness = iota
	nearPart           // its shape, but not its length
	nearWhole          // a code with a fault in it
)

// lengthCaseName is the length of a case's name without hyphens.
const lengthCaseName = 10

// shape is what stands where in a code: L a letter, A a letter or digit, D a digit, P a letter or 0.
const shape = "LAADDDDDDDPDDAA"

// near compares a text with the shape of a code, from its beginning and, since the first characters of a burst are lost
// most easily, from its end. Two misread characters are allowed for in a whole code.
func near(body string) nearness {
	characters := []rune(squeezed(body))
	n := len(characters)
	switch {
	case n == 0:
		return nearWhole // nothing was read
	case n > codeLength+5 || n < 4:
		return nearNot
	}
	fromStart := faults(characters[:min(n, codeLength)], shape)
	switch {
	case holdsCode(characters):
		return nearWhole // with something before or behind it that the scanner puts there
	case (n == codeLength || spelledOut(body) && n >= lengthCaseName-2) && fromStart <= 2:
		return nearWhole
	case fromStart == 0, n < codeLength && n >= 8 && faults(characters, shape[codeLength-n:]) == 0:
		return nearPart
	case n >= codeLength-2 && n <= codeLength+1 && fromStart <= 2:
		return nearWhole
	}
	return nearNot
}

// holdsCode reports whether some characters in a row are a full code.
func holdsCode(characters []rune) bool {
	for i := 0; i+codeLength <= len(characters); i++ {
		if isCode(string(characters[i : i+codeLength])) {
			return true
		}
	}
	return false
}

// faults counts the characters that cannot stand where they stand.
func faults(characters []rune, shape string) int {
	wrong := 0
	for i, c := range characters {
		letter, digit := c >= 'A' && c <= 'Z', c >= '0' && c <= '9'
		fits := letter
		switch shape[i] {
		case 'A':
			fits = letter || digit
		case 'D':
			fits = digit
		case 'P':
			fits = letter || c == '0'
		}
		if !fits {
			wrong++
		}
	}
	return wrong
}
