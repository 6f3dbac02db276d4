package timetable_test

import (
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/rickar/cal/v2"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/tracker/timetable"
)

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	require.NoError(t, err)
	return z
}

func england(t testing.TB, closed, open []string) *timetable.Calendar {
	t.Helper()
	c, err := timetable.NewCalendar(zone(t, "Europe/London"), timetable.RegionEnglandWales, closed, open)
	require.NoError(t, err)
	return c
}

// at is an instant by the wall clock of London, "2026-03-06 15:42"; with an offset it is that very instant.
func at(t testing.TB, text string) time.Time {
	t.Helper()
	for _, layout := range []string{"2006-01-02 15:04", "2006-01-02 15:04:05", "2006-01-02 15:04 -0700", "2006-01-02"} {
		if when, err := time.ParseInLocation(layout, text, zone(t, "Europe/London")); err == nil {
			return when
		}
	}
	t.Fatalf("%q is no instant", text)
	return time.Time{}
}

// daysOff lists the Mondays to Fridays of a year that are not worked.
func daysOff(c *timetable.Calendar, year int) []string {
	var off []string
	for day := time.Date(year, 1, 1, 12, 0, 0, 0, c.Zone()); day.Year() == year; day = day.AddDate(0, 0, 1) {
		if weekend := day.Weekday() == time.Saturday || day.Weekday() == time.Sunday; !weekend && !c.Working(day) {
			off = append(off, day.Format(time.DateOnly))
		}
	}
	return off
}

// TestWorkingDaysCountFromTheNextWorkingDay: contract page 3, edges.
func TestWorkingDaysCountFromTheNextWorkingDay(t *testing.T) {
	c := england(t, []string{"2026-12-24"}, []string{"2026-03-07"})
	for _, row := range []struct {
		why, start string
		n          int
		want       string
	}{
		{"the same clock time the next day", "2026-03-03 16:30", 1, "2026-03-04 16:30"},
		{"Friday's next working day is Saturday where that is worked", "2026-03-06 16:30", 1, "2026-03-07 16:30"},
		{"over a weekend", "2026-03-13 16:30", 1, "2026-03-16 16:30"},
		{"Saturday counts as Monday 00:00", "2026-03-14 11:00", 1, "2026-03-17 00:00"},
		{"and so does Sunday at 23:59:59", "2026-03-15 23:59:59", 1, "2026-03-17 00:00"},
		{"Good Friday counts as Tuesday 00:00", "2026-04-03 09:00", 2, "2026-04-09 00:00"},
		{"a bank holiday Monday", "2026-05-25 09:00", 1, "2026-05-27 00:00"},
		{"a local closure", "2026-12-23 09:00", 1, "2026-12-29 09:00"},
		{"a t on a local closure", "2026-12-24 09:00", 1, "2026-12-30 00:00"},
		{"none on a working day is t", "2026-03-03 16:30", 0, "2026-03-03 16:30"},
		{"none on a day off is its start", "2026-03-14 16:30", 0, "2026-03-16 00:00"},
		{"back", "2026-03-16 16:30", -1, "2026-03-13 16:30"},
	} {
		require.Equal(t, at(t, row.want), c.AddWorkingDays(at(t, row.start), row.n), row.why)
	}
	utc := at(t, "2026-06-05 00:30").UTC() // Thursday in UTC, Friday on the wall
	require.Equal(t, at(t, "2026-06-08 00:30"), c.AddWorkingDays(utc, 1), "days are those of the calendar's zone")
	fine := at(t, "2026-03-03 16:30").Add(123456789)
	require.Equal(t, fine.AddDate(0, 0, 1), c.AddWorkingDays(fine, 1), "fractions of a second are kept")
}

// TestClockChanges: last Sundays of March and October, 01:00 UTC: practice reference, section 10.7.
func TestClockChanges(t *testing.T) {
	c := england(t, nil, []string{"2026-03-29", "2026-10-25"})
	for _, row := range []struct{ why, start, want string }{
		{"over the night of spring: 23 hours", "2026-03-28 20:00 +0000", "2026-03-29 20:00 +0100"},
		{"over the night of autumn: 25 hours", "2026-10-24 20:00 +0100", "2026-10-25 20:00 +0000"},
		{"01:30 does not exist: it moves forward by the hour that was left out", "2026-03-28 01:30 +0000", "2026-03-29 02:30 +0100"},
		{"01:00 is the first that does not exist", "2026-03-28 01:00 +0000", "2026-03-29 02:00 +0100"},
		{"00:59 exists", "2026-03-28 00:59 +0000", "2026-03-29 00:59 +0000"},
		{"01:30 exists twice: the first counts", "2026-10-24 01:30 +0100", "2026-10-25 01:30 +0100"},
		{"02:00 exists once", "2026-10-24 02:00 +0100", "2026-10-25 02:00 +0000"},
		{"from the second 01:30", "2026-10-25 01:30 +0000", "2026-10-26 01:30 +0000"},
	} {
		start, want := at(t, row.start), at(t, row.want)
		require.True(t, want.Equal(c.AddDays(start, 1)), "%s: %s", row.why, c.AddDays(start, 1))
		if !c.Working(start) {
			continue
		}
		require.True(t, want.Equal(c.AddWorkingDays(start, 1)), "%s: %s", row.why, c.AddWorkingDays(start, 1))
	}
	require.True(t, at(t, "2026-03-29 20:00 +0100").Equal(c.AddWorkingDays(at(t, "2026-03-27 20:00"), 1)))
}

// TestMidnightThatDoesNotExist: in Beirut clocks go forward at 00:00, so a day begins at 01:00 (IANA time zone database).
func TestMidnightThatDoesNotExist(t *testing.T) {
	beirut := zone(t, "Asia/Beirut")
	c, err := timetable.NewCalendar(beirut, timetable.RegionNone, nil, []string{"2026-03-29"})
	require.NoError(t, err)
	got := c.AddWorkingDays(time.Date(2026, 3, 28, 15, 0, 0, 0, beirut), 0) // a Saturday: counts as 00:00 of that Sunday
	require.Equal(t, "2026-03-29 01:00:00", got.Format(time.DateTime))
	require.True(t, c.Working(got))
}

// TestHolidaysDoNotHangOnTheMachine: the library reckons in the machine's zone; here it is set to some where a day can
// lack its midnight.
func TestHolidaysDoNotHangOnTheMachine(t *testing.T) {
	want := map[int][]string{}
	utc := england(t, nil, nil)
	for year := timetable.FirstYear; year <= timetable.LastYear; year++ {
		want[year] = daysOff(utc, year)
	}
	before := cal.DefaultLoc
	t.Cleanup(func() { cal.DefaultLoc = before })
	for _, name := range []string{"UTC", "Asia/Beirut", "America/Sao_Paulo", "Asia/Gaza", "Pacific/Apia", "Asia/Tehran"} {
		cal.DefaultLoc = zone(t, name)
		c := england(t, nil, nil)
		for year := timetable.FirstYear; year <= timetable.LastYear; year++ {
			require.Equal(t, want[year], daysOff(c, year), "%s, %d", name, year)
		}
	}
}

func TestADayThatIsNotKnownIsNeverOpen(t *testing.T) {
	c := england(t, nil, nil)
	for day, known := range map[string]bool{"1999-12-31 23:59": false, "2000-01-01 00:00": true, "2099-12-31 23:59": true, "2100-01-01 00:00": false,
		"1969-07-20 12:00": false, "2500-03-03 12:00": false} {
		require.Equal(t, known, c.Known(at(t, day)), day)
		if !known {
			require.False(t, c.Working(at(t, day)), day)
		}
	}
	require.False(t, c.Known(time.Time{}))
	for _, row := range []struct {
		start string
		n     int
		want  string
	}{
		{"2099-12-31 10:00", 1, "2100-01-01 10:00"}, // a Friday, and who knows whether it is worked
		{"2099-12-30 10:00", 4, "2100-01-05 10:00"},
		{"2100-01-02 10:00", 1, "2100-01-05 00:00"}, // from a Saturday
		{"2000-01-05 10:00", -2, "1999-12-31 10:00"},
	} {
		got := c.AddWorkingDays(at(t, row.start), row.n)
		require.Equal(t, at(t, row.want), got, row.start)
		require.False(t, c.Known(got))
	}
}

func TestWhatACalendarRefuses(t *testing.T) {
	london := zone(t, "Europe/London")
	_, err := timetable.NewCalendar(nil, timetable.RegionNone, nil, nil)
	require.Error(t, err)
	_, err = timetable.NewCalendar(london, "gb-orkney", nil, nil)
	require.ErrorIs(t, err, timetable.ErrRegion)
	require.ErrorContains(t, err, "fr, gb-england-wales, gb-northern-ireland, gb-scotland, ie, nl, none, nz")
	_, err = timetable.NewCalendar(london, timetable.RegionNone, []string{"2026-02-30"}, nil)
	require.ErrorContains(t, err, `"2026-02-30": write it as 2026-12-24`)
	for _, lists := range [][2][]string{{{"2026-02-30"}, nil}, {{"24.12.2026"}, nil}, {nil, {""}}, {{"1999-12-31"}, nil}, {nil, {"2100-01-01"}}, {{"2026-12-24"}, {"2026-12-24"}}} {
		_, err = timetable.NewCalendar(london, timetable.RegionNone, lists[0], lists[1])
		require.ErrorIs(t, err, timetable.ErrDay, "%v", lists)
	}
}

func TestNoRegionHasMondaysToFridays(t *testing.T) {
	c, err := timetable.NewCalendar(time.UTC, timetable.RegionNone, nil, nil)
	require.NoError(t, err)
	require.Empty(t, daysOff(c, 2026))
	require.True(t, c.Working(time.Date(2026, 12, 25, 9, 0, 0, 0, time.UTC)))
	require.False(t, c.Working(time.Date(2026, 12, 26, 9, 0, 0, 0, time.UTC)))
}

func TestAfterTakesOneOfThree(t *testing.T) {
	c := england(t, nil, nil)
	friday := at(t, "2026-10-23 10:00")
	require.Equal(t, friday.Add(90*time.Minute), c.After(friday, 90*time.Minute, 0, 0))
	require.Equal(t, at(t, "2026-10-26 10:00"), c.After(friday, 0, 3, 0))
	require.Equal(t, at(t, "2026-10-27 10:00"), c.After(friday, 0, 0, 2))
	require.Equal(t, friday, c.After(friday, 0, 0, 0))
}

// TestLawAddingIsWalking: counting by the table is the same as walking day by day.
func TestLawAddingIsWalking(t *testing.T) {
	zones := []*time.Location{zone(t, "Europe/London"), zone(t, "Pacific/Auckland"), zone(t, "America/St_Johns"), time.UTC}
	rapid.Check(t, func(t *rapid.T) {
		z := rapid.SampledFrom(zones).Draw(t, "zone")
		day := rapid.Map(rapid.IntRange(0, 400), func(n int) string { return time.Date(2026, 1, n, 0, 0, 0, 0, time.UTC).Format(time.DateOnly) })
		closed := rapid.SliceOfNDistinct(day, 0, 30, rapid.ID).Draw(t, "closed")
		open := slices.DeleteFunc(rapid.SliceOfNDistinct(day, 0, 30, rapid.ID).Draw(t, "open"), func(d string) bool { return slices.Contains(closed, d) })
		c, err := timetable.NewCalendar(z, rapid.SampledFrom(timetable.Regions()).Draw(t, "region"), closed, open)
		require.NoError(t, err)
		start := time.Unix(rapid.Int64Range(1767225600, 1798761600).Draw(t, "start"), 0).In(z) // in 2026
		n := rapid.IntRange(1, 30).Draw(t, "n")

		y, m, d := start.Date()
		noon := func() time.Time { return time.Date(y, m, d, 12, 0, 0, 0, z) }
		clock := start.Format(time.TimeOnly)
		if !c.Working(start) {
			clock = "00:00:00"
			for !c.Working(noon()) {
				d++
			}
		}
		for range n {
			for d++; !c.Working(noon()); d++ {
			}
		}
		got := c.AddWorkingDays(start, n)
		require.Equal(t, noon().Format(time.DateOnly), got.Format(time.DateOnly))
		require.True(t, c.Working(got))
		require.True(t, got.After(start))
		if wall := got.Format(time.TimeOnly); wall != clock {
			_, before := noon().Add(-24 * time.Hour).Zone()
			_, after := noon().Zone()
			require.Greater(t, after, before, "%s and not %s: only where clocks went forward that day", wall, clock)
		}
		require.Equal(t, got, c.AddWorkingDays(c.AddWorkingDays(start, 0), n), "a day off counts as the start of the next working day")
		next := c.AddWorkingDays(start, n+1)
		require.True(t, next.After(got), "later the more days")
	})
}

func TestACalendarIsShared(t *testing.T) {
	c := england(t, nil, nil)
	var group sync.WaitGroup
	for i := range 8 {
		group.Go(func() {
			for n := range 1000 {
				c.AddWorkingDays(time.Unix(int64(1700000000+n*86400+i), 0), n)
			}
		})
	}
	group.Wait()
}

// BenchmarkAddWorkingDays has a bar of 1 µs.
func BenchmarkAddWorkingDays(b *testing.B) {
	c := england(b, nil, nil)
	start := time.Date(2026, 4, 2, 15, 42, 0, 0, c.Zone())
	b.ReportAllocs()
	for b.Loop() {
		c.AddWorkingDays(start, 10)
	}
}

// BenchmarkAddWorkingDaysFarOff is beyond the zone's own table, where clock changes are worked out from its rule.
func BenchmarkAddWorkingDaysFarOff(b *testing.B) {
	c := england(b, nil, nil)
	start := time.Date(2060, 4, 2, 15, 42, 0, 0, c.Zone())
	for b.Loop() {
		c.AddWorkingDays(start, 10)
	}
}

// BenchmarkNewCalendar has a bar of 2 ms for any region: each command makes one anew.
func BenchmarkNewCalendar(b *testing.B) {
	london := zone(b, "Europe/London")
	for _, region := range timetable.Regions() {
		b.Run(region, func(b *testing.B) {
			for b.Loop() {
				_, _ = timetable.NewCalendar(london, region, nil, nil)
			}
		})
	}
}
