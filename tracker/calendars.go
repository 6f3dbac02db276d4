package tracker

import (
	"fmt"
	"slices"
	"time"

	"github.com/pottrail/pottrail/tracker/protocol"
	"github.com/pottrail/pottrail/tracker/timetable"
)

// calendarsOf makes the calendars of a protocol ready, all of them in the clinic's zone.
func calendarsOf(p *protocol.Protocol, zone *time.Location) (map[string]*timetable.Calendar, error) {
	calendars := make(map[string]*timetable.Calendar, len(p.Calendars))
	for key, days := range p.Calendars {
		closed := days.Closed
		if days.Imported != nil {
			closed = slices.Concat(closed, days.Imported.Closed)
		}
		calendar, err := timetable.NewCalendar(zone, days.Region, closed, days.Open, timetable.Until(days.Until))
		if err != nil {
			return nil, fmt.Errorf("calendar %q of the protocol, line %d: %w", key, p.Line("calendars."+key), err)
		}
		calendars[key] = calendar
	}
	return calendars, nil
}

// calendarOf is the calendar of a key; the clinic's own for an empty one.
func (r *Rules) calendarOf(key string) *timetable.Calendar {
	if calendar, ok := r.calendars[key]; ok {
		return calendar
	}
	return r.calendar
}

// after is the instant that lies a span after t: elapsed, or by wall clock over a calendar's days.
func after(calendar *timetable.Calendar, t time.Time, s protocol.Span) time.Time {
	return calendar.After(t, s.Elapsed, s.Days, s.WorkingDays)
}
