package timetable

import (
	"time"

	"github.com/rickar/cal/v2"
	"github.com/rickar/cal/v2/gb"
)

// Regions whose holidays a calendar knows.
const (
	RegionEnglandWales = "gb-england-wales"
	RegionNone         = "none" // Mondays to Fridays, no holidays
)

// Regions lists the regions that [NewCalendar] takes.
func Regions() []string { return []string{RegionEnglandWales, RegionNone} }

// oneOff is a bank holiday that no rule foretells and the library does not have, or, with Gone, one that was moved away.
type oneOff struct {
	date string
	gone bool
}

// englandWalesOneOffs corrects the library for single years. What it has already, 2020-05-08, 2022-06-02 and 03 and
// 2023-05-08, is checked by a test.
// Source: gov.uk bank holidays, and royal proclamations in The London Gazette (dates from memory).
func englandWalesOneOffs() []oneOff {
	return []oneOff{
		{date: "2002-05-27", gone: true}, // spring bank holiday, moved to 4 June
		{date: "2002-06-03"},             // Golden Jubilee
		{date: "2002-06-04"},
		{date: "2011-04-29"},             // royal wedding
		{date: "2012-05-28", gone: true}, // spring bank holiday, moved to 4 June
		{date: "2012-06-04"},
		{date: "2012-06-05"}, // Diamond Jubilee
		{date: "2022-09-19"}, // state funeral
	}
}

// englandWales lists the bank holidays of a year as days since 1970.
func englandWales(year int) []int {
	var days []int
	for _, holiday := range gb.Holidays {
		if day, ok := observed(holiday, year); ok {
			days = append(days, day)
		}
	}
	for _, extra := range englandWalesOneOffs() {
		t, err := time.Parse(time.DateOnly, extra.date)
		if err != nil || t.Year() != year {
			continue
		}
		day := int(t.Unix() / secondsPerDay)
		if !extra.gone {
			days = append(days, day)
			continue
		}
		kept := days[:0]
		for _, d := range days {
			if d != day {
				kept = append(kept, d)
			}
		}
		days = kept
	}
	return days
}

// observed is the day on which a holiday is kept. The library reckons in the machine's own zone, where a day may begin
// at 23:00 of the day before or at 01:00; half a day later it is the right day in every zone, and from there on the
// reckoning is here and without zones.
func observed(holiday *cal.Holiday, year int) (day int, ok bool) {
	bare := *holiday
	bare.Observed = nil
	actual, _ := bare.Calc(year)
	if actual.IsZero() {
		return 0, false
	}
	y, m, d := actual.Add(12 * time.Hour).Date()
	day = int(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / secondsPerDay)
	for _, instead := range holiday.Observed {
		if instead.Day == weekday(day) {
			return day + instead.Offset, true
		}
	}
	return day, true
}
