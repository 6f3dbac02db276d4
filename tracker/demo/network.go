package demo

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/timetable"
)

// Bounds of [Options.Weeks].
const (
	LeastWeeks   = 4
	DefaultWeeks = 6
	MostWeeks    = 26
)

// ErrOptions is wrapped by every error of [Generate].
var ErrOptions = errors.New("demo cannot be made so")

// Options says which network to invent.
type Options struct {
	Seed  uint64
	Now   time.Time      // up to when; later events are left out
	Weeks int            // of history before Now, LeastWeeks to MostWeeks; 0 means DefaultWeeks
	Zone  *time.Location // of all three clinics, Europe/London as a rule; nil means UTC, whose wall clocks have no summer time
}

// Network is an invented clinic network and what happened in it.
type Network struct {
	Clinics   []Clinic
	Protocols map[string]string // clinic key → TOML, as its protocol.adopted event carries it
	Events    []*tracker.Event  // by when; each has a UUIDv7 of its own instant
	People    []Person          // the patients, by ref
	Serials   []Serial          // the highest in use
	Faults    []Fault           // what went wrong on purpose, by Since
}

// Clinic is one of the invented clinics.
type Clinic struct {
	Key  string // as in codes
	Name string
}

// Serial is the highest number that a clinic has given out in a year.
type Serial struct {
	Clinic  string
	Year    int // its last two digits
	Highest int
}

// Fault is one thing that went wrong on purpose.
type Fault struct {
	Watched tracker.Name     // the case, bag or unknown thing whose findings hold the flag
	Item    tracker.Name     // the flag's item
	Flag    tracker.FlagKind // it may be one whose rule is not in force yet
	What    string           // for people
	Since   time.Time        // an instant from which the flag stands, in its history
	Until   time.Time        // when it was settled; zero when it is open at Now
}

// Open reports whether nobody has settled it yet.
func (f Fault) Open() bool { return f.Until.IsZero() }

// Generate invents the network. The lists of the day run up to Now; what would happen later is left out. Seven unplanned
// urgent cases hang on Now itself, whatever its hour, a night or a Sunday too: one with a core just out, one about to
// begin, and one each waiting to be collected, on the van and at the
// laboratory's reception, and two at hatches. What else is
// open then is left from the last working day, as it would be.
func Generate(o Options) (*Network, error) {
	if o.Weeks == 0 {
		o.Weeks = DefaultWeeks
	}
	if o.Zone == nil {
		o.Zone = time.UTC
	}
	const margin = 1 // year: history begins before Now and bookings lie after it
	switch year := o.Now.Year(); {
	case o.Weeks < LeastWeeks || o.Weeks > MostWeeks:
		return nil, fmt.Errorf("%w: %d weeks are not in %d to %d", ErrOptions, o.Weeks, LeastWeeks, MostWeeks)
	case year < timetable.FirstYear+margin || year > timetable.LastYear-margin:
		return nil, fmt.Errorf("%w: the year %d is not in %d to %d, for which holidays are known", ErrOptions, year, timetable.FirstYear+margin, timetable.LastYear-margin)
	}
	calendar, err := timetable.NewCalendar(o.Zone, timetable.RegionEnglandWales, nil, nil)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrOptions, err)
	}
	w := &world{seed: o.Seed, now: o.Now.Truncate(time.Second).In(o.Zone), days: days{zone: o.Zone, calendar: calendar}, clinics: clinics(),
		taken: map[slot]bool{}, out: &Network{Protocols: map[string]string{}}}
	w.first = w.days.midnight(w.now.AddDate(0, 0, -7*o.Weeks))
	if err := w.adoptProtocols(); err != nil {
		return nil, err
	}
	w.bookFaults()
	w.bookLists()
	w.bookLive()
	w.collect()
	w.number()
	w.invitePeople()
	w.write()
	slices.SortFunc(w.out.Events, (*tracker.Event).Compare)
	slices.SortStableFunc(w.out.Faults, func(a, b Fault) int { return a.Since.Compare(b.Since) })
	return w.out, nil
}

// world is a network in the making.
type world struct {
	seed    uint64
	now     time.Time
	first   time.Time // midnight of the first day of history
	days    days
	clinics []*clinic
	courses []*course
	bags    []*bag
	rolls   []*roll
	ids     uint64 // how many events were made, for their ids
	taken   map[slot]bool
	out     *Network
}

// add records that something happened. What lies after now is made, so that others may refer to it, and left out.
func (w *world) add(at time.Time, clinic, by, station string, data tracker.Fact, items ...tracker.Item) *tracker.Event {
	at = at.Truncate(time.Second)
	e := &tracker.Event{ID: w.id(at), Kind: data.Kind(), Clinic: clinic, At: at.In(w.days.zone), By: by, Station: station, Items: items, Data: data}
	if !at.After(w.now) {
		w.out.Events = append(w.out.Events, e)
	}
	return e
}

// id is a UUIDv7: the instant in milliseconds, then chance from the seed. Source of the layout: RFC 9562, 5.7.
func (w *world) id(at time.Time) tracker.EventID {
	w.ids++
	c := newChance(w.seed, 0xe7e27, w.ids)
	return tracker.EventID(fmt.Sprintf("%08x-%04x-7%03x-%04x-%012x", at.UnixMilli()>>16, at.UnixMilli()&0xffff, c.Uint64N(1<<12),
		0x8000|c.Uint64N(1<<14), c.Uint64N(1<<48)))
}

// fault notes something that went wrong on purpose; until is zero when nobody settles it.
func (w *world) fault(watched, item tracker.Name, flag tracker.FlagKind, since, until time.Time, what string) {
	if since.After(w.now) {
		return
	}
	if until.After(w.now) {
		until = time.Time{}
	}
	w.out.Faults = append(w.out.Faults, Fault{Watched: watched, Item: item, Flag: flag, What: what, Since: since, Until: until})
}
