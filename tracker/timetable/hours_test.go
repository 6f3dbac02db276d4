package timetable_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/tracker/timetable"
)

func intervals(t testing.TB, texts ...string) []timetable.Interval {
	t.Helper()
	list, err := timetable.ParseIntervals(texts)
	require.NoError(t, err)
	return list
}

// tarnRoad is the laboratory at Tarn Road: Mondays to Fridays with an hour's break on Wednesdays, Saturday mornings, half
// a day on Christmas Eve.
func tarnRoad(t testing.TB, c *timetable.Calendar) *timetable.Hours {
	t.Helper()
	week := map[time.Weekday][]timetable.Interval{time.Saturday: intervals(t, "09:00-12:00"), time.Sunday: nil}
	for day := time.Monday; day <= time.Friday; day++ {
		week[day] = intervals(t, "08:30–17:00")
	}
	week[time.Wednesday] = intervals(t, "08:30-12:30", "13:30-17:00")
	h, err := timetable.NewHours(c, week, map[string][]timetable.Interval{"2026-12-24": intervals(t, "08:30-12:00"), "2026-03-10": nil,
		"2026-04-03": intervals(t, "10:00-11:00")})
	require.NoError(t, err)
	return h
}

func TestAPlaceIsOpenFromTheFirstInstantToTheLast(t *testing.T) {
	h := tarnRoad(t, england(t, []string{"2026-03-05"}, nil))
	for when, open := range map[string]bool{
		"2026-03-06 08:29:59": false, // a Friday
		"2026-03-06 08:30:00": true,
		"2026-03-06 16:59:59": true,
		"2026-03-06 17:00:00": false,
		"2026-03-04 13:00":    false, // the Wednesday break
		"2026-03-04 13:30":    true,
		"2026-03-05 10:00":    false, // a closure of the protocol
		"2026-03-07 09:00":    true,  // a Saturday with hours, though no working day
		"2026-03-07 12:00":    false,
		"2026-03-08 10:00":    false, // a Sunday
		"2026-03-10 10:00":    false, // closed that day by exception
		"2026-12-24 11:59":    true,  // half a day
		"2026-12-24 12:00":    false,
		"2026-12-25 10:00":    false, // Christmas Day
		"2026-12-26 10:00":    false, // Boxing Day is a Saturday, kept on Monday: neither is open
		"2026-12-28 10:00":    false,
		"2026-04-03 10:30":    true, // Good Friday with hours of its own
		"2026-04-03 12:00":    false,
	} {
		require.Equal(t, open, h.Open(at(t, when)), when)
	}
}

func TestTheNextOpeningAndTheClosing(t *testing.T) {
	h := tarnRoad(t, england(t, nil, nil))
	for _, row := range []struct{ from, opens, closes string }{
		{"2026-03-06 10:00", "2026-03-06 10:00", "2026-03-06 17:00"},
		{"2026-03-06 17:00", "2026-03-07 09:00", "2026-03-07 12:00"}, // Friday evening to Saturday
		{"2026-03-07 12:00", "2026-03-09 08:30", "2026-03-09 17:00"},
		{"2026-03-09 17:00", "2026-03-11 08:30", "2026-03-11 12:30"}, // Tuesday is shut
		{"2026-03-11 12:30", "2026-03-11 13:30", "2026-03-11 17:00"},
		{"2026-12-24 12:00", "2026-12-29 08:30", "2026-12-29 17:00"}, // over Christmas
	} {
		next, ok := h.Next(at(t, row.from))
		require.True(t, ok)
		require.Equal(t, at(t, row.opens), next, row.from)
		end, ok := h.Closes(next)
		require.True(t, ok)
		require.Equal(t, at(t, row.closes), end, row.from)
	}
	_, ok := h.Closes(at(t, "2026-03-08 10:00"))
	require.False(t, ok, "what is shut does not close")
	_, ok = h.Next(at(t, "2099-12-31 17:00"))
	require.False(t, ok, "the calendar has nothing after it")
	require.False(t, h.Open(at(t, "2100-01-04 10:00")))
}

func TestOpenTimeBetweenAndOn(t *testing.T) {
	h := tarnRoad(t, england(t, nil, nil))
	for _, row := range []struct{ from, to, open string }{
		{"2026-03-06 16:00", "2026-03-07 10:30", "2h30m"},
		{"2026-03-06 10:00", "2026-03-06 10:00", "0s"},
		{"2026-03-06 10:00", "2026-03-05 10:00", "0s"},
		{"2026-03-08 00:00", "2026-03-09 00:00", "0s"},
		{"2026-03-09 00:00", "2026-03-16 00:00", "36h"}, // 8½ h on three days, 7½ h on Wednesday, 3 h on Saturday; Tuesday shut
		{"2026-12-24 11:00", "2026-12-29 09:00", "1h30m"},
	} {
		want, err := time.ParseDuration(row.open)
		require.NoError(t, err)
		require.Equal(t, want, h.Elapsed(at(t, row.from), at(t, row.to)), row.from)
	}
	for _, row := range []struct{ from, add, then string }{
		{"2026-03-06 16:00", "1h", "2026-03-06 17:00"}, // to the very end
		{"2026-03-06 16:00", "1h1s", "2026-03-07 09:00:01"},
		{"2026-03-08 10:00", "0s", "2026-03-08 10:00"},
		{"2026-03-08 10:00", "4h", "2026-03-09 12:30"},
	} {
		d, err := time.ParseDuration(row.add)
		require.NoError(t, err)
		then, ok := h.Add(at(t, row.from), d)
		require.True(t, ok)
		require.Equal(t, at(t, row.then), then, row.from)
	}
	_, ok := h.Add(at(t, "2099-12-31 16:00"), 2*time.Hour)
	require.False(t, ok)
}

// TestHoursOverMidnightAndClockChanges: the nights of 29 March and 25 October 2026, practice reference, section 10.7.
func TestHoursOverMidnightAndClockChanges(t *testing.T) {
	every := func(text string) *timetable.Hours {
		week := map[time.Weekday][]timetable.Interval{}
		for day := time.Sunday; day <= time.Saturday; day++ {
			week[day] = intervals(t, text)
		}
		h, err := timetable.NewHours(england(t, nil, nil), week, nil)
		require.NoError(t, err)
		return h
	}
	for _, row := range []struct{ why, hours, from, to, open string }{
		{"a day of 23 hours", "00:00-24:00", "2026-03-29 00:00", "2026-03-30 00:00", "23h"},
		{"a day of 25 hours", "00:00-24:00", "2026-10-25 00:00", "2026-10-26 00:00", "25h"},
		{"a night that is an hour short", "22:00-06:00", "2026-03-28 12:00", "2026-03-29 12:00", "7h"},
		{"a night that is an hour long", "22:00-06:00", "2026-10-24 12:00", "2026-10-25 12:00", "9h"},
		{"of an hour that comes twice, the first", "01:15-01:45", "2026-10-25 00:00", "2026-10-25 12:00", "30m"},
		{"closing at a time that comes twice: at the first", "00:30-01:30", "2026-10-25 00:00", "2026-10-25 12:00", "1h"},
		{"opening at a time that comes twice: at the first", "01:30-02:30", "2026-10-25 00:00", "2026-10-25 12:00", "2h"},
		{"an hour that is left out moves forward whole", "01:15-01:45", "2026-03-29 00:00", "2026-03-29 12:00", "30m"},
		{"closing at a time that is left out", "00:30-01:30", "2026-03-29 00:00", "2026-03-29 12:00", "1h"},
		{"opening at a time that is left out, and nothing remains", "01:30-02:00", "2026-03-29 00:00", "2026-03-29 12:00", "0s"},
	} {
		want, err := time.ParseDuration(row.open)
		require.NoError(t, err)
		require.Equal(t, want, every(row.hours).Elapsed(at(t, row.from), at(t, row.to)), row.why)
	}
	next, ok := every("01:15-01:45").Next(at(t, "2026-03-29 00:00"))
	require.True(t, ok)
	require.True(t, at(t, "2026-03-29 02:15 +0100").Equal(next))
	night := every("22:00-06:00")
	end, ok := night.Closes(at(t, "2026-12-24 23:00"))
	require.True(t, ok)
	require.Equal(t, at(t, "2026-12-25 06:00"), end, "a night that began before a holiday ends on it")
	require.False(t, night.Open(at(t, "2026-12-25 23:00")), "none begins on it")
}

func TestAPlaceWithoutHoursIsAlwaysOpen(t *testing.T) {
	without, err := timetable.NewHours(england(t, nil, nil), nil, nil)
	require.NoError(t, err)
	for _, h := range []*timetable.Hours{nil, without} {
		christmas := at(t, "2026-12-25 03:00")
		require.True(t, h.Always())
		require.True(t, h.Open(christmas))
		require.True(t, h.Open(at(t, "2100-01-04 10:00")))
		next, ok := h.Next(christmas)
		require.True(t, ok)
		require.Equal(t, christmas, next)
		_, ok = h.Closes(christmas)
		require.False(t, ok)
		require.Equal(t, 36*time.Hour, h.Elapsed(christmas, christmas.Add(36*time.Hour)))
		then, ok := h.Add(christmas, 36*time.Hour)
		require.True(t, ok)
		require.Equal(t, christmas.Add(36*time.Hour), then)
	}
	but, err := timetable.NewHours(england(t, nil, nil), nil, map[string][]timetable.Interval{"2026-12-25": nil})
	require.NoError(t, err)
	require.True(t, but.Open(at(t, "2026-12-28 10:00")), "the bank holiday too")
	end, ok := but.Closes(at(t, "2026-12-01 10:00"))
	require.True(t, ok)
	require.Equal(t, at(t, "2026-12-25"), end)
	next, ok := but.Next(end)
	require.True(t, ok)
	require.Equal(t, at(t, "2026-12-26"), next)
	_, ok = but.Closes(next)
	require.False(t, ok, "not in 400 days")
}

func TestAPlaceThatNeverOpensIsSearchedToAnEnd(t *testing.T) {
	h, err := timetable.NewHours(england(t, nil, nil), map[time.Weekday][]timetable.Interval{time.Monday: nil}, map[string][]timetable.Interval{
		"2028-03-03": intervals(t, "08:00-09:00")})
	require.NoError(t, err)
	_, ok := h.Next(at(t, "2026-03-06 10:00"))
	require.False(t, ok)
	_, ok = h.Next(at(t, "2027-03-06 10:00"))
	require.True(t, ok, "within 400 days")
	require.Zero(t, h.Elapsed(at(t, "2026-03-06 10:00"), at(t, "2027-03-06 10:00")))
	require.Equal(t, time.Hour, h.Elapsed(at(t, "2026-03-06 10:00"), at(t, "2029-03-06 10:00")), "however far the next opening is")
}

func TestWhatHoursRefuse(t *testing.T) {
	c := england(t, nil, nil)
	_, err := timetable.NewHours(nil, nil, nil)
	require.Error(t, err)
	_, err = timetable.NewHours(c, map[time.Weekday][]timetable.Interval{time.Monday: {{From: 24 * 60, To: 3}}}, nil)
	require.ErrorIs(t, err, timetable.ErrClock)
	_, err = timetable.NewHours(c, map[time.Weekday][]timetable.Interval{7: nil}, nil)
	require.ErrorIs(t, err, timetable.ErrDay)
	_, err = timetable.NewHours(c, nil, map[string][]timetable.Interval{"24.12.2026": nil})
	require.ErrorIs(t, err, timetable.ErrDay)
	_, err = timetable.NewHours(c, nil, map[string][]timetable.Interval{"2026-12-24": {{From: -1}}})
	require.ErrorIs(t, err, timetable.ErrClock)
	for _, text := range []string{"", "8:30", "08.30", "24:01", "12:60", "1a:00", "-1:00"} {
		_, err := timetable.ParseClock(text)
		require.ErrorIs(t, err, timetable.ErrClock, text)
		require.ErrorContains(t, err, fmt.Sprintf("%q", text))
	}
	for _, text := range []string{"", "08:30", "08:30-", "24:00-08:00", "08:30-25:00", "08:30-09:00-10:00"} {
		_, err := timetable.ParseInterval(text)
		require.ErrorIs(t, err, timetable.ErrClock, text)
	}
	v, err := timetable.ParseInterval("22:00 – 24:00")
	require.NoError(t, err)
	require.Equal(t, "22:00-24:00", v.String())
}

// minutes is a walk over every minute of a stretch of time: whether each is open, by rules written out anew.
type minutes struct {
	from time.Time
	open []bool
}

// walk lays each interval of each day on a list of minutes, finding wall times by looking at what every minute's wall
// clock shows.
func walk(c *timetable.Calendar, week map[time.Weekday][]timetable.Interval, exceptions map[string][]timetable.Interval, from time.Time, n int) minutes {
	const layout = "2006-01-02 15:04"
	m := minutes{from: from, open: make([]bool, n)}
	first := make(map[string]int)
	var shown []string
	for i := range n {
		wall := from.Add(time.Duration(i) * time.Minute).In(c.Zone()).Format(layout)
		if _, seen := first[wall]; !seen {
			first[wall] = i
		}
		shown = append(shown, wall)
	}
	find := func(wall time.Time) int { // wall is that time in UTC
		text := wall.Format(layout)
		if i, ok := first[text]; ok {
			return i
		}
		i := slices.IndexFunc(shown, func(s string) bool { return s > text })
		if i <= 0 {
			return i // before the walk or after it
		}
		before, _ := time.Parse(layout, shown[i-1]) // a gap: its length added
		after, _ := time.Parse(layout, shown[i])
		moved := wall.Add(after.Sub(before) - time.Minute).Format(layout)
		return first[moved]
	}
	start, _ := time.Parse(layout, shown[0])
	for day := start.Truncate(24 * time.Hour); day.Format(layout) <= shown[n-1]; day = day.AddDate(0, 0, 1) {
		noon := time.Date(day.Year(), day.Month(), day.Day(), 12, 0, 0, 0, c.Zone())
		list, excepted := exceptions[day.Format(time.DateOnly)]
		if !excepted && !c.Shut(noon) {
			list = week[day.Weekday()]
		}
		for _, v := range list {
			to := day.Add(time.Duration(v.To) * time.Minute)
			if v.To <= v.From {
				to = to.AddDate(0, 0, 1)
			}
			i, j := find(day.Add(time.Duration(v.From)*time.Minute)), find(to)
			if i < 0 {
				continue
			}
			if j < 0 {
				j = n
			}
			for ; i < j; i++ {
				m.open[i] = true
			}
		}
	}
	return m
}

// TestLawHoursAreWhatAWalkOverEveryMinuteFinds draws places, and compares each answer with a walk minute by minute about
// clock changes, midnights and holidays.
func TestLawHoursAreWhatAWalkOverEveryMinuteFinds(t *testing.T) {
	zones := []*time.Location{zone(t, "Europe/London"), zone(t, "America/New_York"), zone(t, "Australia/Lord_Howe"), zone(t, "Asia/Beirut"), zone(t, "Africa/Johannesburg")}
	starts := []string{"2026-03-05", "2026-03-26", "2026-10-22", "2026-12-22", "2026-04-01", "2026-04-03", "2026-10-30", "2026-10-01"}
	clock := rapid.Custom(func(t *rapid.T) timetable.Clock {
		if rapid.Bool().Draw(t, "at night") {
			return timetable.Clock(rapid.IntRange(0, 12).Draw(t, "quarter") * 15)
		}
		return timetable.Clock(rapid.IntRange(0, 47).Draw(t, "half hour") * 30)
	})
	interval := rapid.Custom(func(t *rapid.T) timetable.Interval {
		v := timetable.Interval{From: clock.Draw(t, "from"), To: clock.Draw(t, "to")}
		if rapid.IntRange(0, 9).Draw(t, "to the end") == 0 {
			v.To = timetable.Midnight
		}
		return v
	})
	list := rapid.SliceOfN(interval, 0, 2)
	rapid.Check(t, func(t *rapid.T) {
		z := rapid.SampledFrom(zones).Draw(t, "zone")
		c, err := timetable.NewCalendar(z, rapid.SampledFrom([]string{timetable.RegionEnglandWales, timetable.RegionNone, timetable.RegionSouthAfrica}).Draw(t, "region"), nil, nil)
		require.NoError(t, err)
		week := map[time.Weekday][]timetable.Interval{time.Monday: list.Draw(t, "Monday")}
		for day := time.Sunday; day <= time.Saturday; day++ {
			week[day] = list.Draw(t, day.String())
		}
		begin, err := time.ParseInLocation(time.DateOnly, rapid.SampledFrom(starts).Draw(t, "start"), z)
		require.NoError(t, err)
		exceptions := map[string][]timetable.Interval{}
		for _, n := range rapid.SliceOfNDistinct(rapid.IntRange(0, 6), 0, 2, rapid.ID).Draw(t, "excepted") {
			exceptions[begin.AddDate(0, 0, n).Format(time.DateOnly)] = list.Draw(t, "exception")
		}
		h, err := timetable.NewHours(c, week, exceptions)
		require.NoError(t, err)

		const days, lead = 9, 3 * 24 * 60 // the walk begins three days before what is asked about, and ends after it
		m := walk(c, week, exceptions, begin.Add(-lead*time.Minute), lead+days*24*60)
		instant := func(i int) time.Time { return m.from.Add(time.Duration(i) * time.Minute) }
		i := lead + rapid.IntRange(0, 5*24*60).Draw(t, "minute")
		j := i + rapid.IntRange(0, 2*24*60).Draw(t, "minutes on")
		require.Equal(t, m.open[i], h.Open(instant(i)), instant(i))
		require.Equal(t, m.open[i], h.Open(instant(i).Add(59*time.Second)), "to the second before the next minute")

		next := i + slices.Index(m.open[i:], true)
		if got, ok := h.Next(instant(i)); next >= i {
			require.True(t, ok)
			require.True(t, instant(next).Equal(got), "next from %s: %s, by the walk %s", instant(i), got, instant(next))
		} else if ok {
			require.False(t, got.Before(instant(len(m.open))), "next from %s: %s, where the walk finds none", instant(i), got)
		}
		shut := i + slices.Index(m.open[i:], false)
		if got, ok := h.Closes(instant(i)); m.open[i] && shut >= i {
			require.True(t, ok)
			require.True(t, instant(shut).Equal(got), "closes after %s: %s, by the walk %s", instant(i), got, instant(shut))
		} else if !m.open[i] {
			require.False(t, ok)
		}
		open := 0
		for k := i; k < j; k++ {
			if m.open[k] {
				open++
			}
		}
		require.Equal(t, time.Duration(open)*time.Minute, h.Elapsed(instant(i), instant(j)))
		if open > 0 {
			then, ok := h.Add(instant(i), time.Duration(open)*time.Minute)
			require.True(t, ok)
			require.False(t, then.After(instant(j)))
			require.Equal(t, time.Duration(open)*time.Minute, h.Elapsed(instant(i), then), "adding and measuring agree")
			require.Equal(t, time.Duration(open)*time.Minute-time.Second, h.Elapsed(instant(i), then.Add(-time.Second)), "and not a second earlier")
		}
	})
}

// BenchmarkHours has a bar of 10 µs for a question that looks over a weekend.
func BenchmarkHours(b *testing.B) {
	h := tarnRoad(b, england(b, nil, nil))
	saturday := at(b, "2026-03-07 13:00")
	b.ReportAllocs()
	for b.Loop() {
		h.Next(saturday)
	}
}
