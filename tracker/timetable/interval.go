package timetable

import (
	"errors"
	"fmt"
	"strings"
)

// ErrClock is wrapped by the error for a time of day or an interval that cannot be read.
var ErrClock = errors.New("not a usable time of day")

// Clock is what a wall clock shows, in minutes since midnight: 0 to 1440, which is "24:00", the end of the day.
type Clock int

// Midnight is 24:00, the end of a day.
const Midnight Clock = 24 * 60

// ParseClock reads "08:30"; "24:00" is the end of the day.
func ParseClock(text string) (c Clock, err error) {
	if len(text) != 5 || text[2] != ':' {
		return c, fmt.Errorf("%w: %q: write it as 08:30", ErrClock, text)
	}
	n := 0
	for _, i := range [...]int{0, 1, 3, 4} {
		if text[i] < '0' || text[i] > '9' {
			return c, fmt.Errorf("%w: %q: write it as 08:30", ErrClock, text)
		}
		n = n*10 + int(text[i]-'0')
	}
	hours, minutes := n/100, n%100
	if minutes > 59 || hours*60+minutes > int(Midnight) {
		return c, fmt.Errorf("%w: %q: a day has 00:00 to 24:00", ErrClock, text)
	}
	return Clock(hours*60 + minutes), nil
}

// String writes a time of day as "08:30".
func (c Clock) String() string { return fmt.Sprintf("%02d:%02d", int(c)/60, int(c)%60) }

// Interval is a stretch of a day by wall clock, From included and To not. Where To is not after From it goes on over
// midnight: 22:00 to 06:00, and 08:00 to 08:00 is a day and a night.
type Interval struct {
	From Clock // 00:00 to 23:59
	To   Clock // 00:00 to 24:00
}

// ParseInterval reads "08:30-17:00", with a hyphen or a dash, and "22:00-06:00" over midnight.
func ParseInterval(text string) (Interval, error) {
	from, to, ok := strings.Cut(strings.ReplaceAll(text, "–", "-"), "-")
	if !ok {
		return Interval{}, fmt.Errorf("%w: %q: write it as 08:30-17:00", ErrClock, text)
	}
	var v Interval
	var err error
	if v.From, err = ParseClock(strings.TrimSpace(from)); err != nil {
		return Interval{}, fmt.Errorf("%q: %w", text, err)
	}
	if v.To, err = ParseClock(strings.TrimSpace(to)); err != nil {
		return Interval{}, fmt.Errorf("%q: %w", text, err)
	}
	return v, v.check()
}

// ParseIntervals reads a list of intervals; an empty one is a closed day.
func ParseIntervals(texts []string) ([]Interval, error) {
	list := make([]Interval, 0, len(texts))
	for _, text := range texts {
		v, err := ParseInterval(text)
		if err != nil {
			return nil, err
		}
		list = append(list, v)
	}
	return list, nil
}

// String writes an interval as "08:30-17:00".
func (v Interval) String() string { return v.From.String() + "-" + v.To.String() }

func (v Interval) check() error {
	if v.From < 0 || v.From >= Midnight || v.To < 0 || v.To > Midnight {
		return fmt.Errorf("%w: %s: it begins from 00:00 to 23:59 and ends from 00:00 to 24:00", ErrClock, v)
	}
	return nil
}

// seconds is where the interval begins and ends, in seconds after its day's midnight by wall clock.
func (v Interval) seconds() (from, to int64) {
	from, to = int64(v.From)*60, int64(v.To)*60
	if to <= from {
		to += secondsPerDay
	}
	return from, to
}
