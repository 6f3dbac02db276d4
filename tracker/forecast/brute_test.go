package forecast_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker/forecast"
	"github.com/pottrail/pottrail/tracker/timetable"
)

// The search by brute force goes over the same timetable in steps of five minutes, forwards for what can be reached, and
// backwards for what still can be. It shares no line with the search that it judges: it reads the wall clock at each step.
const (
	step  = 5 * time.Minute
	days  = 7
	steps = days * 24 * 12
)

// plain is a random timetable as plain data.
type plain struct {
	zone   *time.Location
	closed map[string]bool // dates
	places []plainPlace
	links  [][2]int
	rounds []plainRound
	runs   []plainRun
	start  time.Time
}

type plainPlace struct {
	key      string
	kind     forecast.Kind
	from, to int // minutes of the day at which its door opens and closes, Mondays to Saturdays; 0, 0: always open
}

type plainRound struct {
	key      string
	from, to int
	days     forecast.Days
	departs  []int
	takes    time.Duration
	daily    bool
}

type plainRun struct {
	key                  string
	place                int
	days                 forecast.Days
	cutoff, load, leaves int
	nights               int
	daily                bool
}

func drawTimetable(draw *rand.Rand, zone *time.Location, start time.Time) *plain {
	p := &plain{zone: zone, closed: map[string]bool{}, start: start}
	for day := range days {
		if draw.IntN(6) == 0 {
			p.closed[start.AddDate(0, 0, day).In(zone).Format(time.DateOnly)] = true
		}
	}
	p.places = []plainPlace{{"room", forecast.Clinic, 0, 0}, {"hatch", forecast.Clinic, 0, 0}, {"depot", forecast.Vehicle, 0, 0},
		{"reception", forecast.Laboratory, 0, 0}, {"processor", forecast.Laboratory, 0, 0}}
	for _, i := range []int{1, 3} {
		if draw.IntN(2) == 0 {
			p.places[i].from, p.places[i].to = 5*(72+draw.IntN(60)), 5*(150+draw.IntN(120))
		}
	}
	weekdays := func() (d forecast.Days) {
		for i := range d {
			d[i] = draw.IntN(7) > 1 && (i != 0 || draw.IntN(3) == 0)
		}
		return d
	}
	clock := func() int { return 5 * (60 + draw.IntN(216)) } // 05:00 to 22:55
	for i, ends := range [][2]int{{1, 3}, {1, 2}, {2, 3}, {0, 3}, {3, 2}} {
		if draw.IntN(3) == 0 {
			continue
		}
		r := plainRound{key: fmt.Sprintf("round-%d", i), from: ends[0], to: ends[1], days: weekdays(), takes: step * time.Duration(draw.IntN(40)), daily: draw.IntN(4) == 0}
		for range 1 + draw.IntN(4) {
			r.departs = append(r.departs, clock())
		}
		slices.Sort(r.departs)
		r.departs = slices.Compact(r.departs)
		p.rounds = append(p.rounds, r)
	}
	for i := range draw.IntN(4) {
		r := plainRun{key: fmt.Sprintf("run-%d", i), place: 3 + draw.IntN(2), days: weekdays(), cutoff: clock(), leaves: clock(), nights: draw.IntN(3), daily: draw.IntN(4) == 0}
		if r.load = min(r.cutoff+5*draw.IntN(30), 24*60-5); r.nights == 0 && r.leaves <= r.load {
			r.nights = 1
		}
		p.runs = append(p.runs, r)
	}
	return p
}

func clockOf(minutes int) timetable.Clock { return timetable.Clock(minutes) }

// network makes the timetable ready for the search that is judged.
func (p *plain) network(t *testing.T) *forecast.Network {
	t.Helper()
	var closed []string
	for day := range p.closed {
		closed = append(closed, day)
	}
	calendar, err := timetable.NewCalendar(p.zone, timetable.RegionNone, closed, nil)
	require.NoError(t, err)
	var out forecast.Timetable
	for _, place := range p.places {
		made := forecast.Place{Key: place.key, Kind: place.kind, Calendar: calendar}
		if place.to > 0 {
			week := map[time.Weekday][]timetable.Interval{}
			for day := time.Monday; day <= time.Saturday; day++ {
				week[day] = []timetable.Interval{{From: clockOf(place.from), To: clockOf(place.to)}}
			}
			made.Hours, err = timetable.NewHours(calendar, week, nil)
			require.NoError(t, err)
		}
		out.Places = append(out.Places, made)
	}
	for _, r := range p.rounds {
		made := forecast.Round{Key: r.key, From: p.places[r.from].key, To: p.places[r.to].key, Days: r.days, Takes: r.takes, Calendar: calendar, Daily: r.daily}
		for _, minutes := range r.departs {
			made.Departs = append(made.Departs, clockOf(minutes))
		}
		out.Rounds = append(out.Rounds, made)
	}
	for _, r := range p.runs {
		out.Runs = append(out.Runs, forecast.Run{Key: r.key, Place: p.places[r.place].key, Days: r.days, Cutoff: clockOf(r.cutoff), Load: clockOf(r.load),
			Leaves: clockOf(r.leaves), Nights: r.nights, Calendar: calendar, Daily: r.daily})
	}
	out.Links = forecast.Walks(out.Places, out.Rounds)
	for _, l := range out.Links {
		index := func(key string) int {
			return slices.IndexFunc(p.places, func(q plainPlace) bool { return q.key == key })
		}
		p.links = append(p.links, [2]int{index(l.From), index(l.To)})
	}
	n, err := forecast.New(out)
	require.NoError(t, err)
	return n
}

// brute is the timetable laid out step by step.
type brute struct {
	*plain
	local  []time.Time
	minute []int
	shut   []bool
	open   [][]bool // by place
	leaves [][]bool // by round
}

func (p *plain) layOut() *brute {
	b := &brute{plain: p}
	for i := range steps {
		local := p.start.Add(time.Duration(i) * step).In(p.zone)
		b.local = append(b.local, local)
		b.minute = append(b.minute, local.Hour()*60+local.Minute())
		b.shut = append(b.shut, p.closed[local.Format(time.DateOnly)])
	}
	for _, place := range p.places {
		row := make([]bool, steps)
		for i := range row {
			row[i] = place.to == 0 || b.local[i].Weekday() != time.Sunday && !b.shut[i] && b.minute[i] >= place.from && b.minute[i] < place.to
		}
		b.open = append(b.open, row)
	}
	for _, r := range p.rounds {
		row := make([]bool, steps)
		for i := range row {
			row[i] = r.days[b.local[i].Weekday()] && (r.daily || !b.shut[i]) && slices.Contains(r.departs, b.minute[i])
		}
		b.leaves = append(b.leaves, row)
	}
	return b
}

// forwards is the first step at which the thing is taken in at each place; -1: never.
func (b *brute) forwards(place, at int) []int {
	first := make([]int, len(b.places))
	for i := range first {
		first[i] = -1
	}
	doors := make([][]bool, len(b.places)) // something arrives at this step
	for i := range doors {
		doors[i] = make([]bool, steps)
	}
	waits := make([]bool, len(b.places))
	first[place] = at
	for i := at; i < steps; i++ {
		for again := true; again; {
			again = false
			for p := range b.places {
				waits[p] = waits[p] || doors[p][i]
				for _, l := range b.links {
					waits[p] = waits[p] || l[1] == p && first[l[0]] >= 0
				}
				if waits[p] && first[p] < 0 && b.open[p][i] {
					first[p], again = i, true
				}
			}
			for r, round := range b.rounds {
				if b.leaves[r][i] && first[round.from] >= 0 {
					if arrives := i + int(round.takes/step); arrives < steps && !doors[round.to][arrives] {
						doors[round.to][arrives] = true
						again = again || arrives == i
					}
				}
			}
		}
	}
	return first
}

// goal is a cut-off that would do.
type goal struct{ place, at int }

// backwards says from which place at which step a goal can still be reached, in the place and at its door.
func (b *brute) backwards(goals []goal) (inside, door [][]bool) {
	for range b.places {
		inside, door = append(inside, make([]bool, steps+1)), append(door, make([]bool, steps+1))
	}
	for i := steps - 1; i >= 0; i-- {
		for p := range b.places {
			inside[p][i] = inside[p][i+1] || slices.Contains(goals, goal{p, i})
		}
		for again := true; again; {
			again = false
			for p := range b.places {
				if d := door[p][i+1] || b.open[p][i] && inside[p][i]; d && !door[p][i] {
					door[p][i], again = true, true
				}
			}
			for _, l := range b.links {
				if b.open[l[1]][i] && inside[l[1]][i] && !inside[l[0]][i] {
					inside[l[0]][i], again = true, true
				}
			}
			for r, round := range b.rounds {
				arrives := i + int(round.takes/step)
				if b.leaves[r][i] && arrives < steps && door[round.to][arrives] && !inside[round.from][i] {
					inside[round.from][i], again = true, true
				}
			}
		}
	}
	return inside, door
}

// house lists the places that a thing can be handed to within the house, itself among them.
func (b *brute) house(place int) []int {
	list := []int{place}
	for i := 0; i < len(list); i++ {
		for _, l := range b.links {
			if l[0] == list[i] && !slices.Contains(list, l[1]) {
				list = append(list, l[1])
			}
		}
	}
	return list
}

// occurrence is one run by brute force.
type occurrence struct {
	run    plainRun
	at     int // step of its cut-off
	leaves time.Time
}

func (b *brute) occurrences() []occurrence {
	var list []occurrence
	for _, r := range b.runs {
		for i := range steps {
			if b.minute[i] != r.cutoff || !r.days[b.local[i].Weekday()] || b.shut[i] && !r.daily {
				continue
			}
			year, month, day := b.local[i].Date()
			list = append(list, occurrence{r, i, time.Date(year, month, day+r.nights, r.leaves/60, r.leaves%60, 0, 0, b.zone)})
		}
	}
	return list
}

// TestASearchByBruteForceAgrees: on ten thousand random timetables, some over a clock change, both find the same earliest
// arrivals, planned run and hours, runs inside the window and last departure.
func TestASearchByBruteForceAgrees(t *testing.T) {
	const tables = 10_000
	zone, err := time.LoadLocation("Europe/London")
	require.NoError(t, err)
	starts := []time.Time{time.Date(2026, 3, 26, 4, 0, 0, 0, zone), time.Date(2026, 10, 22, 4, 0, 0, 0, zone), time.Date(2026, 6, 1, 4, 0, 0, 0, zone),
		time.Date(2026, 12, 22, 4, 0, 0, 0, zone)}
	planned, inside, departures, none := 0, 0, 0, 0
	for seed := range uint64(tables) {
		draw := rand.New(rand.NewPCG(seed, 1))
		p := drawTimetable(draw, zone, starts[draw.IntN(len(starts))])
		n := p.network(t)
		b := p.layOut()
		at, place := draw.IntN(steps/3), []int{0, 0, 1, 3, 4}[draw.IntN(5)]
		now := p.start.Add(time.Duration(at) * step)
		q := forecast.Question{Place: p.places[place].key, At: now, Until: p.start.Add((steps - 1) * step)}
		q.First = now.Add(-step * time.Duration(draw.IntN(100)))
		q.Last = q.First.Add(step * time.Duration(draw.IntN(10)))
		q.Min, q.Max = time.Duration(draw.IntN(12))*time.Hour, time.Duration(20+draw.IntN(60))*time.Hour
		got := n.Fixation(q)

		first := b.forwards(place, at)
		var want *occurrence
		var goals []goal
		var insideWant []string
		lastLoad := time.Time{}
		for _, o := range b.occurrences() {
			if arrives := first[o.run.place]; arrives < 0 || o.at < arrives {
				continue
			}
			if want == nil || o.at < want.at || o.at == want.at && o.leaves.Before(want.leaves) {
				want = &o
			}
			if spent := o.leaves.Sub(q.Last); spent >= q.Min && o.leaves.Sub(q.First) <= q.Max {
				goals = append(goals, goal{o.run.place, o.at})
				insideWant = append(insideWant, fmt.Sprint(p.start.Add(time.Duration(o.at)*step).Unix(), o.run.key))
				if slices.Contains(b.house(place), o.run.place) {
					year, month, day := b.local[o.at].Date()
					if load := time.Date(year, month, day, o.run.load/60, o.run.load%60, 0, 0, b.zone); load.After(lastLoad) {
						lastLoad = load
					}
				}
			}
		}
		where := fmt.Sprintf("timetable %d", seed)
		require.Equal(t, want != nil, got.Known, where)
		if want == nil {
			none++
			continue
		}
		planned++
		require.Equal(t, want.run.place, slices.IndexFunc(p.places, func(q plainPlace) bool { return q.key == got.Planned.Place }), where)
		require.Equal(t, p.start.Add(time.Duration(want.at)*step).Unix(), got.Planned.Cutoff.Unix(), where)
		require.Equal(t, p.start.Add(time.Duration(first[want.run.place])*step).Unix(), got.Planned.Arrives.Unix(), where)
		require.Equal(t, want.leaves.Sub(q.Last), got.Planned.Shortest, where)
		require.Equal(t, want.leaves.Sub(q.First), got.Planned.Longest, where)
		var insideGot []string
		for _, o := range got.Inside {
			insideGot = append(insideGot, fmt.Sprint(o.Cutoff.Unix(), o.Run))
		}
		slices.Sort(insideGot)
		slices.Sort(insideWant)
		require.Equal(t, insideWant, insideGot, where)
		inside += len(insideWant)

		last := -1
		_, door := b.backwards(goals)
		for _, near := range b.house(place) {
			ready := at
			for near != place && ready < steps && !b.open[near][ready] {
				ready++
			}
			for r, round := range b.rounds {
				for i := ready; i < steps; i++ {
					if arrives := i + int(round.takes/step); round.from == near && b.leaves[r][i] && arrives < steps && door[round.to][arrives] {
						last = max(last, i)
					}
				}
			}
		}
		by := lastLoad
		if at := p.start.Add(time.Duration(last) * step); last >= 0 && at.After(by) {
			by = at
		}
		if by.IsZero() {
			require.True(t, got.Last.IsZero(), where)
			continue
		}
		departures++
		require.Equal(t, by.Unix(), got.Last.Unix(), where)
	}
	t.Logf("%d timetables: %d with a run to make, %d runs inside in all, %d with a last departure, %d with no run", tables, planned, inside, departures, none)
	require.Greater(t, planned, tables/3)
	require.Greater(t, departures, tables/5)
}
