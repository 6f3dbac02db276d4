package ics

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/pottrail/pottrail/tracker/timetable"
)

// rule is a yearly repetition on the same date.
type rule struct {
	every int // years
	count int // 0: without
	until time.Time
	utc   bool // until is an instant in UTC: its day by the wall clock may be the one before or after
}

// starts lists the first days of an event and of all its repetitions, without those that it excepts.
func (e *event) starts(first time.Time, length, through int) (starts []time.Time, left string, err error) {
	for _, name := range []string{"RDATE", "EXRULE", "RECURRENCE-ID"} {
		for _, p := range e.props {
			if p.name == name {
				return nil, "", wrong(p.line, "%s changes or adds to its repetitions (%s), which is not read here: give each date an event of its own", e.title(), name)
			}
		}
	}
	repeat, err := e.find("RRULE")
	if err != nil {
		return nil, "", err
	}
	excepted, err := e.excepted()
	if err != nil {
		return nil, "", err
	}
	if repeat == nil {
		if excepted[first] {
			return nil, "its only date is excepted", nil
		}
		return []time.Time{first}, "", nil
	}
	r, err := e.rule(repeat, first)
	if err != nil {
		return nil, "", err
	}
	if r.count == 0 && r.until.IsZero() && through == 0 {
		return nil, "", wrong(repeat.line, "%s repeats every year without an end: say with --through up to which year", e.title())
	}
	starts, left, err = r.dates(e, repeat.line, first, length, through)
	starts = slices.DeleteFunc(starts, func(day time.Time) bool { return excepted[day] })
	if len(starts) == 0 && left == "" {
		left = "no date of its repetition remains"
	}
	return starts, left, err
}

// dates follows a repetition through the years that calendars know, or to the end of the year through.
func (r rule) dates(e *event, line int, first time.Time, length, through int) (dates []time.Time, left string, err error) {
	last := through
	if through == 0 {
		last = timetable.LastYear
	}
	found := 0
	for year := first.Year(); ; year += r.every {
		day := time.Date(year, first.Month(), first.Day(), 0, 0, 0, 0, time.UTC)
		if day.Day() != first.Day() { // 29 February
			continue
		}
		apart := day.Sub(r.until).Hours() / 24
		switch found++; {
		case r.count > 0 && found > r.count, !r.until.IsZero() && !r.utc && apart > 0, r.utc && apart > 1:
			return dates, left, nil
		case r.utc && apart != 0 && apart >= -1:
			return nil, "", wrong(line, "%s ends its repetitions at an instant in UTC, within a day of %s: write UNTIL as a date", e.title(), day.Format(time.DateOnly))
		case day.AddDate(0, 0, length-1).Year() > last:
			return dates, fmt.Sprintf("its dates after %d are left out", last), nil
		case year < timetable.FirstYear:
			left = fmt.Sprintf("its dates before %d are left out", timetable.FirstYear)
			continue
		}
		dates = append(dates, day)
	}
}

// excepted are the dates that an event leaves out of its repetition.
func (e *event) excepted() (map[time.Time]bool, error) {
	out := make(map[time.Time]bool)
	for i := range e.props {
		p := &e.props[i]
		if p.name != "EXDATE" {
			continue
		}
		for one := range strings.SplitSeq(p.value, ",") {
			single := *p
			single.value = one
			day, _, err := e.day(&single)
			if err != nil {
				return nil, err
			}
			out[day] = true
		}
	}
	return out, nil
}

// rule reads a repetition. What is not the same date each year, or each so many years, is refused.
func (e *event) rule(p *property, first time.Time) (r rule, err error) {
	r.every = 1
	yearly := false
	seen := make(map[string]bool)
	for part := range strings.SplitSeq(p.value, ";") {
		name, value, _ := strings.Cut(part, "=")
		if seen[name] {
			return r, wrong(p.line, "%s: its repetition says %s twice", e.title(), name)
		}
		seen[name] = true
		ok := true
		switch name {
		case "FREQ":
			if value != "YEARLY" {
				return r, wrong(p.line, "%s repeats %s; only a yearly repetition on the same date is read here: give each date an event of its own", e.title(), strings.ToLower(value))
			}
			yearly = true
		case "INTERVAL":
			r.every, ok = count(value)
		case "COUNT":
			r.count, ok = count(value)
		case "UNTIL":
			date, clock, _ := strings.Cut(value, "T")
			r.until, err = parseDate(date)
			ok, r.utc = err == nil, strings.HasSuffix(clock, "Z")
		case "BYMONTH":
			ok = value == strconv.Itoa(int(first.Month()))
		case "BYMONTHDAY":
			ok = value == strconv.Itoa(first.Day())
		case "WKST": // without weekdays it changes nothing
		default:
			ok = false
		}
		if !ok {
			return r, wrong(p.line, "%s repeats by %q, which is not read here: give each date an event of its own", e.title(), part)
		}
	}
	switch {
	case !yearly:
		return r, wrong(p.line, "%s: its repetition does not say how often", e.title())
	case seen["BYMONTHDAY"] && !seen["BYMONTH"]:
		return r, wrong(p.line, "%s repeats on a day of every month, which is not read here: give each date an event of its own", e.title())
	case r.count > 0 && !r.until.IsZero():
		return r, wrong(p.line, "%s: its repetition has a number and an end; one of them is too many", e.title())
	}
	return r, nil
}

// count reads a number from 1 to 1000.
func count(text string) (int, bool) {
	n, err := strconv.ParseUint(text, 10, 16)
	return int(n), err == nil && n >= 1 && n <= 1000
}
