package demo

import (
	"fmt"
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// Person is an invented patient. Nothing of it but the ref is ever in an event.
type Person struct {
	Clinic   string       // whose patient
	Ref      string       // as events name the patient
	Family   string       // family name
	Given    string       // given names
	Born     tracker.Date // birth date
	Record   string       // the clinic's record number
	National string       // national number, of a range that is never given out; "" for some
	Address  string
}

// invitePeople gives every case its patient; a repeat has the first one's.
func (w *world) invitePeople() {
	numbers := map[string]bool{}
	for _, c := range w.courses {
		if c.repeatOf != nil {
			c.person = c.repeatOf.person
			continue
		}
		ch := c.chance(w, 40)
		parts := oneOf(ch, familyParts()...)
		c.person = Person{Clinic: c.clinic.Key, Ref: fmt.Sprintf("%016x%016x", ch.Uint64(), ch.Uint64()), Family: oneOf(ch, parts[0]...) + oneOf(ch, parts[1]...),
			Given: oneOf(ch, givenNames()...), Born: w.born(c, ch), Address: fmt.Sprintf("%d %s %s", ch.number(1, 140), oneOf(ch, "Cockle", "Samphire", "Withy", "Glebe", "Tollgate"),
				oneOf(ch, "Row", "Lane", "Terrace", "Hill"))}
		for c.person.Record == "" || numbers[c.person.Record] {
			c.person.Record = fmt.Sprintf("%c%06d", c.clinic.Key[0], ch.IntN(1_000_000))
		}
		numbers[c.person.Record] = true
		if ch.percent(85) {
			c.person.National = nationalNumber(ch)
		}
		w.out.People = append(w.out.People, c.person)
	}
}

// born is a birth date: adults, most of them past forty.
func (w *world) born(c *course, ch chance) tracker.Date {
	age := ch.number(19, 52) + ch.number(0, 38)
	if c.ask.sort == breastCalcium {
		age = ch.number(47, 73) // recalled from screening
	}
	return tracker.Date(c.start.AddDate(-age, 0, -ch.number(0, 364)).Format(time.DateOnly))
}

// nationalNumber is an NHS number of the range 999, which is for tests and never given out, with its modulus 11 check
// digit. Source: NHS Data Dictionary, NHS number (from memory).
func nationalNumber(ch chance) string {
	for {
		digits := fmt.Sprintf("999%06d", ch.IntN(1_000_000))
		sum := 0
		for i, d := range digits {
			sum += int(d-'0') * (10 - i)
		}
		if check := 11 - sum%11; check != 10 {
			return fmt.Sprintf("%s%d", digits, check%11)
		}
	}
}
