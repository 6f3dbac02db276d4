package demo

import (
	"fmt"
	"strings"
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// write records everything that happens, thing by thing.
func (w *world) write() {
	for i, c := range w.courses {
		s := &scribe{world: w, c: c, ch: c.chance(w, 7), number: fmt.Sprintf("T%02d-%05d", c.start.In(w.days.zone).Year()%100, 10400+3*i)}
		s.request()
		s.room()
		s.way()
		s.laboratory()
		s.answers()
	}
	for _, b := range w.bags {
		w.writeBag(b)
	}
	for _, r := range w.rolls {
		w.writeRoll(r)
	}
	w.writeStranger()
}

// scribe records what happens to one case.
type scribe struct {
	*world
	c      *course
	ch     chance
	number string // the laboratory's
}

// do records a step of the case.
func (s *scribe) do(at time.Time, by, station string, data tracker.Fact, items ...tracker.Item) *tracker.Event {
	return s.add(at, s.c.clinic.Key, by, station, data, items...)
}

// wrong notes a fault of the case.
func (s *scribe) wrong(item tracker.Name, flag tracker.FlagKind, since, until time.Time, what string) {
	s.fault(s.c.name, item, flag, since, until, what)
}

func named(names ...tracker.Name) []tracker.Item {
	items := make([]tracker.Item, 0, len(names))
	for _, n := range names {
		items = append(items, tracker.Item{Name: n})
	}
	return items
}

func (s *scribe) theCase() tracker.Item { return tracker.Item{Name: s.c.name} }

// desk is the coordinator's station.
func (s *scribe) desk() string { return "desk-" + strings.ToLower(s.c.clinic.Key) }

// phone is the station of a porter or courier.
func phone(person string) string { return "phone-" + person[strings.IndexByte(person, '.')+1:] }

func caseName(clinic string, year, serial int) tracker.Name {
	n, err := tracker.CaseName(clinic, year, serial)
	if err != nil {
		panic("demo: " + err.Error()) // serials of at most half a year, from a count of at most nine a day, stay far below the end
	}
	return n
}

// request opens the case and corrects it now and then.
func (s *scribe) request() {
	c := s.c
	opened := &tracker.CaseOpened{Patient: c.person.Ref, Priority: c.ask.priority, Room: c.room, Planned: c.start, Lesions: c.ask.lesions, Pots: c.ask.pots,
		Clinical: c.ask.clinical, Hazard: c.ask.hazard, Order: fmt.Sprintf("R%07d", s.ch.IntN(10_000_000))}
	if c.repeatOf != nil {
		opened.RepeatOf = c.repeatOf.name
	}
	s.do(c.opened, c.clinic.desk, s.desk(), opened, s.theCase())
	ahead := c.start.Sub(c.opened)
	if c.live || ahead < 20*time.Hour {
		return
	}
	switch n := s.ch.IntN(100); {
	case n < 5:
		clinical := c.ask.clinical + " Takes no anticoagulant."
		s.do(c.opened.Add(ahead/3), c.operator, s.desk(), &tracker.CaseAmended{Clinical: &clinical, Why: "medicines asked for"}, s.theCase())
	case n < 11:
		s.do(c.opened.Add(40*time.Minute), c.clinic.desk, s.desk(), &tracker.NoteAdded{Text: oneOf(s.ch, "An interpreter is booked.", "Comes by hospital transport.",
			"Wishes to be told by telephone.", "Needs a ground floor room.")}, s.theCase())
	case n < 13:
		at := c.opened.Add(25 * time.Minute)
		note := s.do(at, c.clinic.desk, s.desk(), &tracker.NoteAdded{Text: "Comes by hospital transport."}, s.theCase())
		s.do(at.Add(3*time.Minute), c.clinic.desk, s.desk(), &tracker.EventStruck{Event: note.ID, Why: "belongs to another case"}, s.theCase())
	}
}

// writeRoll prints the labels of a downtime roll: a case, its first pot and five pieces.
func (w *world) writeRoll(r *roll) {
	things := []tracker.Name{r.name, r.name + "-A"}
	for n := range 5 {
		things = append(things, r.name+tracker.Name(fmt.Sprintf("-A%02d", n+1)))
	}
	for i, n := range things {
		w.add(r.at.Add(time.Duration(3*i)*time.Second), r.clinic.Key, r.clinic.desk, "desk-"+strings.ToLower(r.clinic.Key),
			&tracker.LabelPrinted{Copy: '1', Layout: tracker.LayoutDowntime}, named(n)...)
	}
}

// writeStranger has a porter scan a label that no case knows.
func (w *world) writeStranger() {
	at := w.days.at(w.back(1), hm(14, 43))
	cl := w.clinics[mby]
	stranger := caseName(cl.Key, at.In(w.days.zone).Year()%100, 94017) + "-B"
	w.add(at, cl.Key, cl.porters[1], phone(cl.porters[1]), &tracker.CustodyTaken{Place: "hatch"}, tracker.Item{Name: stranger, Copy: '1'})
	w.fault(stranger.Case(), stranger, tracker.FlagUnknownItem, at, time.Time{}, "a porter scanned a label that no case knows")
}
