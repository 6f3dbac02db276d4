package timetable_test

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker/timetable"
)

var update = flag.Bool("update", false, "write golden files anew; read the diff before committing it")

// TestEveryHolidayOfEveryRegion keeps all that the regions give, so that a change of the library or of a table is seen: the
// days on which a place is shut, those on weekends too, for all years that a region stands for.
func TestEveryHolidayOfEveryRegion(t *testing.T) {
	var out bytes.Buffer
	for _, key := range timetable.Regions() {
		r, err := timetable.RegionOf(key)
		require.NoError(t, err)
		c, err := timetable.NewCalendar(time.UTC, key, nil, nil)
		require.NoError(t, err)
		fmt.Fprintf(&out, "%s, %d to %d\n", key, r.First, r.Last)
		for year := r.First; year <= r.Last; year++ {
			fmt.Fprintf(&out, "%d", year)
			for day := time.Date(year, 1, 1, 12, 0, 0, 0, time.UTC); day.Year() == year; day = day.AddDate(0, 0, 1) {
				if c.Shut(day) {
					out.WriteString(day.Format(" 0102"))
				}
			}
			out.WriteByte('\n')
		}
	}
	golden := filepath.Join("testdata", "holidays.golden")
	if *update {
		require.NoError(t, os.WriteFile(golden, out.Bytes(), 0o600))
	}
	want, err := os.ReadFile(golden)
	require.NoError(t, err)
	require.Equal(t, string(want), out.String(), "go test -update writes %s anew", golden)
}

// TestCountingAtTheEdgesOfTheTable: on the first and last days of the table, and before and after it Mondays to Fridays.
// Monday 3 January 2000 is kept for New Year's Day.
func TestCountingAtTheEdgesOfTheTable(t *testing.T) {
	c := england(t, nil, nil)
	for _, row := range []struct {
		start string
		n     int
		want  string
	}{
		{"2000-01-01 10:00", 0, "2000-01-04 00:00"},
		{"2000-01-01 10:00", 1, "2000-01-05 00:00"},
		{"2000-01-03 10:00", -1, "1999-12-31 00:00"},
		{"2000-01-04 10:00", 0, "2000-01-04 10:00"},
		{"2000-01-05 10:00", -1, "2000-01-04 10:00"},
		{"2000-01-04 10:00", -1, "1999-12-31 10:00"},
		{"2000-01-04 10:00", -2, "1999-12-30 10:00"},
		{"1999-12-31 10:00", 0, "1999-12-31 10:00"},
		{"1999-12-31 10:00", 1, "2000-01-03 10:00"},
		{"1999-12-25 10:00", 0, "1999-12-27 00:00"}, // a Saturday, and Christmas is not known
		{"2099-12-31 10:00", 0, "2099-12-31 10:00"},
		{"2099-12-30 10:00", 1, "2099-12-31 10:00"},
		{"2099-12-31 10:00", -1, "2099-12-30 10:00"},
		{"2100-01-01 10:00", 0, "2100-01-01 10:00"}, // a Friday
		{"2100-01-01 10:00", 1, "2100-01-04 10:00"},
		{"2100-01-01 10:00", -1, "2099-12-31 10:00"},
		{"2100-01-02 10:00", 0, "2100-01-04 00:00"},
		{"2100-01-03 10:00", 0, "2100-01-04 00:00"},
		{"2100-01-07 10:00", 0, "2100-01-07 10:00"},
		{"1969-07-18 10:00", 1, "1969-07-21 10:00"},
		{"1969-07-19 10:00", 1, "1969-07-22 00:00"},
		{"1970-01-01 10:00", -1, "1969-12-31 10:00"},
	} {
		require.Equal(t, at(t, row.want), c.AddWorkingDays(at(t, row.start), row.n), "%s and %d", row.start, row.n)
	}
	open := england(t, []string{"2099-12-31"}, []string{"2000-01-01"})
	require.False(t, c.Working(at(t, "2000-01-01 10:00")))
	require.True(t, open.Working(at(t, "2000-01-01 10:00")), "the very first day, a Saturday")
	require.False(t, open.Shut(at(t, "2000-01-01 10:00")))
	require.False(t, open.Working(at(t, "2000-01-02 10:00")))
	require.True(t, c.Working(at(t, "2099-12-31 10:00")))
	require.False(t, open.Working(at(t, "2099-12-31 10:00")), "the very last day")
	require.Equal(t, at(t, "2099-12-30 10:00"), open.AddWorkingDays(at(t, "2099-12-29 10:00"), 1), "the last day that is worked")
	require.Equal(t, at(t, "2100-01-01 10:00"), open.AddWorkingDays(at(t, "2099-12-29 10:00"), 2), "and the first that is not known")
	require.Equal(t, at(t, "2100-01-01 00:00"), open.AddWorkingDays(at(t, "2099-12-31 10:00"), 0), "a last day that is closed counts as the next")
	one, err := timetable.NewCalendar(time.UTC, timetable.RegionNewZealand, nil, nil, timetable.Until("2014-01-01"))
	require.NoError(t, err, "a calendar of one day")
	require.Equal(t, 24*time.Hour, one.End().Sub(one.Begin()))
}

func TestTimesOfDayAreReadExactly(t *testing.T) {
	for text, minutes := range map[string]timetable.Clock{"00:00": 0, "00:59": 59, "09:05": 545, "12:34": 754, "23:59": 1439, "24:00": timetable.Midnight} {
		c, err := timetable.ParseClock(text)
		require.NoError(t, err, text)
		require.Equal(t, minutes, c)
		require.Equal(t, text, c.String())
	}
	for _, text := range []string{"00:0 ", "00:0:", "00: 0", "0/:00", "0::00", "23:60", "25:00", "24:59"} {
		c, err := timetable.ParseClock(text)
		require.ErrorIs(t, err, timetable.ErrClock, text)
		require.Zero(t, c)
	}
	for _, text := range []string{"24:01-08:00", "8:30-09:00", "08:00-24:01", "24:00-08:00", "08:30-9:00"} {
		_, err := timetable.ParseInterval(text)
		require.ErrorIs(t, err, timetable.ErrClock, text)
		_, err = timetable.ParseIntervals([]string{"08:00-09:00", text})
		require.ErrorIs(t, err, timetable.ErrClock, text)
	}
	_, err := timetable.ParseInterval("08:30")
	require.ErrorContains(t, err, "write it as 08:30-17:00")
	good := timetable.Interval{From: 60, To: 120}
	for _, bad := range []timetable.Interval{{From: -1, To: 60}, {From: timetable.Midnight, To: 60}, {From: 60, To: -1}, {From: 60, To: timetable.Midnight + 1}} {
		_, err := timetable.NewHours(england(t, nil, nil), map[time.Weekday][]timetable.Interval{time.Monday: {good, bad}}, nil)
		require.ErrorIs(t, err, timetable.ErrClock, "%v", bad)
	}
	_, err = timetable.NewHours(england(t, nil, nil), map[time.Weekday][]timetable.Interval{-1: {good}}, nil)
	require.ErrorIs(t, err, timetable.ErrDay)
}

// TestHowFarOneLooks: 400 days on, to the day, and not past the calendar's end.
func TestHowFarOneLooks(t *testing.T) {
	start := at(t, "2026-03-06 10:00")
	only := func(c *timetable.Calendar, days int) *timetable.Hours {
		h, err := timetable.NewHours(c, map[time.Weekday][]timetable.Interval{time.Monday: nil},
			map[string][]timetable.Interval{start.AddDate(0, 0, days).Format(time.DateOnly): intervals(t, "08:00-09:00")})
		require.NoError(t, err)
		return h
	}
	c := england(t, nil, nil)
	for days, found := range map[int]bool{1: true, 2: true, 3: true, 4: true, 399: true, 400: true, 401: false} {
		h := only(c, days)
		next, ok := h.Next(start)
		require.Equal(t, found, ok, days)
		opens := at(t, start.AddDate(0, 0, days).Format(time.DateOnly)+" 08:00")
		if found {
			require.Equal(t, opens, next, days)
		}
		require.Zero(t, h.Elapsed(start, opens), days)
		require.Equal(t, time.Minute, h.Elapsed(start, opens.Add(time.Minute)), days)
		require.Equal(t, time.Hour, h.Elapsed(start, opens.AddDate(0, 0, 1)), days)
	}
	for days, found := range map[int]bool{9: true, 10: true, 11: false} {
		ends, err := timetable.NewCalendar(c.Zone(), timetable.RegionEnglandWales, nil, nil, timetable.Until("2026-03-16"))
		require.NoError(t, err)
		_, ok := only(ends, days).Next(start)
		require.Equal(t, found, ok, "%d days, the calendar ends in ten", days)
	}
	first := only(c, 0)
	require.True(t, first.Open(at(t, "2026-03-06 08:00")))
	require.False(t, first.Open(at(t, "2026-03-06 09:00")))
	early, err := timetable.NewHours(c, map[time.Weekday][]timetable.Interval{time.Saturday: intervals(t, "08:00-09:00")}, map[string][]timetable.Interval{"2000-01-01": intervals(t, "08:00-09:00")})
	require.NoError(t, err)
	require.True(t, early.Open(at(t, "2000-01-01 08:00")), "the first day that is known")
	require.False(t, early.Open(at(t, "1999-12-25 08:00")), "a Saturday that is not")
}

// TestADayThatAZoneLeftOut: Samoa went from Thursday 29 to Saturday 31 December 2011 (IANA time zone database). A night that
// began on Thursday ends with the wall time that was left out, moved forward by the day.
func TestADayThatAZoneLeftOut(t *testing.T) {
	apia := zone(t, "Pacific/Apia")
	c, err := timetable.NewCalendar(apia, timetable.RegionNone, nil, nil)
	require.NoError(t, err)
	h, err := timetable.NewHours(c, map[time.Weekday][]timetable.Interval{time.Thursday: intervals(t, "22:00-06:00")}, nil)
	require.NoError(t, err)
	for text, open := range map[string]bool{"2011-12-29 21:59": false, "2011-12-29 22:00": true, "2011-12-31 05:59": true, "2011-12-31 06:00": false} {
		when, err := time.ParseInLocation("2006-01-02 15:04", text, apia)
		require.NoError(t, err)
		require.Equal(t, open, h.Open(when), text)
	}
	eve := time.Date(2011, 12, 29, 12, 0, 0, 0, apia)
	require.Equal(t, 8*time.Hour, h.Elapsed(eve, eve.AddDate(0, 0, 5)))
	require.Equal(t, "2011-12-31 12:00", c.AddDays(eve, 1).Format("2006-01-02 15:04"))
}

// TestAWallTimeOfADay: also one that does not exist on it, and 24:00.
func TestAWallTimeOfADay(t *testing.T) {
	c := england(t, nil, nil)
	noon := at(t, "2026-03-29 12:00").Add(time.Nanosecond)
	for clock, want := range map[timetable.Clock]string{
		0:                       "2026-03-29 00:00:00 +0000",
		61:                      "2026-03-29 02:01:00 +0100",
		8*60 + 30:               "2026-03-29 08:30:00 +0100",
		timetable.Midnight - 1:  "2026-03-29 23:59:00 +0100",
		timetable.Midnight:      "2026-03-30 00:00:00 +0100",
		timetable.Midnight + 90: "2026-03-30 01:30:00 +0100",
	} {
		require.Equal(t, want, c.At(noon, clock).Format("2006-01-02 15:04:05 -0700"), clock)
		require.Zero(t, c.At(noon, clock).Nanosecond())
	}
	require.Equal(t, at(t, "2026-06-06 09:00"), c.At(at(t, "2026-06-06 00:30").UTC(), 9*60), "the day is the calendar's")
	require.Equal(t, at(t, "2026-06-06 09:00"), c.At(at(t, "2026-06-06 23:59:59"), 9*60))
}

// TestWhatAClockChangeSwallowsNeverOpens: 01:30 to 02:30 and 01:30 to 02:00 in the night of 29 March leave nothing.
func TestWhatAClockChangeSwallowsNeverOpens(t *testing.T) {
	for _, text := range []string{"01:30-02:30", "01:30-02:00"} {
		h, err := timetable.NewHours(england(t, nil, nil), map[time.Weekday][]timetable.Interval{time.Sunday: intervals(t, text)}, nil)
		require.NoError(t, err)
		next, ok := h.Next(at(t, "2026-03-28 12:00"))
		require.True(t, ok)
		require.Equal(t, "2026-04-05 01:30", next.Format("2006-01-02 15:04"), "the Sunday after, %s", text)
	}
}

// TestHowLongOneLooksForAClosing: under 400 days.
func TestHowLongOneLooksForAClosing(t *testing.T) {
	c, err := timetable.NewCalendar(time.UTC, timetable.RegionNone, nil, nil)
	require.NoError(t, err)
	h, err := timetable.NewHours(c, nil, map[string][]timetable.Interval{"2028-01-01": nil})
	require.NoError(t, err)
	shut := time.Date(2028, 1, 1, 0, 0, 0, 0, time.UTC)
	for seconds, found := range map[int]bool{0: false, 1: true, -1: false} {
		end, ok := h.Closes(shut.AddDate(0, 0, -400).Add(time.Duration(seconds) * time.Second))
		require.Equal(t, found, ok, seconds)
		if ok {
			require.Equal(t, shut, end)
		}
	}
	var always *timetable.Hours
	require.Zero(t, always.Elapsed(shut, shut.Add(-time.Hour)))
}
