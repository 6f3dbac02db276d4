package labels

import (
	"errors"
	"fmt"

	"github.com/pottrail/pottrail/tracker"
)

// ErrScan is wrapped by every error of [Read] but the plain [*tracker.CodeError].
var ErrScan = errors.New("not one of our labels")

// ErrTwoCodes is returned for a read that holds more than one code of ours. None is picked.
var ErrTwoCodes error = &scanError{says: "two codes in one read: neither was taken; scan one label at a time"}

// ErrKeyboard is wrapped by errors about a text that a keyboard layout has changed: the scanner types as on one keyboard,
// the computer understands another.
var ErrKeyboard = errors.New("the scanner's keyboard layout is set wrong")

// keyboardRemedy is what to do about [ErrKeyboard].
const keyboardRemedy = "set the scanner and this computer to the same country's keyboard, then scan again"

// itMayBe is the hint on what is likeliest scanned by mistake, and what it is for.
const itMayBe = "It may be the patient's wristband: use it to check who the patient is, not to record a step"

// scanError is a sentence about a read, and what it wraps besides [ErrScan].
type scanError struct {
	says  string
	wraps []error
}

func (e *scanError) Error() string   { return e.says }
func (e *scanError) Unwrap() []error { return append([]error{ErrScan}, e.wraps...) }

func scanErrorf(format string, args ...any) error {
	return &scanError{says: fmt.Sprintf(format, args...)}
}

// partOf is for a text that has the shape of a code, but not its length: characters were lost, or it is not ours.
func partOf(err error) error {
	var code *tracker.CodeError
	if !errors.As(err, &code) || code.Reason != tracker.ReasonLength {
		return err
	}
	return &scanError{says: code.Detail + ". If only a part of our label was read, scan it again. " + itMayBe, wraps: []error{err}}
}

// Sort is what a label that is not ours seems to be.
type Sort uint8

// The sorts of foreign labels.
const (
	SortOther       Sort = iota // nothing that is known here
	SortNumber                  // a bare number
	SortWords                   // words, perhaps a name
	SortPatient                 // a number that has the form of a patient's
	SortWristband               // GS1's or HIBC's number of one who receives care
	SortStaff                   // GS1's number of one who gives care
	SortProduct                 // a box, a lot, a pot of medium, a device
	SortShipment                // a parcel or pallet
	SortLocation                // a place by another system
	SortAsset                   // equipment
	SortBlood                   // blood, cells or tissue for transfusion or transplant
	SortAccession               // a laboratory's own number
	SortWeb                     // a web address
	SortContact                 // a contact card, telephone, mail or calendar entry
	SortSecret                  // the key to a network or account
	SortIdentity                // a person's passport, identity card or licence
	SortCalibration             // a symbol of [Drawer.Calibration]
)

// sorts has for each sort a word, what the label is, and what to do.
var sorts = [...]struct{ word, is, then string }{
	SortOther:       {"other", "", itMayBe},
	SortNumber:      {"number", "but a bare number", itMayBe},
	SortWords:       {"words", "but words", itMayBe},
	SortPatient:     {"patient", "but has the form of a patient's number", itMayBe},
	SortWristband:   {"wristband", "but a patient's wristband", "Use it to check who the patient is, not to record a step"},
	SortStaff:       {"staff", "but a staff card of another system", "Scan the badge that begins with B:, or type who it is"},
	SortProduct:     {"product", "but a product's code, as on a box or a pot of medium", "Enter the lot that is printed beside it where the step asks for the lot"},
	SortShipment:    {"shipment", "but a carrier's label on a parcel", "Scan our own label on the bag"},
	SortLocation:    {"location", "but a place by another system", "Scan the place's label that begins with P:"},
	SortAsset:       {"asset", "but the tag of a piece of equipment", "Scan our label on the pot, the bag or the request"},
	SortBlood:       {"blood", "but one for transfusion or transplant (ISBT 128), not for a biopsy", "Scan our own label"},
	SortAccession:   {"accession", "but has the form of a laboratory's own number", "Scan our label on the pot, and give that number where the step asks for it"},
	SortWeb:         {"web", "but a web address, which is not opened", "Scan the label beside it"},
	SortContact:     {"contact", "but a contact, a message or a date for a telephone", "Scan our own label"},
	SortSecret:      {"secret", "but the key to a network or an account, which was not kept", "Scan our own label"},
	SortIdentity:    {"identity", "but a person's passport, card or licence", "Use it to check who somebody is, not to record a step"},
	SortCalibration: {"calibration", "but a printer's calibration label", "The scanner reads this size; nothing was recorded"},
}

// String is the sort in a word.
func (s Sort) String() string {
	if int(s) >= len(sorts) {
		return sorts[SortOther].word
	}
	return sorts[s].word
}

// ForeignError says that what was read is not one of our labels. It holds nothing of what was read, since that may be a
// patient's name or number.
type ForeignError struct {
	Symbology string // "EAN or UPC", from the scanner's AIM prefix; "" when it sends none
	Sort      Sort
}

// Error is a sentence for people.
func (e *ForeignError) Error() string {
	sort := sorts[SortOther]
	if int(e.Sort) < len(sorts) {
		sort = sorts[e.Sort]
	}
	says := "this is not one of our labels"
	if sort.is != "" {
		says += " " + sort.is
	}
	if e.Symbology != "" {
		says += " (" + e.Symbology + ")"
	}
	return says + ". " + sort.then
}

// Unwrap is [ErrScan].
func (e *ForeignError) Unwrap() error { return ErrScan }
