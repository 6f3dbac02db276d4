package tracker

import (
	"fmt"
	"time"
)

// Date is a day without time or zone, "2026-03-06".
type Date string

// ParseDate checks the spelling and that the day exists.
func ParseDate(text string) (Date, error) {
	if _, err := time.Parse(time.DateOnly, text); err != nil {
		return "", fmt.Errorf("%q is not a date like 2026-03-06", text)
	}
	return Date(text), nil
}

// End is the first instant after the day in the zone.
func (d Date) End(zone *time.Location) time.Time {
	t, err := time.ParseInLocation(time.DateOnly, string(d), zone)
	if err != nil {
		return time.Time{}
	}
	return t.AddDate(0, 0, 1)
}
