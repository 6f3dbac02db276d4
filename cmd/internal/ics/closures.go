package ics

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/pottrail/pottrail/tracker/timetable"
)

// Bounds of what one file may close, so that a slip of a year or a file of somebody's appointments is noticed.
const (
	mostDaysAnEvent = 366
	mostDays        = 5000
)

// LeftOut is an event that closes nothing, and why.
type LeftOut struct {
	Line  int    `json:"line"`
	Title string `json:"title"`
	Why   string `json:"why"`
}

// Closures are the closed days of a calendar file.
type Closures struct {
	Closed  []string  // "2026-12-24", in order, none twice
	LeftOut []LeftOut // in the order of the file
}

// Read takes the closed days out of a calendar file: each all-day event closes its days. An event that repeats every year
// is followed to the end of the year through; with 0 one that repeats without an end is refused. The error joins all that
// is wrong, each with its line; the reader's own errors come as they are.
func Read(in io.Reader, through int) (*Closures, error) {
	if through != 0 && (through < timetable.FirstYear || through > timetable.LastYear) {
		return nil, fmt.Errorf("the year %d: calendars know %d to %d", through, timetable.FirstYear, timetable.LastYear)
	}
	events, err := readEvents(in)
	if err != nil {
		return nil, err
	}
	var out Closures
	var wrongs []error
	days := make(map[string]bool)
	total := 0 // with those that several events close
	for i := range events {
		e := &events[i]
		if e.kind == "VTIMEZONE" {
			continue
		}
		closed, left, err := e.closes(through)
		switch {
		case err != nil:
			wrongs = append(wrongs, err)
		case left != "":
			out.LeftOut = append(out.LeftOut, LeftOut{e.line, e.title(), left})
		}
		for _, day := range closed {
			days[day.Format(time.DateOnly)] = true
		}
		if total += len(closed); len(days) > mostDays || total > 10*mostDays {
			return nil, wrong(e.line, "with %s the file closes more than %d days; is it a list of closed days?", e.title(), mostDays)
		}
	}
	switch {
	case len(wrongs) > 0:
		return nil, errors.Join(wrongs...)
	case len(events) == 0:
		return nil, fmt.Errorf("%w: there is no event in it", ErrFile)
	}
	for day := range days {
		out.Closed = append(out.Closed, day)
	}
	slices.Sort(out.Closed)
	return &out, nil
}

// closes lists the days that an event closes, as midnights in UTC, or says why it closes none, or why only some.
func (e *event) closes(through int) (days []time.Time, left string, err error) {
	if e.kind != "VEVENT" {
		return nil, "it is no event but a " + e.kind, nil
	}
	status, err := e.find("STATUS")
	if err != nil {
		return nil, "", err
	}
	if status != nil && strings.EqualFold(status.value, "CANCELLED") {
		return nil, "it is cancelled", nil
	}
	first, length, err := e.span()
	if err != nil {
		return nil, "", err
	}
	starts, left, err := e.starts(first, length, through)
	if err != nil {
		return nil, "", err
	}
	for _, start := range starts {
		for n := range length {
			day := start.AddDate(0, 0, n)
			if day.Year() < timetable.FirstYear || day.Year() > timetable.LastYear {
				return nil, "", wrong(e.line, "%s closes %s: calendars know %d to %d", e.title(), day.Format(time.DateOnly), timetable.FirstYear, timetable.LastYear)
			}
			days = append(days, day)
		}
	}
	return days, left, nil
}

// span is the first day of an event, and for how many days it lasts.
func (e *event) span() (first time.Time, days int, err error) {
	start, err := e.find("DTSTART")
	if err != nil {
		return first, 0, err
	}
	if start == nil {
		return first, 0, wrong(e.line, "%s has no DTSTART", e.title())
	}
	first, allDay, err := e.day(start)
	if err != nil {
		return first, 0, err
	}
	end, err := e.find("DTEND")
	if err != nil {
		return first, 0, err
	}
	lasts, err := e.find("DURATION")
	switch {
	case err != nil:
		return first, 0, err
	case end != nil && lasts != nil:
		return first, 0, wrong(lasts.line, "%s has an end and a length; one of them is too many", e.title())
	case end != nil:
		after, endAllDay, err := e.day(end)
		switch days = int(after.Sub(first).Hours() / 24); {
		case err != nil:
			return first, 0, err
		case allDay != endAllDay:
			return first, 0, wrong(end.line, "%s begins with a date and ends with a time of day, or the other way round", e.title())
		case days < 1:
			return first, 0, wrong(end.line, "%s ends before its first day is over; the end is the day after the last", e.title())
		}
	case lasts != nil:
		if days, err = wholeDays(lasts.value); err != nil {
			return first, 0, wrong(lasts.line, "%s: %v", e.title(), err)
		}
	case allDay:
		days = 1
	default:
		return first, 0, wrong(e.line, "%s has a time of day and no end; give it whole days", e.title())
	}
	if days > mostDaysAnEvent {
		return first, 0, wrong(e.line, "%s lasts %d days, over %d; is that a closure?", e.title(), days, mostDaysAnEvent)
	}
	return first, days, nil
}

// day reads a date, or a midnight by wall clock. Any other time of day cannot be said as a closed day.
func (e *event) day(p *property) (day time.Time, allDay bool, err error) {
	date, clock, timed := strings.Cut(p.value, "T")
	day, err = parseDate(date)
	if err != nil {
		return day, false, wrong(p.line, "%s: %s:%s is no date; write it as 20261224", e.title(), p.name, p.value)
	}
	switch {
	case !timed:
		return day, true, nil
	case strings.HasSuffix(clock, "Z"):
		return day, false, wrong(p.line, "%s is given in UTC, not by the wall clock; give it whole days", e.title())
	case clock != "000000":
		return day, false, wrong(p.line, "%s has a time of day, and a calendar closes whole days: give the hours of that date in the protocol, under hours.KEY.dates, "+
			"and take the event out of the file", e.title())
	}
	return day, false, nil
}

// parseDate reads "20261224".
func parseDate(text string) (time.Time, error) {
	if len(text) != len("20060102") {
		return time.Time{}, strconv.ErrSyntax
	}
	return time.Parse("20060102", text)
}

// wholeDays reads a length of days or weeks, "P2D" or "P1W".
func wholeDays(text string) (int, error) {
	number, unit := strings.TrimPrefix(text, "P"), 1
	if weeks, ok := strings.CutSuffix(number, "W"); ok {
		number, unit = weeks, 7
	} else if number, ok = strings.CutSuffix(number, "D"); !ok {
		number = ""
	}
	n, err := strconv.ParseUint(number, 10, 16)
	if err != nil || n == 0 || !strings.HasPrefix(text, "P") {
		return 0, fmt.Errorf("a length of %q is no whole days; write it as P2D", text)
	}
	return int(n) * unit, nil
}
