package daemon

import (
	"strings"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store/people"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// regionsUK is how the keys of regions in the United Kingdom begin; its countries' numbers have one check digit.
const regionsUK = "gb-"

// checkNational refuses a national number whose check digit does not fit, since a slip in it finds another patient or none.
// It is checked where the request says that it is an NHS number, and where it says nothing, at a clinic of the United
// Kingdom, when it has ten digits as those have.
func checkNational(number, kind string, p *protocol.Protocol) error {
	switch kind {
	case ask.NationalNHS:
	case "":
		if !strings.HasPrefix(p.Calendars[p.Calendar].Region, regionsUK) || !people.HasTenDigits(number) {
			return nil
		}
	case ask.NationalOther:
		return nil
	default:
		return &ask.Error{Kind: ask.Invalid, Code: string(events.CodeBadWord), Field: "national_kind",
			Text: "national_kind is none that is known: say " + ask.NationalNHS + " or " + ask.NationalOther + ", or leave it out"}
	}
	if number == "" {
		return nil // the record number alone will do
	}
	if err := people.CheckNHSNumber(number); err != nil {
		return &ask.Error{Kind: ask.Invalid, Code: string(events.CodeBadNumber), Field: "patient.national_number",
			Text: "patient.national_number: " + err.Error() + `. Read it from the request again; if it is no NHS number, say so: national_kind "other"`}
	}
	return nil
}
