package storetest

import (
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// Morning is when a [Life] begins: a Monday.
func Morning() time.Time { return time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC) }

// Life invents the events of some cases in two clinics over about two weeks, by when. The same seed gives the same
// events. Order of time is the only sense it has: things are left out, doubled, struck and mislabelled at random.
func Life(seed uint64, cases int) []*tracker.Event {
	l := &life{r: rand.New(rand.NewPCG(seed, 1))}
	for i := range cases {
		l.oneCase(i)
	}
	l.oddities(cases)
	slices.SortStableFunc(l.events, (*tracker.Event).Compare)
	return l.events
}

type life struct {
	r      *rand.Rand
	events []*tracker.Event
	pots   map[string][]tracker.Name // by clinic
	bags   int
}

func (l *life) chance(of int) bool { return l.r.IntN(of) == 0 }

func (l *life) id(at time.Time) tracker.EventID {
	var b [16]byte
	binary.BigEndian.PutUint64(b[:8], uint64(at.UnixMilli())<<16|uint64(l.r.Uint32()&0xfff))
	binary.BigEndian.PutUint64(b[8:], l.r.Uint64())
	b[6] = b[6]&0x0f | 0x70
	b[8] = b[8]&0x3f | 0x80
	h := hex.EncodeToString(b[:])
	return tracker.EventID(h[:8] + "-" + h[8:12] + "-" + h[12:16] + "-" + h[16:20] + "-" + h[20:])
}

func (l *life) add(at time.Time, fact tracker.Fact, items ...tracker.Item) *tracker.Event {
	clinic := "MBY"
	if len(items) > 0 {
		clinic = items[0].Name.Clinic()
	}
	e := &tracker.Event{ID: l.id(at), Kind: fact.Kind(), Clinic: clinic, At: at, By: "nurse.osei", Station: fmt.Sprintf("room-%d", 1+l.r.IntN(2)), Items: items, Data: fact}
	l.events = append(l.events, e)
	return e
}

// Item is a thing by name.
func Item(n tracker.Name) tracker.Item { return tracker.Item{Name: n} }

func scanned(n tracker.Name, c tracker.Copy) tracker.Item { return tracker.Item{Name: n, Copy: c} }

// must is for names built from numbers that are in range.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func (l *life) oneCase(i int) {
	clinic := []string{"MBY", "HCX"}[i%2]
	name := must(tracker.CaseName(clinic, 26, 1+i))
	at := Morning().Add(time.Duration(i) * 97 * time.Minute)
	step := func(most time.Duration) time.Time {
		at = at.Add(time.Second + time.Duration(l.r.Int64N(int64(most))))
		return at
	}
	pots := []tracker.PlannedPot{{Pot: "A", Lesion: "1", Medium: "formalin", Studies: []string{"histology", "receptors"}, Pieces: 2}}
	if l.chance(2) {
		pots = append(pots, tracker.PlannedPot{Pot: "B", Lesion: "1", Medium: []string{"rpmi", "formalin", "treacle"}[l.r.IntN(3)], Studies: []string{"flow"}, Pieces: 1})
	}
	l.add(at, &tracker.CaseOpened{Patient: hex.EncodeToString([]byte(name)), Priority: []string{"routine", "urgent"}[l.r.IntN(2)], Room: "room-1",
		Lesions: []tracker.Lesion{{Key: "1", Organ: "breast", Side: "left", Imaging: []string{"U3", "U5"}[l.r.IntN(2)]}}, Pots: pots}, Item(name))
	if !l.chance(5) {
		l.add(step(time.Hour), &tracker.PatientChecked{Identifiers: []string{"name", "birth-date"}, Room: "room-1"}, Item(name))
	}
	var all []tracker.Item
	for _, p := range pots {
		pot := must(name.WithPot(p.Pot))
		all = append(all, Item(pot))
		l.onePot(pot, p, step)
	}
	l.add(step(time.Minute), &tracker.ProcedureEnded{Outcome: "done"}, Item(name))
	if !l.chance(4) {
		l.add(step(time.Hour), &tracker.RoomCleared{Room: "room-1"}, Item(name))
	}
	l.journey(clinic, all, step)
	l.answer(name, all, step)
	if l.pots == nil {
		l.pots = map[string][]tracker.Name{}
	}
	for _, item := range all {
		l.pots[clinic] = append(l.pots[clinic], item.Name)
	}
}

func (l *life) onePot(pot tracker.Name, p tracker.PlannedPot, step func(time.Duration) time.Time) {
	l.add(step(5*time.Minute), &tracker.LabelPrinted{Copy: '1', Printer: "desk"}, Item(pot))
	if l.chance(4) {
		l.add(step(time.Minute), &tracker.LabelPrinted{Copy: '2', Replaces: '1'}, Item(pot))
	}
	if l.chance(2) {
		l.add(step(time.Minute), &tracker.PotFilled{Medium: p.Medium, VolumeML: 20}, scanned(pot, '1'))
	}
	for n := range p.Pieces {
		piece := must(pot.WithPiece(n + 1))
		l.add(step(10*time.Minute), &tracker.PieceTaken{Lesion: "1", What: "core", Gauge: 14, LengthMM: 12.5, Look: "firm-white"}, Item(piece))
		if !l.chance(6) {
			l.add(step(90*time.Minute), &tracker.PiecePotted{}, Item(piece))
		}
	}
	if !l.chance(6) {
		pieces := p.Pieces
		l.add(step(10*time.Minute), &tracker.PotSealed{ReadBackWith: []string{"doctor.lind", "nurse.osei"}[l.r.IntN(2)], Pieces: &pieces}, scanned(pot, '1'))
	}
}

// journey is the way to the laboratory: by hand, or in a bag.
func (l *life) journey(clinic string, pots []tracker.Item, step func(time.Duration) time.Time) {
	if l.chance(3) {
		l.add(step(2*time.Hour), &tracker.CustodyTaken{Place: "hatch"}, pots...)
		l.add(step(20*time.Hour), &tracker.CustodyTaken{Place: "lab-reception"}, pots...)
		return
	}
	bag := must(tracker.BagName(clinic, 26, 50_000+l.bags/3))
	l.bags++
	var names []tracker.Name
	for _, p := range pots {
		names = append(names, p.Name)
	}
	l.add(step(2*time.Hour), &tracker.BagPacked{Pots: names}, Item(bag))
	l.add(step(2*time.Hour), &tracker.CustodyTaken{Place: "van"}, Item(bag))
	l.add(step(20*time.Hour), &tracker.CustodyTaken{Place: "lab-reception"}, Item(bag))
	l.add(step(time.Hour), &tracker.BagOpened{Pots: names[:l.r.IntN(len(names)+1)]}, Item(bag))
}

func (l *life) answer(name tracker.Name, pots []tracker.Item, step func(time.Duration) time.Time) {
	if l.chance(6) {
		return
	}
	l.add(step(time.Hour), &tracker.LabAccessioned{Number: "H" + string(name[7:])}, Item(name))
	l.add(step(5*time.Hour), &tracker.LabLoaded{Run: "night"}, pots...)
	result := l.add(step(60*time.Hour), &tracker.ResultIssued{Stage: tracker.StageFinal, Category: []string{"B2", "B5b", "B3"}[l.r.IntN(3)]}, Item(name))
	ids := []tracker.EventID{result.ID}
	if l.chance(3) {
		l.add(step(time.Hour), &tracker.ChaseLogged{Asked: "who reads it?", Next: result.At.Add(30 * time.Hour)}, Item(name))
		return
	}
	l.add(step(30*time.Hour), &tracker.ResultSeen{Results: ids}, Item(name))
	l.add(step(30*time.Hour), &tracker.CaseDiscussed{Results: ids, Concordance: "concordant", Plan: "discharge"}, Item(name))
	l.add(step(90*time.Hour), &tracker.PatientTold{Results: ids, How: "in-person"}, Item(name))
	l.add(step(time.Hour), &tracker.CaseClosed{Outcome: "discharged"}, Item(name))
}

// oddities are what happens on real days too.
func (l *life) oddities(cases int) {
	plain := len(l.events)
	for range plain / 12 {
		e := l.events[l.r.IntN(len(l.events))]
		after := e.At.Add(time.Duration(l.r.Int64N(int64(50 * time.Hour))))
		clinic := e.Items[0].Name.Clinic()
		pots := l.pots[clinic]
		pot := pots[l.r.IntN(len(pots))]
		switch l.r.IntN(9) {
		case 0, 1:
			l.add(after, &tracker.EventStruck{Event: e.ID, Why: "wrong thing scanned"}, e.Items...)
		case 2: // a label of a downtime roll
			roll := must(must(tracker.CaseName(clinic, 26, 90_000+l.r.IntN(5))).WithPot("A"))
			l.add(after.Add(-time.Hour), &tracker.LabelPrinted{Copy: '1', Layout: tracker.LayoutDowntime}, Item(roll))
			l.add(after, &tracker.CustodyTaken{Place: "hatch"}, scanned(roll, '1'))
			l.add(after.Add(time.Minute), &tracker.LabelBound{To: pot}, Item(roll))
		case 3:
			l.add(after, &tracker.PotRelabelled{New: pot, Why: "swapped in the room", Witness: "doctor.lind"}, Item(pots[l.r.IntN(len(pots))]))
		case 4: // a stranger
			l.add(after, &tracker.CustodyTaken{Place: "hatch"}, Item(must(must(tracker.CaseName(clinic, 26, 80_000+l.r.IntN(9))).WithPot("C"))))
		case 5:
			l.add(after, &tracker.FlagAnswered{Flag: tracker.FlagCustodyBroken, Done: "asked the porter"}, Item(pot))
		case 6:
			l.add(after, &tracker.ClockPaused{Why: "more history wanted", Until: after.Add(70 * time.Hour)}, Item(pot.Case()))
		case 7:
			why := "urgent"
			l.add(after, &tracker.CaseAmended{Priority: &why, Why: "rang"}, Item(pot.Case()))
		case 8: // a bag that holds pots of many
			bag := must(tracker.BagName(clinic, 26, 70_000+l.r.IntN(1+cases/8)))
			l.add(after, &tracker.BagPacked{Pots: dedupe([]tracker.Name{pot, pots[l.r.IntN(len(pots))], pots[l.r.IntN(len(pots))]})}, Item(bag))
		}
	}
}

func dedupe(names []tracker.Name) []tracker.Name {
	slices.Sort(names)
	return slices.Compact(names)
}
