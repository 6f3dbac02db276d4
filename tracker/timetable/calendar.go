package timetable

import (
	"errors"
	"fmt"
	"slices"
	"strings"
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
	zone   *time.Location
	worked []int32 // for each known day, how many worked days there are from the first to it, it included
	days   []int32 // the worked days, as indexes of worked
}

// NewCalendar makes the calendar of a place: its zone, its region ("gb-england-wales", or "none" for Mondays to Fridays
// alone), the days it is closed besides and those it is open in spite of that, both as "2026-12-24".
func NewCalendar(zone *time.Location, region string, closed, open []string) (*Calendar, error) {
	if zone == nil {
		return nil, errors.New("a calendar needs a zone")
	}
	var off [dayCount]bool
	for i := range off {
		switch weekday(firstDay + i) {
		case time.Saturday, time.Sunday:
			off[i] = true
		}
	}
	switch region {
	case RegionNone:
	case RegionEnglandWales:
		for year := FirstYear; year <= LastYear; year++ {
			for _, day := range englandWales(year) {
				off[day-firstDay] = true
			}
		}
	default:
		return nil, fmt.Errorf("%w %q: known are %s", ErrRegion, region, strings.Join(Regions(), ", "))
	}
	if err := mark(&off, closed, open); err != nil {
		return nil, err
	}
	c := &Calendar{zone: zone, worked: make([]int32, dayCount), days: make([]int32, 0, dayCount)}
	for i, free := range off {
		if !free {
			c.days = append(c.days, int32(i))
		}
		c.worked[i] = int32(len(c.days))
	}
	return c, nil
}

// mark works local closures and openings in.
func mark(off *[dayCount]bool, closed, open []string) error {
	for _, text := range closed {
		i, err := dayOf(text)
		if err != nil {
			return err
		}
		if slices.Contains(open, text) {
			return fmt.Errorf("%w: %s is listed as closed and as open: take it out of one list", ErrDay, text)
		}
		off[i] = true
	}
	for _, text := range open {
		i, err := dayOf(text)
		if err != nil {
			return err
		}
		off[i] = false
	}
	return nil
}

// dayOf is the index of a day written "2026-12-24".
func dayOf(text string) (int, error) {
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return 0, fmt.Errorf("%w: %q: write it as 2026-12-24", ErrDay, text)
	}
	i := int(floorDiv(t.Unix(), secondsPerDay)) - firstDay
	if i < 0 || i >= dayCount {
		return 0, fmt.Errorf("%w: %s: calendars know %d to %d", ErrDay, text, FirstYear, LastYear)
	}
	return i, nil
}

// Zone is the calendar's time zone.
func (c *Calendar) Zone() *time.Location { return c.zone }

// Known reports whether t is on a day that the calendar knows. What it says of other days is not to be relied on.
func (c *Calendar) Known(t time.Time) bool {
	_, known := c.index(t)
	return known
}

// Working reports whether t is on a working day. A day that is not known is none; see [Calendar.Known].
func (c *Calendar) Working(t time.Time) bool {
	i, known := c.index(t)
	return known && c.works(i)
}

// index is the day of t in the table.
func (c *Calendar) index(t time.Time) (i int, known bool) {
	i = int(floorDiv(c.wall(t), secondsPerDay)) - firstDay
	return i, i >= 0 && i < dayCount
}

func (c *Calendar) works(i int) bool {
	return i == 0 && c.worked[0] == 1 || i > 0 && c.worked[i] > c.worked[i-1]
}

// weekday is the day of the week of a day since 1970, which began on a Thursday.
func weekday(day int) time.Weekday {
	return time.Weekday(((day+int(time.Thursday))%7 + 7) % 7)
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}
