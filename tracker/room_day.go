package tracker

import (
	"slices"
	"strings"
	"time"
)

// roomSlash parts the name of a room's day: "MBY/room-2/2026-03-06". No code and no typed name has it.
const roomSlash = '/'

// mostRoomKey is the longest key of a room that is watched by the day.
const mostRoomKey = 60

// roomDay is the watched thing for one room of a clinic on one day, by the offset that the time was sent with: that of the
// clinic's own clocks, so its local day. "" when the key cannot be one.
func roomDay(clinic, room string, t time.Time) Name {
	if room == "" || len(room) > mostRoomKey || t.IsZero() || strings.ContainsFunc(room, func(r rune) bool { return r < ' ' || r == roomSlash }) {
		return ""
	}
	return Name(clinic + string(roomSlash) + room + string(roomSlash) + t.Format(time.DateOnly))
}

// roomOf takes the name of a room's day apart.
func (n Name) roomOf() (room string, day time.Time) {
	parts := strings.Split(string(n), string(roomSlash))
	if len(parts) != 3 {
		return "", time.Time{}
	}
	day, err := time.Parse(time.DateOnly, parts[2])
	if err != nil {
		return "", time.Time{}
	}
	return parts[1], day
}

// near is the same room some days later.
func (n Name) near(days int) Name {
	room, day := n.roomOf()
	return roomDay(n.Clinic(), room, day.AddDate(0, 0, days))
}

// roomNamed is the room's day that an event itself names, or "", and the time by which it does: where a patient was
// checked or the room cleared, and where and when a request plans it.
func roomNamed(e *Event) (Name, time.Time) {
	when := e.When().In(e.At.Location())
	room := ""
	switch f := e.Data.(type) {
	case *PatientChecked:
		room = f.Room
	case *RoomCleared:
		room = f.Room
	case *CaseOpened:
		if room = f.Room; !f.Planned.IsZero() {
			when = f.Planned
		}
	case *CaseAmended:
		if f.Room != nil {
			room = *f.Room
		}
		if f.Planned != nil {
			when = *f.Planned
		}
	}
	if room == "" {
		return "", time.Time{}
	}
	return roomDay(e.Clinic, room, when), when
}

// inRoom reports whether events of the kind can change who shares a room.
func inRoom(kind Kind) bool {
	switch kind {
	case KindCaseOpened, KindCaseAmended, KindPatientChecked, KindLabelPrinted, KindPieceTaken, KindRoomCleared, KindLabelBound, KindEventStruck:
		return true
	}
	return false
}

// changesRoom reports whether an event can change what is found of the room's days of one of its cases, whose events are own.
// A piece that follows something of the same case in the same room and day, with no clearing since, adds nothing: the case
// lies there already. Most pieces are such, and to judge a room's day is dear.
func changesRoom(e *Event, own []*Event) bool {
	if !inRoom(e.Kind) {
		return false
	}
	when := e.When().In(e.At.Location())
	if e.Kind != KindPieceTaken || beside(when) != 0 {
		return true
	}
	var first time.Time // of what lies there that day, up to this piece
	for _, other := range own {
		if other.Kind == KindEventStruck {
			return true // what it strikes is worked out with all of the day's events
		}
		if at := other.When().In(e.At.Location()); other.ID != e.ID && lays(other) && beside(at) == 0 && !at.After(when) &&
			sameDate(at, when, e.At.Location()) && (first.IsZero() || at.Before(first)) {
			first = at
		}
	}
	return first.IsZero() || slices.ContainsFunc(own, func(other *Event) bool {
		return other.Kind == KindRoomCleared && !other.When().Before(first)
	})
}

// lays reports whether an event leaves a label or a piece in the room.
func lays(e *Event) bool {
	switch f := e.Data.(type) {
	case *LabelPrinted:
		return f.Layout != LayoutDowntime
	case *PieceTaken:
		return true
	}
	return false
}

// nightHours are the hours about midnight in which a room's day looks at the day beside it: the clinic's zone may have
// another offset than its stations send.
const nightHours = 3

// beside says which day an instant is near: -1 the one before, 1 the one after, 0 neither.
func beside(t time.Time) int {
	switch hour := t.Hour(); {
	case hour < nightHours:
		return -1
	case hour >= 24-nightHours:
		return 1
	}
	return 0
}

// roomDaysOf lists the days of rooms whose findings a case's events can change: those that its events name and, near
// midnight, the day beside, if anything happened then.
func roomDaysOf(events []*Event, load func(Name) ([]*Event, error), add func(Name)) error {
	for _, e := range events {
		n, when := roomNamed(e)
		if n == "" {
			continue
		}
		add(n)
		if days := beside(when); days != 0 {
			other := n.near(days)
			filed, err := load(other)
			if err != nil {
				return err
			}
			if len(filed) > 0 {
				add(other)
			}
		}
	}
	return nil
}

// gatherRoom collects the events of every case that was in a room on a day and, near midnight, on the days beside it, and of
// those whose labels stand for things of these.
func gatherRoom(watched Name, load func(Name) ([]*Event, error)) ([]*Event, error) {
	var events []*Event
	seen := map[Name]bool{}
	add := func(n Name) ([]*Event, error) {
		if n.Thing() != ThingCase || seen[n] {
			return nil, nil
		}
		seen[n] = true
		own, err := load(n)
		events = append(events, own...)
		return own, err
	}
	for _, days := range []int{0, -1, 1} {
		filed, err := load(watched.near(days))
		if err != nil {
			return nil, err
		}
		if days == 0 && crowded(filed) {
			return filed, nil // CheckRoom says that it is too many
		}
		for _, e := range filed {
			if _, when := roomNamed(e); days != 0 && beside(when) != -days {
				continue
			}
			for _, item := range e.Items {
				own, err := add(Watched(item.Name))
				if err != nil {
					return nil, err
				}
				for _, n := range standIns(own) {
					if _, err := add(n); err != nil {
						return nil, err
					}
				}
			}
		}
	}
	return events, nil
}

// standIns lists the cases on whose labels something was bound among the events.
func standIns(events []*Event) []Name {
	var names []Name
	for _, e := range events {
		if e.Kind == KindLabelBound {
			for _, item := range e.Items {
				names = append(names, Watched(item.Name))
			}
		}
	}
	return names
}

// crowded reports whether events name more cases than one room can have on one day.
func crowded(events []*Event) bool {
	seen := make(map[Name]bool, mostInRoom)
	for _, e := range events {
		for _, item := range e.Items {
			if item.Name.Thing() != ThingBag {
				if seen[item.Name.Case()] = true; len(seen) > mostInRoom {
					return true
				}
			}
		}
	}
	return false
}
