package labels

import "strings"

// gs1CheckFits reports whether the last of some digits is GS1's check digit: weights 3 and 1 in turn from the right, the
// sum with the check digit is a multiple of ten. It is that of GTIN-8, -12, -13 and -14, SSCC, GSRN and GLN, of EAN, UPC
// and ISBN-13. Source: GS1 General Specifications, 7.9, from memory; examples in TestPublishedCheckDigits.
func gs1CheckFits(digits string) bool {
	if len(digits) < 2 {
		return false
	}
	sum := 0
	for i := range len(digits) {
		c := digits[len(digits)-1-i]
		if c < '0' || c > '9' {
			return false
		}
		weight := 1
		if i%2 == 1 {
			weight = 3
		}
		sum += weight * int(c-'0')
	}
	return sum%10 == 0
}

// modulus11Fits reports whether the tenth digit is the check digit of an NHS number: weights 10 to 2, modulus 11. Source: NHS
// Data Dictionary; numbers in testdata/published/nhs-numbers.tsv. One number in eleven of any sort fits.
func modulus11Fits(digits string) bool {
	if len(digits) != 10 || !allDigits(digits) {
		return false
	}
	sum := 0
	for i := range 9 {
		sum += (10 - i) * int(digits[i]-'0')
	}
	check := (11 - sum%11) % 11 // 10 has no digit, so such a number fits none
	return check == int(digits[9]-'0')
}

func allDigits(text string) bool {
	for i := range len(text) {
		if text[i] < '0' || text[i] > '9' {
			return false
		}
	}
	return text != ""
}

// applicationIdentifiers are those of GS1's element strings that tell what a label is on. The digits behind some have a
// length of their own, the last a check digit; 0 means any. Source: GS1 General Specifications, 3, from memory. Longer
// ones stand before those that they begin with.
var applicationIdentifiers = []struct {
	id     string
	digits int
	sort   Sort
}{
	{"8018", 18, SortWristband}, // GSRN of the recipient
	{"8017", 18, SortStaff},     // GSRN of the provider
	{"8003", 14, SortAsset},     // returnable asset
	{"8004", 0, SortAsset},      // individual asset
	{"8006", 0, SortProduct},    // piece of a trade item
	{"410", 13, SortShipment},   // ship to
	{"413", 13, SortShipment},
	{"414", 13, SortLocation}, // a physical place
	{"415", 13, SortLocation},
	{"401", 0, SortShipment}, // consignment
	{"402", 0, SortShipment},
	{"240", 0, SortProduct},
	{"00", 18, SortShipment}, // SSCC
	{"01", 14, SortProduct},  // GTIN
	{"02", 14, SortProduct},
	{"10", 0, SortProduct}, // lot
	{"11", 0, SortProduct}, // made on
	{"17", 0, SortProduct}, // expires
	{"21", 0, SortProduct}, // serial
}

// gs1 finds what a text is by GS1's element strings: announced by the scanner, written with parentheses, or bare digits
// whose length and check digit fit. A patient's number anywhere in it goes before all else.
func (r reading) gs1() (Sort, bool) {
	announced := r.announcesGS1()
	var sort Sort
	found := announced
	for element := range elements(r.body) {
		for _, ai := range applicationIdentifiers {
			value, ok := strings.CutPrefix(element.text, ai.id)
			if !ok || element.closed && len(element.id) != len(ai.id) {
				continue
			}
			fits := ai.digits > 0 && len(value) >= ai.digits && gs1CheckFits(value[:ai.digits])
			// Without a sign of GS1, only a number with its check digit counts, and nothing behind it but what often stands there:
			// what a box says more, and the number of a patient's visit, whose separator many scanners leave out.
			bare := !announced && !element.closed
			whole := fits && (len(value) == ai.digits || ai.id == "01" || ai.sort == SortWristband)
			if bare && !whole || ai.digits > 0 && !fits {
				continue
			}
			if ai.sort == SortWristband {
				return SortWristband, true
			}
			if sort == SortOther {
				sort, found = ai.sort, true
			}
			break
		}
	}
	return sort, found
}

// element is one stretch of an element string, beginning with its identifier.
type element struct {
	text   string
	id     string // between parentheses
	closed bool   // written with parentheses
}

// elements walks over the stretches between group separators, or those that begin with an identifier in parentheses.
func elements(body string) func(yield func(element) bool) {
	return func(yield func(element) bool) {
		for stretch := range strings.SplitSeq(body, groupSeparator) {
			if !strings.HasPrefix(stretch, "(") {
				if !yield(element{text: stretch}) {
					return
				}
				continue
			}
			for rest := stretch; ; {
				inside, after, closed := strings.Cut(strings.TrimPrefix(rest, "("), ")")
				if !closed || !allDigits(inside) {
					break
				}
				value, _, more := strings.Cut(after, "(")
				if !yield(element{text: inside + strings.ReplaceAll(value, " ", ""), id: inside, closed: true}) {
					return
				}
				if !more {
					break
				}
				rest = after[len(value):]
			}
		}
	}
}
