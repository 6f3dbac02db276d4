package timetable

import (
	"errors"
	"fmt"
	"slices"
	"time"
)

// The days that a calendar knows: whole years, first and last included.
const (
	FirstYear = 2000
	LastYear  = 2099
)

// ErrRegion is wrapped by the error for a region whose holidays are not known.
var ErrRegion = errors.New("unknown region")

// ErrDay is wrapped by the error for a closure or an opening that is no day, or is listed as both.
var ErrDay = errors.New("not a usable day")

const secondsPerDay = 24 * 60 * 60

// firstDay is 1 January of FirstYear in days since 1970; dayCount is how many days are known.
const (
	firstDay = 10957
	dayCount = (LastYear-FirstYear+1)*365 + (LastYear-FirstYear+1)/4 // 2000 is a leap year, and so is every fourth after
)

// Calendar says which days are worked in one place, and adds days by its wall clock. It is immutable: any number of
// goroutines may use it. Days are those of its zone.
type Calendar struct {
	zone        *time.Location
	first, last int             // the known days, as indexes of worked
	worked      [dayCount]int32 // for each day of the table, how many worked days there are from the first to it, it included
	days        []int32         // the worked days, as indexes of worked
	open        dayTable        // the worked days again
	shut        dayTable        // holidays and closures, also on weekends
}

// Option is one more thing that [NewCalendar] is told.
type Option func(*options) error

type options struct{ last int }

// Until ends a calendar with a day, "2027-12-31", itself included, because closures after it are not decided yet. An
// empty text changes nothing; a day after the region's own end does not lengthen it.
func Until(day string) Option {
	return func(o *options) error {
		if day == "" {
			return nil
		}
		i, err := dayOf(day)
		if err != nil {
			return fmt.Errorf("the calendar's end: %w", err)
		}
		o.last = min(o.last, i)
		return nil
	}
}

// NewCalendar makes the calendar of a place: its zone, its region ("gb-england-wales", or "none" for Mondays to Fridays
// alone), the days it is closed besides and those it is open in spite of that, both as "2026-12-24".
func NewCalendar(zone *time.Location, region string, closed, open []string, more ...Option) (*Calendar, error) {
	if zone == nil {
		return nil, errors.New("a calendar needs a zone")
	}
	place, err := regionOf(region)
	if err != nil {
		return nil, err
	}
	o := options{last: yearEnd(place.Last)}
	for _, tell := range more {
		if err := tell(&o); err != nil {
			return nil, err
		}
	}
	c := &Calendar{zone: zone, first: yearEnd(place.First-1) + 1, last: o.last}
	if c.last < c.first {
		return nil, fmt.Errorf("%w: the calendar ends with %s, before region %q begins in %d", ErrDay, dayText(c.last), region, place.First)
	}
	place.holidays(&c.shut)
	if err := mark(&c.shut, &c.open, closed, open); err != nil {
		return nil, err
	}
	c.days = make([]int32, 0, len(c.worked))
	for i := range c.worked {
		if day := weekday(firstDay + i); day != time.Saturday && day != time.Sunday && !c.shut.has(i) {
			c.open.put(i, true)
		}
		if c.open.has(i) {
			c.days = append(c.days, int32(i))
		}
		c.worked[i] = int32(len(c.days))
	}
	return c, nil
}

// mark works local closures and openings in: an opening takes a day out of shut.
func mark(shut, worked *dayTable, closed, open []string) error {
	for _, text := range closed {
		i, err := dayOf(text)
		if err != nil {
			return err
		}
		if slices.Contains(open, text) {
			return fmt.Errorf("%w: %s is listed as closed and as open: take it out of one list", ErrDay, text)
		}
		shut.put(i, true)
	}
	for _, text := range open {
		i, err := dayOf(text)
		if err != nil {
			return err
		}
		shut.put(i, false)
		worked.put(i, true)
	}
	return nil
}

// dayOf is the index of a day written "2026-12-24".
func dayOf(text string) (i int, err error) {
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return i, fmt.Errorf("%w: %q: write it as 2026-12-24", ErrDay, text)
	}
	i = dayNumber(t.Date()) - firstDay
	if i < 0 || i >= dayCount {
		return i, fmt.Errorf("%w: %s: calendars know %d to %d", ErrDay, text, FirstYear, LastYear)
	}
	return i, nil
}

// dayTable is a set of days of the table, a bit each.
type dayTable [(dayCount + 63) / 64]uint64

func (d *dayTable) has(i int) bool { return d[i/64]>>(i%64)&1 == 1 }

func (d *dayTable) put(i int, in bool) {
	if in {
		d[i/64] |= 1 << (i % 64)
	} else {
		d[i/64] &^= 1 << (i % 64)
	}
}

// close puts a day in that is counted from 1970; one outside the table is left out.
func (d *dayTable) close(day int) {
	if i := day - firstDay; i >= 0 && i < dayCount {
		d.put(i, true)
	}
}

// Zone is the calendar's time zone.
func (c *Calendar) Zone() *time.Location { return c.zone }

// Working reports whether t is on a working day. A day that is not known is none; see [Calendar.Known].
func (c *Calendar) Working(t time.Time) bool {
	i, known := c.index(t)
	return known && c.open.has(i)
}

// Shut reports whether t is on a holiday of the region or on a local closure. A weekend alone is none, so that a place
// may have hours on Saturdays; a holiday that falls on a weekend is. A day that is not known counts as shut.
func (c *Calendar) Shut(t time.Time) bool {
	i, known := c.index(t)
	return !known || c.shut.has(i)
}

// index is the day of t in the table, and whether it is known.
func (c *Calendar) index(t time.Time) (i int, known bool) {
	i = int(floorDiv(c.wall(t), secondsPerDay)) - firstDay
	return i, i >= c.first && i <= c.last
}

// weekday is the day of the week of a day since 1970, which began on a Thursday.
func weekday(day int) time.Weekday {
	return time.Weekday(((day+int(time.Thursday))%7 + 7) % 7)
}

// dayNumber is a date in days since 1970.
func dayNumber(year int, month time.Month, day int) int {
	return int(floorDiv(time.Date(year, month, day, 0, 0, 0, 0, time.UTC).Unix(), secondsPerDay))
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}
