package forecast

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/pottrail/pottrail/tracker/timetable"
)

// ErrTimetable is wrapped by the errors of [New].
var ErrTimetable = errors.New("not a usable timetable")

// Kind is what a place is for, as far as ways go.
type Kind int

// The kinds of places: rooms, hatches and fridges of a clinic; vehicles; places of a laboratory.
const (
	Clinic Kind = iota
	Vehicle
	Laboratory
)

// Place is somewhere a thing can be.
type Place struct {
	Key  string
	Kind Kind
	// Hours are when it takes things in; nil for always. What arrives when it is closed waits at its door.
	Hours *timetable.Hours
	// Calendar is the one of its hours, to say where that ends; nil where they have none.
	Calendar *timetable.Calendar
}

// Days are days of the week, by [time.Weekday].
type Days [7]bool

// Round carries things from one place to another at set times of day.
type Round struct {
	Key      string
	From, To string // places
	Days     Days
	Departs  []timetable.Clock
	Takes    time.Duration       // elapsed
	Calendar *timetable.Calendar // it does not go on holidays and closures of it, unless Daily
	Daily    bool
}

// Run is a processor run: what is at its place at the cut-off is loaded and leaves formalin with it.
type Run struct {
	Key      string
	Place    string
	Days     Days // of the cut-off
	Cutoff   timetable.Clock
	Load     timetable.Clock
	Leaves   timetable.Clock
	Nights   int                 // midnights between Load and Leaves; 0: one if Leaves is not later than Load, else none
	Calendar *timetable.Calendar // it does not run on holidays and closures of it, unless Daily
	Daily    bool
}

// Bench is where fresh tissue for some studies is started.
type Bench struct {
	Key      string
	Place    string
	Hours    *timetable.Hours // nil for always
	Calendar *timetable.Calendar
	Studies  []string
}

// Link is a hand-over within a house, that takes no time: whoever holds a thing at From can give it to To.
type Link struct{ From, To string }

// Timetable is what a [Network] is made from. Every calendar is of one zone.
type Timetable struct {
	Places  []Place
	Links   []Link
	Rounds  []Round
	Runs    []Run
	Benches []Bench
}

// Network answers questions about a timetable. It is immutable and may be shared.
type Network struct {
	places  []Place
	index   map[string]int
	links   [][]int // by place
	near    [][]int // by place: itself, and where it can be handed to within the house
	rounds  []round
	from    [][]int // rounds that leave a place
	runs    []run
	benches []bench
}

type round struct {
	Round
	from, to int
}

type run struct {
	Run
	place  int
	nights int
}

type bench struct {
	Bench
	place int
}

// New makes a network.
func New(t Timetable) (*Network, error) {
	n := &Network{places: slices.Clone(t.Places), index: make(map[string]int, len(t.Places)), links: make([][]int, len(t.Places)), from: make([][]int, len(t.Places))}
	for i, p := range t.Places {
		if _, twice := n.index[p.Key]; twice {
			return nil, fmt.Errorf("%w: place %q stands in it twice", ErrTimetable, p.Key)
		}
		n.index[p.Key] = i
	}
	for _, l := range t.Links {
		from, err := n.find("link", l.From+" to "+l.To, l.From)
		if err != nil {
			return nil, err
		}
		to, err := n.find("link", l.From+" to "+l.To, l.To)
		if err != nil {
			return nil, err
		}
		n.links[from] = append(n.links[from], to)
	}
	for _, r := range t.Rounds {
		from, err := n.find("round", r.Key, r.From)
		if err != nil {
			return nil, err
		}
		to, err := n.find("round", r.Key, r.To)
		switch {
		case err != nil:
			return nil, err
		case r.Calendar == nil || r.Takes < 0:
			return nil, fmt.Errorf("%w: round %q has no calendar or takes less than no time", ErrTimetable, r.Key)
		}
		r.Departs = slices.Sorted(slices.Values(r.Departs))
		n.from[from] = append(n.from[from], len(n.rounds))
		n.rounds = append(n.rounds, round{Round: r, from: from, to: to})
	}
	if err := n.addWork(t); err != nil {
		return nil, err
	}
	for i := range n.places {
		n.near = append(n.near, n.walks(i))
	}
	return n, nil
}

// addWork adds what is done at a laboratory: runs and benches.
func (n *Network) addWork(t Timetable) error {
	for _, r := range t.Runs {
		place, err := n.find("run", r.Key, r.Place)
		switch {
		case err != nil:
			return err
		case r.Calendar == nil || r.Cutoff > r.Load || r.Nights < 0:
			return fmt.Errorf("%w: run %q has no calendar, or is loaded before its cut-off", ErrTimetable, r.Key)
		}
		nights := r.Nights
		if nights == 0 && r.Leaves <= r.Load {
			nights = 1
		}
		n.runs = append(n.runs, run{Run: r, place: place, nights: nights})
	}
	for _, b := range t.Benches {
		place, err := n.find("bench", b.Key, b.Place)
		if err != nil {
			return err
		}
		n.benches = append(n.benches, bench{Bench: b, place: place})
	}
	return nil
}

func (n *Network) find(what, key, place string) (int, error) {
	i, ok := n.index[place]
	if !ok {
		return 0, fmt.Errorf("%w: %s %q names place %q, which it has not", ErrTimetable, what, key, place)
	}
	return i, nil
}

// walks lists a place and all that can be reached from it within the house.
func (n *Network) walks(from int) []int {
	list := []int{from}
	for i := 0; i < len(list); i++ {
		for _, to := range n.links[list[i]] {
			if !slices.Contains(list, to) {
				list = append(list, to)
			}
		}
	}
	return list
}
