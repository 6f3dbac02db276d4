package tracker

import (
	"strings"
	"time"

	"github.com/pottrail/pottrail/tracker/protocol"
	"github.com/pottrail/pottrail/tracker/timetable"
)

// horizon: a date that was counted in working days beyond what the clinic's calendar knows is said to be so, for closures
// there could move it. Results have calendars of their own: see late.
func (k *checking) horizon() {
	for i := range k.flags {
		k.flags[i].Text += k.unsure(k.flags[i])
	}
	for i := range k.held {
		k.held[i].Text += k.unsure(k.held[i].Flag)
	}
}

// unsure is what a flag adds about its date; nothing where the date is sure or was not counted in working days.
func (k *checking) unsure(f Flag) string {
	switch {
	case f.Kind == FlagNotAtLab:
		return unsure(k.r.calendar, f.Due, k.r.limit(protocol.LimitNotAtLab))
	case f.Kind == FlagResultUnread:
		return unsure(k.r.calendar, f.Due, k.r.limit(protocol.LimitUnread), k.r.limit(protocol.LimitUnreadSerious))
	case f.Kind == FlagPatientWaiting:
		return unsure(k.r.calendar, f.Due, k.r.limit(protocol.LimitTellToday))
	case f.Kind == FlagPlanNotDone:
		return unsure(k.r.calendar, f.Due, k.r.limit(protocol.LimitPlan))
	case f.Kind == FlagCaseUnfinished && f.Severity == Watch: // told and still open
		return unsure(k.r.calendar, f.Since, k.r.limit(protocol.LimitUnfinished))
	}
	return ""
}

// unsure is a sentence, with a space before it, for an instant that a calendar does not know and that a span of working
// days led to.
func unsure(calendar *timetable.Calendar, t time.Time, spans ...protocol.Span) string {
	for _, s := range spans {
		if s.WorkingDays == 0 {
			continue
		}
		if doubt := calendar.Doubt(t); doubt != "" {
			return " " + strings.ToUpper(doubt[:1]) + doubt[1:] + ": closures there are not counted."
		}
	}
	return ""
}

// unsureAfter is [unsure] of the instant a span after t by the clinic's own calendar.
func (r *Rules) unsureAfter(t time.Time, s protocol.Span) string {
	return unsure(r.calendar, r.after(t, s), s)
}
