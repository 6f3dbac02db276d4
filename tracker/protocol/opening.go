package protocol

import (
	"fmt"

	"github.com/pottrail/pottrail/tracker/timetable"
)

// opening is one stretch of opening hours by wall clock. It ends after it begins, past 24:00 where it goes on over midnight.
type opening struct{ from, until timetable.Clock }

// parseOpening reads "08:30-17:00". "22:00-06:00" goes on over midnight, and "00:00-24:00" is a whole day. Both ends the same
// are refused, since that can mean all day or never.
func parseOpening(text string) (opening, error) {
	v, err := timetable.ParseInterval(text)
	switch {
	case err != nil:
		return opening{}, fmt.Errorf(`%q are no opening hours; write them as "08:30-17:00"`, text)
	case v.From == v.To:
		return opening{}, fmt.Errorf(`%q begins when it ends; a whole day is "00:00-24:00", and a closed one has an empty list`, text)
	case v.To < v.From:
		return opening{v.From, v.To + timetable.Midnight}, nil
	}
	return opening{v.From, v.To}, nil
}

// Of are the opening hours of a day of the week, "mon" to "sun", as they stand in the file; dates and closures come before
// them.
func (h Hours) Of(day string) []string {
	switch day {
	case "mon":
		return h.Mon
	case "tue":
		return h.Tue
	case "wed":
		return h.Wed
	case "thu":
		return h.Thu
	case "fri":
		return h.Fri
	case "sat":
		return h.Sat
	case "sun":
		return h.Sun
	}
	return nil
}
