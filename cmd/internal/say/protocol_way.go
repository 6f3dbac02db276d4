package say

import (
	"fmt"
	"strings"

	"github.com/pottrail/pottrail/tracker/protocol"
)

func (w reader) places() Section {
	s := Section{Title: "Places", Note: "How long something may wait at places of a kind, and which places there are."}
	for _, key := range sorted(w.p.Roles) {
		r := w.p.Roles[key]
		s.Statements = append(s.Statements, w.state("roles."+key, r.Name, "at most %s", r.Hold))
	}
	for _, key := range sorted(w.p.Places) {
		place := w.p.Places[key]
		says := "of the kind " + named(place.Role, w.p.Roles[place.Role].Name)
		if place.Hours != "" {
			says += ", open in the hours of " + place.Hours
		}
		if place.Contact != "" {
			says += "; ring " + place.Contact
		}
		s.Statements = append(s.Statements, w.state("places."+key, place.Name, "%s", says))
	}
	return s
}

// hours are what a week has, day by day.
func (w reader) hours() Section {
	s := Section{Title: "Opening hours"}
	for _, key := range sorted(w.p.Hours) {
		h := w.p.Hours[key]
		var days []string
		for _, day := range weekdays() {
			if list := h.Of(day); len(list) > 0 {
				days = append(days, dayName(day)+" "+and(list))
			}
		}
		for _, day := range sorted(h.Dates) {
			if len(h.Dates[day]) == 0 {
				days = append(days, day+" closed")
				continue
			}
			days = append(days, day+" "+and(h.Dates[day]))
		}
		s.Statements = append(s.Statements, w.state("hours."+key, "hours of "+key, "%s%s", strings.Join(days, "; "), w.inCalendar(h.Calendar, false)))
	}
	return empty(s, "None are written down: every place counts as always open.")
}

func weekdays() []string { return []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"} }

func dayName(day string) string {
	switch day {
	case "mon":
		return "Monday"
	case "tue":
		return "Tuesday"
	case "wed":
		return "Wednesday"
	case "thu":
		return "Thursday"
	case "fri":
		return "Friday"
	case "sat":
		return "Saturday"
	}
	return "Sunday"
}

// inCalendar says on whose holidays something does not happen.
func (w reader) inCalendar(calendar string, daily bool) string {
	switch {
	case daily:
		return "; on holidays too"
	case calendar != "" && calendar != w.p.Calendar:
		return "; not on holidays of the calendar " + calendar
	}
	return "; not on holidays"
}

func (w reader) rounds() Section {
	s := Section{Title: "Rounds"}
	for _, key := range sorted(w.p.Rounds) {
		r := w.p.Rounds[key]
		s.Statements = append(s.Statements, w.state("rounds."+key, "round "+key, "from %s to %s, %s at %s, %s under way%s", w.place(r.From), w.place(r.To),
			all(r.Days, dayName), and(r.Departs), r.Takes, w.inCalendar(r.Calendar, r.Daily)))
	}
	return empty(s, "None are written down: a pot is said to be late for collection after a fixed time, and nothing is forecast.")
}

func (w reader) runs() Section {
	s := Section{Title: "Processor runs"}
	for _, key := range sorted(w.p.Runs) {
		r := w.p.Runs[key]
		s.Statements = append(s.Statements, w.state("runs."+key, "run "+key, "at %s, %s: in by %s, loaded at %s, out of formalin at %s%s%s", w.place(r.Place),
			all(r.Days, dayName), r.Cutoff, r.Load, r.Leaves, nights(r), w.inCalendar(r.Calendar, r.Daily)))
	}
	return empty(s, "None are written down: how long tissue will be in fixative is not forecast.")
}

// nights says how many days after it was loaded a run is out.
func nights(r protocol.Run) string {
	switch n := r.Nights; {
	case n > 1:
		return fmt.Sprintf(" %d days later", n)
	case n == 1 || r.Leaves <= r.Load:
		return " the next day"
	}
	return " the same day"
}

func (w reader) benches() Section {
	s := Section{Title: "Benches for fresh tissue"}
	for _, key := range sorted(w.p.Benches) {
		b := w.p.Benches[key]
		says := fmt.Sprintf("at %s, for %s", w.place(b.Place), all(b.Studies, w.study))
		if b.Hours != "" {
			says += ", in the hours of " + b.Hours
		}
		s.Statements = append(s.Statements, w.state("benches."+key, b.Name, "%s", says))
	}
	return empty(s, "None are written down: when fresh tissue will be started is not forecast.")
}

func (w reader) contacts() Section {
	s := Section{Title: "Whom to ring"}
	for _, role := range sorted(w.p.Contacts) {
		s.Statements = append(s.Statements, w.state("contacts."+role, "the "+role, "%s", w.p.Contacts[role]))
	}
	return empty(s, "Nobody's number is written down: flags name the role alone.")
}

func (w reader) staff() Section {
	s := Section{Title: "Staff"}
	for _, role := range sorted(w.p.Staff) {
		s.Statements = append(s.Statements, w.state("staff."+role, role, "%s", and(w.p.Staff[role])))
	}
	return empty(s, "Nobody is listed: a key that no list has may do everything.")
}

func (w reader) calendars() Section {
	s := Section{Title: "Calendars"}
	s.Statements = append(s.Statements, w.state("calendar", "working days", "those of the calendar %s, by the clock of %s", w.p.Calendar, w.p.Zone))
	for _, key := range sorted(w.p.Calendars) {
		c := w.p.Calendars[key]
		says := "holidays of " + c.Region
		if c.Region == "none" {
			says = "Mondays to Fridays, no holidays"
		}
		closed := c.Closed
		if c.Imported != nil {
			closed = append(append([]string{}, closed...), c.Imported.Closed...)
		}
		if len(closed) > 0 {
			says += ", closed besides on " + and(closed)
		}
		if len(c.Open) > 0 {
			says += ", worked all the same on " + and(c.Open)
		}
		if c.Until != "" {
			says += "; nothing is known after " + c.Until
		}
		s.Statements = append(s.Statements, w.state("calendars."+key, "calendar "+key, "%s", says))
	}
	return s
}
