package tracker

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"time"
)

// mostInRoom is how many cases of one room and day are judged together: one every half hour, day and night.
const mostInRoom = 48

// tooMany says that a room has more cases on a day than can be: then whether they shared it is not watched, and that is said
// once, on the first of them by name. Counted are those that are filed under the day.
func tooMany(watched Name, gathered []*Event) (Flag, bool) {
	if len(gathered) <= mostInRoom {
		return Flag{}, false
	}
	cases := map[Name]time.Time{}
	for _, e := range gathered {
		if !namesRoom(e.Kind) {
			continue
		}
		if len(cases) <= mostInRoom { // past that it is settled, and spelling names takes long
			if named, _ := roomNamed(e); named != watched {
				continue
			}
		}
		for _, item := range e.Items {
			n := item.Name.Case()
			if when, ok := cases[n]; !ok || e.When().Before(when) {
				cases[n] = e.When()
			}
		}
	}
	if len(cases) <= mostInRoom {
		return Flag{}, false
	}
	first := slices.Min(slices.Collect(maps.Keys(cases)))
	f := notJudged(first, cases[first], fmt.Sprintf("more than %d cases in one room on one day", mostInRoom))
	f.Text = fmt.Sprintf("More than %d cases are recorded in one room on one day, so whether they shared it is not watched.", mostInRoom)
	return f, true
}

// namesRoom reports whether events of the kind can name a room.
func namesRoom(kind Kind) bool {
	return kind == KindCaseOpened || kind == KindCaseAmended || kind == KindPatientChecked || kind == KindRoomCleared
}

// stay is one case in a room.
type stay struct {
	name      Name
	requested string // room of the request
	checked   string // room where the patient was checked last
	days      []Name // of this room, on which it is filed
	acts      []time.Time
	prints    []time.Time
	clears    []time.Time
}

func (s *stay) room() string { return cmp.Or(s.checked, s.requested) }

// home is the one day on which what befalls the stay at t is found: the last on which it is filed by then, else the first.
func (s *stay) home(t time.Time) Name {
	var home Name
	for _, n := range s.days {
		_, day := n.roomOf()
		_, best := home.roomOf()
		switch early := !day.After(t); {
		case home == "", early && (best.After(t) || day.After(best)), !early && best.After(t) && day.Before(best):
			home = n
		}
	}
	return home
}

// CheckRoom says which cases share a room on one of its days: a label was printed for one while an earlier one had labels
// or pieces there and the room had not been cleared since. The flag is the earlier case's.
func CheckRoom(watched Name, gathered []*Event, r *Rules) Findings {
	out := Findings{Flags: []Flag{}, Held: []HeldFlag{}}
	room, _ := watched.roomOf()
	if f, much := tooMany(watched, gathered); much {
		out.Flags = append(out.Flags, f)
		return out
	}
	stays := foldRoom(gathered, room)
	for i, earlier := range stays {
		printed, by := offender(earlier, stays[i+1:], r.zone)
		if by == nil || earlier.home(printed) != watched {
			continue // or it is the finding of another day
		}
		k := &checking{r: r}
		out.Flags = append(out.Flags, Flag{Kind: FlagRoomShared, Case: earlier.name, Item: earlier.name, Severity: Now, Since: printed, Who: "operator",
			Text: fmt.Sprintf("A label for the next patient was printed in %s %s, and what was printed or taken for this one had not been cleared away there.",
				k.placeWord(room), k.clock(printed)),
			Remedy: "Stop. Gather every label and pot of the earlier patient, use or destroy them, and record the room as cleared before going on.",
			Basis:  "common practice, no source"})
	}
	slices.SortStableFunc(out.Flags, CompareFlags)
	return out
}

// foldRoom works out the stays of cases in a room, in the order of their first label or piece.
func foldRoom(gathered []*Event, room string) []*stay {
	relevant := make([]*Event, 0, len(gathered)/2)
	for _, e := range gathered {
		if inRoom(e.Kind) {
			relevant = append(relevant, e)
		}
	}
	set := settle(relevant)
	alias := set.aliases() // a label of a downtime roll is of the patient whose thing it stands for
	by := map[Name]*stay{}
	for _, e := range set.all {
		for _, item := range e.Items {
			n := alias.thing(item.Name).Case()
			if n == "" {
				continue // a bag
			}
			s := by[n]
			if s == nil {
				s = &stay{name: n}
				by[n] = s
			}
			if named, _ := roomNamed(e); named != "" { // it is filed so, even if struck
				if of, _ := named.roomOf(); of == room && !slices.Contains(s.days, named) {
					s.days = append(s.days, named)
				}
			}
			if set.stands(e) {
				s.note(e)
			}
		}
	}
	var stays []*stay
	for _, s := range by {
		if s.room() == room && len(s.acts) > 0 {
			stays = append(stays, s)
		}
	}
	slices.SortFunc(stays, func(a, b *stay) int { return cmp.Or(a.acts[0].Compare(b.acts[0]), cmp.Compare(a.name, b.name)) })
	return stays
}

// note works one event in; events come in order.
func (s *stay) note(e *Event) {
	switch f := e.Data.(type) {
	case *CaseOpened:
		if s.requested == "" {
			s.requested = f.Room
		}
	case *CaseAmended:
		set(&s.requested, f.Room)
	case *PatientChecked:
		s.checked = cmp.Or(f.Room, s.checked)
	case *LabelPrinted:
		if lays(e) {
			s.acts, s.prints = append(s.acts, e.When()), append(s.prints, e.When())
		}
	case *PieceTaken:
		s.acts = append(s.acts, e.When())
	case *RoomCleared:
		s.clears = append(s.clears, e.When())
	}
}

// offender is the first print for a later case that found the earlier one's things not cleared away, unless they were
// cleared away since.
func offender(earlier *stay, later []*stay, zone *time.Location) (printed time.Time, by *stay) {
	for _, s := range later {
		for _, p := range s.prints {
			if by != nil && !p.Before(printed) {
				break
			}
			if earlier.lies(p, zone) {
				printed, by = p, s
				break
			}
		}
	}
	return printed, by
}

// lies reports whether something of the case lay in the room at t, of the same local day, and was not cleared since.
func (s *stay) lies(t time.Time, zone *time.Location) bool {
	var last time.Time
	for _, act := range s.acts {
		if !act.After(t) {
			last = act
		}
	}
	if last.IsZero() || !sameDate(last, t.In(zone), zone) {
		return false
	}
	return !slices.ContainsFunc(s.clears, func(c time.Time) bool { return !c.Before(last) })
}

// sameDate reports whether an instant lies on the date of a day in a zone.
func sameDate(t, day time.Time, zone *time.Location) bool {
	a, b, c := t.In(zone).Date()
	x, y, z := day.Date()
	return a == x && b == y && c == z
}
