package demo

import (
	"fmt"
	"slices"
	"time"
)

// slot is one stretch of one room on one day.
type slot struct {
	clinic int
	day    string
	room   int
	number int
}

func (w *world) slot(cl *clinic, day time.Time, room, number int) slot {
	return slot{cl.index, day.Format(time.DateOnly), room, number}
}

// starts lists the slots of a room on a day.
func (w *world) starts(r room, day time.Time) []clock {
	if w.days.short(day) {
		return r.starts[:r.shorter]
	}
	return r.starts
}

// bookLists fills the lists of every working day of history and of the eight to come, whose cases are opened already.
func (w *world) bookLists() {
	for day := w.days.working(w.first, 0); day.Before(w.days.working(w.now, 8)); day = w.days.working(day, 1) {
		for _, cl := range w.clinics {
			for i, r := range cl.rooms {
				for n := range w.starts(r, day) {
					w.bookSlot(cl, day, i, n)
				}
			}
		}
	}
}

func (w *world) bookSlot(cl *clinic, day time.Time, room, number int) {
	s := w.slot(cl, day, room, number)
	if w.taken[s] {
		return
	}
	r := cl.rooms[room]
	c := newChance(w.seed, w.stream(s), 0)
	kind := drawSort(c)
	if !c.percent(r.fill) || (kind == nodeFlow || kind == nodeCulture || kind == nodeSmear) && w.days.short(day) && number > 2 {
		return // nothing for it before the days off: the bench would not start in time
	}
	w.book(s, cl, day, drawRequest(c, kind), twist{})
}

func (w *world) stream(s slot) uint64 {
	h := uint64(14695981039346656037) // FNV-1a, 64 bits
	for _, b := range []byte(fmt.Sprintf("%d %s %d %d", s.clinic, s.day, s.room, s.number)) {
		h = (h ^ uint64(b)) * 1099511628211
	}
	return h
}

// book puts a case into a slot.
func (w *world) book(s slot, cl *clinic, day time.Time, ask request, t twist) *course {
	w.taken[s] = true
	r := cl.rooms[s.room]
	return w.course(cl, r.key, w.stream(s), w.days.at(day, r.starts[s.number]), ask, t)
}

// course makes a case that begins at an instant.
func (w *world) course(cl *clinic, room string, stream uint64, start time.Time, ask request, t twist) *course {
	c := &course{clinic: cl, stream: stream, ask: ask, twist: t, room: room}
	ch := c.chance(w, 2)
	c.operator = oneOf(ch, cl.operators...)
	c.nurse = oneOf(ch, cl.nurses...)
	c.second = c.operator
	if ch.percent(15) {
		c.second = "patient"
	}
	c.walk(w, start)
	ahead := ch.number(2, 8)
	if ask.priority != "routine" {
		ahead = ch.number(1, 3)
	}
	c.opened = w.days.at(w.days.working(start, -ahead), clock(ch.number(8*60+40, 17*60))).Add(ch.between(0, 59*time.Second))
	w.courses = append(w.courses, c)
	return c
}

// recent is the last working day whose morning lists are over at now.
func (w *world) recent() time.Time {
	day := w.days.midnight(w.now)
	for !w.days.calendar.Working(day) || w.now.Before(w.days.at(day, hm(12, 30))) {
		day = w.days.midnight(day.AddDate(0, 0, -1))
	}
	return day
}

// back is the nth working day before the recent one.
func (w *world) back(n int) time.Time { return w.days.working(w.recent(), -n) }

// lastShort is the last day before two or more days off on which the lists are over at now; n more go further back.
func (w *world) lastShort(n int) time.Time {
	for day := w.days.midnight(w.now); ; day = w.days.midnight(day.AddDate(0, 0, -1)) {
		if w.days.calendar.Working(day) && w.days.working(day, 1).Sub(day) > 60*time.Hour && w.now.After(w.days.at(day, hm(17, 0))) {
			if n == 0 {
				return day
			}
			n--
		}
	}
}

// place books a case of a sort on the nth working day back, in the slot or the next free one. It gives nil when that day
// lies before the history.
func (w *world) place(back, cl, room, number int, kind sort, change func(*request), t twist) *course {
	day := w.back(back)
	if day.Before(w.first) {
		return nil
	}
	clinic := w.clinics[cl]
	s := w.slot(clinic, day, room, number)
	for w.taken[s] && s.number+1 < len(w.starts(clinic.rooms[room], day)) {
		s.number++
	}
	ask := ordinaryRequest(newChance(w.seed, w.stream(s), 0), kind)
	if change != nil {
		change(&ask)
	}
	return w.book(s, clinic, day, ask, t)
}

// ordinaryRequest draws until nothing about it needs a meeting and no node is malignant.
func ordinaryRequest(c chance, kind sort) request {
	for {
		if r := drawRequest(c, kind); r.unsure == "" && r.middling == "" {
			return r
		}
	}
}

// block keeps the rest of a room's day free.
func (w *world) block(cl, room, from int, day time.Time) {
	clinic := w.clinics[cl]
	for n := from; n < len(clinic.rooms[room].starts); n++ {
		w.taken[w.slot(clinic, day, room, n)] = true
	}
}

// number gives out serials in the order in which clinics would: cases when they are opened, bags when they are packed,
// rolls when they are printed.
func (w *world) number() {
	type wanting struct {
		at   time.Time
		give func(serial, year int)
	}
	for _, cl := range w.clinics {
		var list []wanting
		for _, c := range w.courses {
			if c.clinic == cl && !c.opened.After(w.now) {
				list = append(list, wanting{c.opened, func(serial, year int) { c.name = caseName(cl.Key, year, serial) }})
			}
		}
		for _, b := range w.bags {
			if b.clinic == cl && !b.packed.After(w.now) {
				list = append(list, wanting{b.packed, func(serial, year int) { b.name = caseName(cl.Key, year, serial) + "-Z" }})
			}
		}
		for _, r := range w.rolls {
			if r.clinic == cl {
				list = append(list, wanting{r.at, func(serial, year int) { r.name = caseName(cl.Key, year, serial) }})
			}
		}
		slices.SortStableFunc(list, func(a, b wanting) int { return a.at.Compare(b.at) })
		year, next := -1, 0
		for _, one := range list {
			local := one.at.In(w.days.zone)
			if local.Year()%100 != year {
				if year >= 0 {
					w.out.Serials = append(w.out.Serials, Serial{cl.Key, year, next - 1})
				}
				year, next = local.Year()%100, 1+cl.perDay*(local.YearDay()-1)*5/7
			}
			one.give(next, year)
			next++
		}
		if year >= 0 {
			w.out.Serials = append(w.out.Serials, Serial{cl.Key, year, next - 1})
		}
	}
	w.courses = slices.DeleteFunc(w.courses, func(c *course) bool { return c.opened.After(w.now) })
	// What is not packed yet keeps its times: the pots that wait for it are written up to now.
	w.bags = slices.DeleteFunc(w.bags, func(b *bag) bool { return b.packed.After(w.now) })
}
