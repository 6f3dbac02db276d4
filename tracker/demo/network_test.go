package demo_test

import (
	"bytes"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/demo"
	"github.com/pottrail/pottrail/tracker/protocol"
)

func mustZone(name string) *time.Location {
	zone, err := time.LoadLocation(name)
	if err != nil {
		panic(err)
	}
	return zone
}

var london = mustZone("Europe/London")

func localTime(text string) time.Time {
	t, err := time.ParseInLocation("2006-01-02 15:04", text, london)
	if err != nil {
		panic(err)
	}
	return t
}

// instants are times of the week and of the year at which a demo may be started.
func instants() map[string]time.Time {
	return map[string]time.Time{
		"a Wednesday afternoon":        localTime("2026-03-11 15:20"),
		"a Friday at noon":             localTime("2026-03-06 12:05"),
		"a Friday evening":             localTime("2026-03-06 19:40"),
		"a Sunday night":               localTime("2026-03-08 03:10"),
		"a Monday before work":         localTime("2026-03-09 06:30"),
		"a Monday mid-morning":         localTime("2026-03-09 10:15"),
		"the night clocks go forward":  localTime("2026-03-29 00:59"),
		"the Tuesday after Easter":     localTime("2026-04-07 14:00"),
		"the day after clocks go back": localTime("2026-10-26 11:30"),
		"a Wednesday in November":      localTime("2026-11-25 12:00"),
		"between the years":            localTime("2026-12-29 09:30"),
		"the second of January":        localTime("2027-01-02 16:00"),
		"the middle of January":        localTime("2027-01-14 13:45"),
		"a leap day":                   localTime("2028-02-29 10:00"),
	}
}

func generate(t testing.TB, seed uint64, now time.Time) *demo.Network {
	t.Helper()
	n, err := demo.Generate(demo.Options{Seed: seed, Now: now, Zone: london})
	require.NoError(t, err)
	return n
}

// everyNetwork runs a test over the instants and some seeds.
func everyNetwork(t *testing.T, seeds int, test func(t *testing.T, n *demo.Network, now time.Time)) {
	names := slices.Sorted(maps.Keys(instants()))
	if fewer {
		names = []string{"a Sunday night", "a Wednesday afternoon"}
	}
	for _, name := range names {
		now := instants()[name]
		for i := range seeds {
			seed := uint64(now.Day() + 100*i) // another one at each instant
			t.Run(fmt.Sprintf("%s, seed %d", name, seed), func(t *testing.T) {
				test(t, generate(t, seed, now), now)
			})
		}
	}
}

func written(n *demo.Network) []byte {
	var out bytes.Buffer
	for _, e := range n.Events {
		out.Write(events.Encode(e))
		out.WriteByte('\n')
	}
	return out.Bytes()
}

func TestSameSeedSameBytes(t *testing.T) {
	now := localTime("2026-03-11 15:20")
	first, second := generate(t, 7, now), generate(t, 7, now)
	require.True(t, bytes.Equal(written(first), written(second)))
	require.Equal(t, first.People, second.People)
	require.Equal(t, first.Protocols, second.Protocols)
	require.Equal(t, first.Serials, second.Serials)
	require.Equal(t, first.Faults, second.Faults)
	require.False(t, bytes.Equal(written(first), written(generate(t, 8, now))), "another seed is another network")
	elsewhere, err := demo.Generate(demo.Options{Seed: 7, Now: now.In(mustZone("Asia/Tokyo")), Zone: london})
	require.NoError(t, err)
	require.True(t, bytes.Equal(written(first), written(elsewhere)), "the zone of now does not count")
}

func TestImpossibleDemosAreRefused(t *testing.T) {
	now := localTime("2026-03-11 15:20")
	for name, o := range map[string]demo.Options{
		"no instant":            {Weeks: 6, Zone: london},
		"too few weeks":         {Weeks: 3, Now: now, Zone: london},
		"too many weeks":        {Weeks: 27, Now: now, Zone: london},
		"weeks below nothing":   {Weeks: -1, Now: now, Zone: london},
		"before known holidays": {Now: now.AddDate(-26, 0, 0), Zone: london},
		"after known holidays":  {Now: now.AddDate(73, 0, 0), Zone: london},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := demo.Generate(o)
			require.ErrorIs(t, err, demo.ErrOptions)
		})
	}
	for _, weeks := range []int{demo.LeastWeeks, demo.MostWeeks} {
		n, err := demo.Generate(demo.Options{Weeks: weeks, Now: now, Zone: london})
		require.NoError(t, err)
		require.NotEmpty(t, n.Events)
	}
	n, err := demo.Generate(demo.Options{Now: now})
	require.NoError(t, err, "no zone means UTC")
	require.NotEmpty(t, n.Events)
}

func TestEveryEventIsWellFormed(t *testing.T) {
	everyNetwork(t, 1, func(t *testing.T, n *demo.Network, now time.Time) {
		ids := map[tracker.EventID]bool{}
		for i, e := range n.Events {
			line := events.Encode(e)
			again, err := events.Decode(line)
			if err != nil || !bytes.Equal(line, events.Encode(again)) {
				require.NoError(t, err, "%s", line)
				require.Equal(t, string(line), string(events.Encode(again)))
			}
			if ids[e.ID] || i > 0 && n.Events[i-1].Compare(e) >= 0 {
				require.False(t, ids[e.ID], "id %s twice", e.ID)
				require.Negative(t, n.Events[i-1].Compare(e), "events come by when")
			}
			ids[e.ID] = true
			requireUUIDv7(t, e)
			for _, item := range e.Items {
				requireCode(t, item)
			}
		}
	})
}

var uuidv7 = regexp.MustCompile(`^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$`)

// requireUUIDv7 checks layout and instant. Source: RFC 9562, section 5.7.
func requireUUIDv7(t *testing.T, e *tracker.Event) {
	t.Helper()
	millis, err := strconv.ParseInt(string(e.ID[:8]+e.ID[9:13]), 16, 64)
	if err != nil || millis != e.At.UnixMilli() || !uuidv7.MatchString(string(e.ID)) {
		require.Regexp(t, uuidv7, string(e.ID))
		require.Equal(t, e.At.UnixMilli(), millis, "the id was made when it happened")
	}
}

// requireCode checks that an item can be typed and, if it was scanned, stand in a symbol.
func requireCode(t *testing.T, item tracker.Item) {
	t.Helper()
	read, err := tracker.ParseItem(item.String())
	if err != nil || read != item {
		require.NoError(t, err)
		require.Equal(t, item, read)
	}
}

func TestEveryKindOfEventAppears(t *testing.T) {
	everyNetwork(t, 1, func(t *testing.T, n *demo.Network, now time.Time) {
		count := map[tracker.Kind]int{}
		for _, e := range n.Events {
			count[e.Kind]++
		}
		for _, k := range tracker.Kinds() {
			require.Positive(t, count[k.Kind], "no %s", k.Kind)
		}
	})
}

func TestNothingIsLaterThanNowButOneWrongClock(t *testing.T) {
	everyNetwork(t, 1, func(t *testing.T, n *demo.Network, now time.Time) {
		var ahead []tracker.Kind
		for _, e := range n.Events {
			if e.At.After(now) {
				ahead = append(ahead, e.Kind)
			}
		}
		require.Equal(t, []tracker.Kind{tracker.KindCustodyTaken}, ahead)
	})
}

func TestSizeIsThatOfASmallNetwork(t *testing.T) {
	for seed := range uint64(20) {
		n := generate(t, seed, localTime("2026-03-11 15:20"))
		opened := map[string]int{}
		for _, e := range n.Events {
			if e.Kind == tracker.KindCaseOpened {
				opened[e.Clinic]++
			}
		}
		require.Len(t, opened, 3)
		total := opened["MBY"] + opened["HCX"] + opened["SGN"]
		require.Greater(t, total, 350)
		require.Less(t, total, 470)
		require.Greater(t, opened["MBY"], opened["HCX"])
		require.Greater(t, opened["HCX"], opened["SGN"])
	}
}

// Serials are handed out once each, and none in use lies above the highest that is told.
func TestSerialsAreOnceAndUpToTheHighest(t *testing.T) {
	everyNetwork(t, 1, func(t *testing.T, n *demo.Network, now time.Time) {
		type series struct {
			clinic string
			year   int
		}
		seen, highest := map[tracker.Name]bool{}, map[series]int{}
		var stranger tracker.Name
		for _, f := range n.Faults {
			if f.Flag == tracker.FlagUnknownItem {
				stranger = f.Watched
			}
		}
		for _, e := range n.Events {
			for _, item := range e.Items {
				whole := item.Name[:len("MBY-26-00417")]
				if whole == stranger {
					continue
				}
				seen[whole] = true
				s := series{whole.Clinic(), whole.Year()}
				highest[s] = max(highest[s], whole.Serial())
			}
			if e.Kind == tracker.KindCaseOpened {
				require.Equal(t, e.At.In(london).Year()%100, e.Items[0].Name.Year(), "the year is that of the opening in the clinic's zone")
			}
		}
		told := map[series]int{}
		for _, s := range n.Serials {
			told[series{s.Clinic, s.Year}] = s.Highest
		}
		require.Equal(t, highest, told)
		require.Greater(t, stranger.Serial(), told[series{stranger.Clinic(), stranger.Year()}], "a stranger's code is far from the series")
	})
}

func TestProtocolsAreTheClinicsOwn(t *testing.T) {
	n := generate(t, 1, localTime("2026-03-11 15:20"))
	require.Len(t, n.Protocols, len(n.Clinics))
	for i, c := range n.Clinics {
		e := n.Events[i]
		require.Equal(t, tracker.KindProtocolAdopted, e.Kind, "protocols come first")
		require.Equal(t, n.Protocols[e.Clinic], e.Data.(*tracker.ProtocolAdopted).Text)
		p, err := protocol.Parse([]byte(n.Protocols[c.Key]))
		require.NoError(t, err, c.Key)
		require.Contains(t, p.Title, c.Name)
		require.NotEmpty(t, p.Contacts["laboratory"])
		require.Len(t, p.Runs, 2)
		for key, place := range p.Places {
			require.NotEmpty(t, place.Contact, key)
		}
		require.Equal(t, protocol.Default().Limits, p.Limits, "numbers stay those of the default")
	}
}

// No name, birth date or number of a patient is anywhere in an event.
func TestPatientsAreNotInEvents(t *testing.T) {
	everyNetwork(t, 1, func(t *testing.T, n *demo.Network, now time.Time) {
		words := map[string]bool{}
		for _, e := range n.Events {
			if e.Kind == tracker.KindProtocolAdopted {
				continue // a clinic's rules, older than any patient
			}
			for _, word := range strings.FieldsFunc(strings.ToLower(string(events.Encode(e))), func(r rune) bool {
				return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '-'
			}) {
				words[word] = true
			}
		}
		refs, opened := map[string]bool{}, 0
		for _, p := range n.People {
			for _, identifier := range append(strings.Fields(p.Given+" "+p.Family+" "+p.Record+" "+p.National), string(p.Born)) {
				require.False(t, words[strings.ToLower(identifier)], "%q is in an event", identifier)
			}
			require.False(t, refs[p.Ref], "one ref, one patient")
			refs[p.Ref] = true
			_, err := tracker.ParseDate(string(p.Born))
			require.NoError(t, err)
		}
		for _, e := range n.Events {
			if opening, ok := e.Data.(*tracker.CaseOpened); ok {
				opened++
				require.True(t, refs[opening.Patient], "every case has its patient")
			}
		}
		require.LessOrEqual(t, len(n.People), opened)
		require.Greater(t, len(n.People), opened-3)
	})
}

func TestPeopleAreMany(t *testing.T) {
	n := generate(t, 1, localTime("2026-03-11 15:20"))
	given, family, full := map[string]bool{}, map[string]bool{}, map[string]bool{}
	for _, p := range n.People {
		given[p.Given], family[p.Family], full[p.Given+" "+p.Family] = true, true, true
	}
	require.Greater(t, len(given), 60)
	require.Greater(t, len(family), 90)
	require.Greater(t, len(full), len(n.People)*9/10)
}

// In one room one case is over before the next has its labels.
func TestRoomsHoldOneCaseAtATime(t *testing.T) {
	everyNetwork(t, 1, func(t *testing.T, n *demo.Network, now time.Time) {
		open := map[string]tracker.Name{} // by clinic and room
		excused := map[tracker.Name]bool{}
		for _, f := range n.Faults {
			if f.Flag == tracker.FlagRoomOpen {
				excused[f.Watched] = true
			}
		}
		for _, e := range n.Events {
			room := e.Clinic + " " + e.Station
			whole := e.Items
			switch e.Kind {
			case tracker.KindPatientChecked, tracker.KindPieceTaken:
				name := whole[0].Name.Case()
				have := open[room]
				require.True(t, have == "" || have == name || excused[have] || e.Kind == tracker.KindPieceTaken, "%s begins in %s while %s is open", name, room, have)
				open[room] = name
			case tracker.KindRoomCleared:
				open[room] = ""
			}
		}
	})
}

func TestTodayIsInProgress(t *testing.T) {
	everyNetwork(t, 3, func(t *testing.T, n *demo.Network, now time.Time) {
		j := newJudging(t, n, now)
		steps := map[tracker.Step]int{}
		places := map[string]int{}
		out := 0
		for watched := range j.filed {
			s := j.judge(watched, j.gather(watched), now).Summary
			steps[s.Step]++
			if s.Step == tracker.StepBag {
				places["bag at "+s.Place]++
			}
			for _, p := range s.Pots {
				if p.Taken > p.Potted && !p.Sealed && s.Step == tracker.StepRoom {
					out++
				}
				if p.Received.IsZero() {
					places[p.Place]++
				}
			}
		}
		for _, step := range []tracker.Step{tracker.StepPlanned, tracker.StepRoom, tracker.StepWaiting, tracker.StepOnTheWay, tracker.StepLab,
			tracker.StepTold, tracker.StepClosed} {
			require.Positive(t, steps[step], "no case is %s: %v", step, steps)
		}
		require.Positive(t, out, "no core is out")
		require.Positive(t, places["hatch"], places)
		require.Positive(t, places["van"], places)
		require.Positive(t, places["bag at van"], places)
	})
}

func BenchmarkGenerate(b *testing.B) {
	now := localTime("2026-03-11 15:20")
	for b.Loop() {
		generate(b, 1, now)
	}
}
