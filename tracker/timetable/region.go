package timetable

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/rickar/cal/v2"
)

// Regions whose holidays a calendar knows.
const (
	RegionEnglandWales    = "gb-england-wales"
	RegionScotland        = "gb-scotland"
	RegionNorthernIreland = "gb-northern-ireland"
	RegionIreland         = "ie"
	RegionUSFederal       = "us-federal"
	RegionCanadaFederal   = "ca-federal"
	RegionSouthAfrica     = "za"
	RegionNewSouthWales   = "au-nsw"
	RegionNewZealand      = "nz"
	RegionGermany         = "de"
	RegionFrance          = "fr"
	RegionNetherlands     = "nl"
	RegionSweden          = "se"
	RegionNone            = "none" // Mondays to Fridays, no holidays
)

// Region says which holidays a calendar takes for a country or a part of one, and for which years that may be relied on.
type Region struct {
	Key    string // what [NewCalendar] takes: "gb-scotland"
	Name   string // "Scotland"
	First  int    // first and last year in which the table may be relied on
	Last   int
	Source string // the law or list that the days come from
	Lacks  string // what a clinic must still list as closed; empty: nothing that is known of
}

// region is a Region with its days.
type region struct {
	Region
	rules   []*cal.Holiday
	oneOffs []oneOff
}

// oneOff is a holiday that no rule foretells and the library does not have, or, with gone, one that was moved away.
type oneOff struct {
	date string
	gone bool
}

// regions is made anew for each asker, so that nobody can change another's.
func regions() []region {
	return slices.Concat(britain(), []region{ireland(), usFederal(), canadaFederal(), southAfrica(), newSouthWales(), newZealand()}, continent(), []region{{
		Region: Region{Key: RegionNone, Name: "no holidays", First: FirstYear, Last: LastYear, Source: "Mondays to Fridays", Lacks: "every day on which nobody works"},
	}})
}

// Regions lists the keys that [NewCalendar] takes, in order.
func Regions() []string {
	var keys []string
	for _, r := range regions() {
		keys = append(keys, r.Key)
	}
	slices.Sort(keys)
	return keys
}

// RegionOf says what is known of a region. An unknown key gives an [ErrRegion] that lists the known ones.
func RegionOf(key string) (Region, error) {
	r, err := regionOf(key)
	return r.Region, err
}

func regionOf(key string) (region, error) {
	for _, r := range regions() {
		if r.Key == key {
			return r, nil
		}
	}
	return region{}, fmt.Errorf("%w %q: known are %s", ErrRegion, key, strings.Join(Regions(), ", "))
}

// holidays marks the days off of all years: of each holiday its own day, which may be on a weekend, and the day on which it
// is kept. Friday 1 January 2100 is kept on its own day, so that no year after the table reaches into it.
func (r region) holidays(off *dayTable) {
	gone := make(map[int]bool)
	for _, one := range r.oneOffs {
		if i, err := dayOf(one.date); err == nil {
			off.put(i, !one.gone)
			gone[firstDay+i] = one.gone
		}
	}
	for year := FirstYear; year <= LastYear; year++ {
		for _, rule := range r.rules {
			if actual, kept, ok := observed(rule, year); ok && !gone[kept] {
				off.close(actual)
				off.close(kept)
			}
		}
	}
}

const halfADay = 12 * time.Hour

// observed is the day of a holiday and the day on which it is kept. The library reckons in the machine's own zone, where
// a day may begin at 23:00 of the day before or at 01:00; half a day later it is the right day in every zone, and from
// there on the reckoning is here and without zones.
func observed(holiday *cal.Holiday, year int) (actual, kept int, ok bool) {
	start, _ := holiday.Calc(year)
	if start.IsZero() {
		return actual, kept, false
	}
	actual = dayNumber(start.Add(halfADay).Date())
	for _, instead := range holiday.Observed {
		if instead.Day == weekday(actual) {
			return actual, actual + instead.Offset, true
		}
	}
	return actual, actual, true
}

// Where a holiday goes that falls on a weekend.
func toMonday() []cal.AltDay {
	return []cal.AltDay{{Day: time.Saturday, Offset: 2}, {Day: time.Sunday, Offset: 1}}
}

// Where the second of two holidays in a row goes: past what the first has taken.
func pastTheFirst() []cal.AltDay {
	return []cal.AltDay{{Day: time.Saturday, Offset: 2}, {Day: time.Sunday, Offset: 2}, {Day: time.Monday, Offset: 1}}
}

// sundayToMonday leaves a Saturday where it is.
func sundayToMonday() []cal.AltDay { return []cal.AltDay{{Day: time.Sunday, Offset: 1}} }

// fixed is a holiday on the same date each year.
func fixed(name string, month time.Month, day int, instead []cal.AltDay) *cal.Holiday {
	return &cal.Holiday{Name: name, Month: month, Day: day, Observed: instead, Func: cal.CalcDayOfMonth}
}

// from is a holiday from a year on.
func from(year int, holiday *cal.Holiday) *cal.Holiday {
	return holiday.Clone(&cal.Holiday{StartYear: year})
}
