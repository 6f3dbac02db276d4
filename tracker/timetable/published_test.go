package timetable_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/rickar/cal/v2"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/testdata/published"
	"github.com/pottrail/pottrail/tracker/timetable"
)

// places are where regions lie, as far as the published tables name them.
var places = map[string]string{timetable.RegionEnglandWales: "Europe/London", timetable.RegionUSFederal: "America/New_York", timetable.RegionSouthAfrica: "Africa/Johannesburg"}

// calendarOf makes the calendar of a region in its own zone.
func calendarOf(t testing.TB, region string, closed ...string) *timetable.Calendar {
	t.Helper()
	c, err := timetable.NewCalendar(zone(t, places[region]), region, closed, nil)
	require.NoError(t, err)
	return c
}

// electionDay is the one proclaimed day that the published tables for South Africa leave out: 29 May 2024.
const electionDay = "2024-05-29"

func TestPublishedHolidays(t *testing.T) {
	for _, r := range published.Table(t, "holidays.tsv") {
		year := r.Whole("year")
		var want []string
		for _, day := range r.Words("off") {
			want = append(want, fmt.Sprintf("%d-%s", year, day))
		}
		got := daysOff(calendarOf(t, r.Text("region")), year)
		if r.Text("region") == timetable.RegionSouthAfrica && year == 2024 {
			require.Contains(t, got, electionDay, "from memory, high")
			got = strings.Fields(strings.Replace(strings.Join(got, " "), electionDay, "", 1))
		}
		require.Equal(t, want, got, "%s", r)
	}
}

func TestPublishedSingleDays(t *testing.T) {
	for _, r := range published.Table(t, "holidays-single.tsv") {
		c := calendarOf(t, r.Text("region"))
		require.Contains(t, []string{"off", "worked"}, r.Text("is"))
		require.Equal(t, r.Text("is") == "worked", c.Working(r.Day("day", c.Zone())), "%s: %s", r, r.Text("why"))
	}
}

func TestPublishedWorkingDays(t *testing.T) {
	for _, r := range published.Table(t, "working-days.tsv") {
		c := calendarOf(t, r.Text("region"))
		got := c.AddWorkingDays(r.Day("start", c.Zone()), r.Whole("add"))
		require.Equal(t, r.Day("day", c.Zone()), got, "%s", r)
		require.Equal(t, r.Day("start", c.Zone()), c.AddWorkingDays(got, -r.Whole("add")), "%s, and back", r)
	}
	for _, r := range published.Table(t, "working-days-of-year.tsv") {
		c := calendarOf(t, r.Text("region"))
		year, worked := r.Whole("year"), 0
		for day := time.Date(year, 1, 1, 12, 0, 0, 0, c.Zone()); day.Year() == year; day = day.AddDate(0, 0, 1) {
			if c.Working(day) || r.Text("region") == timetable.RegionSouthAfrica && day.Format(time.DateOnly) == electionDay {
				worked++
			}
		}
		require.Equal(t, r.Whole("days"), worked, "%s", r)
	}
}

// TestPublishedEaster: Good Friday and Easter Monday lie about Easter Sunday. Years before and after the calendar's are said
// not to be known.
func TestPublishedEaster(t *testing.T) {
	c := calendarOf(t, timetable.RegionEnglandWales)
	known := 0
	for _, r := range published.Table(t, "easter.tsv") {
		easter := r.Day("easter", c.Zone())
		if !c.Known(easter) {
			require.NotEmpty(t, c.Doubt(easter), "%s", r)
			require.False(t, c.Working(easter.AddDate(0, 0, 2)), "%s: not known is not open", r)
			continue
		}
		known++
		for days, works := range map[int]bool{-3: true, -2: false, 1: false, 2: true} {
			require.Equal(t, works, c.Working(easter.AddDate(0, 0, days)), "%s and %d days", r, days)
		}
	}
	require.Greater(t, known, 15)
}

func TestPublishedWeekDates(t *testing.T) {
	for _, name := range []string{"Europe/London", "Pacific/Auckland", "America/New_York"} {
		c, err := timetable.NewCalendar(zone(t, name), timetable.RegionNone, nil, nil)
		require.NoError(t, err)
		for _, r := range published.Table(t, "week-dates.tsv") {
			day := r.Day("day", c.Zone())
			require.Equal(t, r.Text("week"), c.WeekDate(day), "%s, %s", r, name)
			require.Equal(t, r.Text("week"), c.Week(day.UTC()).String()+r.Text("week")[8:], "%s: days are those of the calendar's zone", r)
			monday := c.WeekStart(c.Week(day))
			require.Equal(t, time.Monday, monday.Weekday(), "%s", r)
			require.Equal(t, "00:00:00", monday.Format(time.TimeOnly), "%s", r)
			require.Equal(t, r.Text("week")[:8], c.Week(monday).String(), "%s", r)
			require.NotEqual(t, c.Week(day), c.Week(monday.Add(-time.Nanosecond)), "%s", r)
		}
	}
}

func TestPublishedYearsOf53Weeks(t *testing.T) {
	long := map[int]bool{}
	for _, r := range published.Table(t, "weeks-53.tsv") {
		long[r.Whole("year")] = true
	}
	c := calendarOf(t, timetable.RegionEnglandWales)
	weeks := 0
	for year := 2000; year < 2400; year++ {
		last := c.Week(time.Date(year, 12, 28, 12, 0, 0, 0, c.Zone())) // always in the last week
		require.Equal(t, year, last.Year)
		if last.Number == 53 {
			weeks++
		}
		if year < 2100 {
			require.Equal(t, long[year], last.Number == 53, year)
		}
		require.Equal(t, c.WeekStart(timetable.Week{Year: year, Number: last.Number + 1}), c.WeekStart(timetable.Week{Year: year + 1, Number: 1}), "weeks follow each other over the year's end")
	}
	require.Equal(t, 71, weeks, "in every 400 years: practice reference, section 10.6")
}

func TestPublishedClockChanges(t *testing.T) {
	for _, r := range published.Table(t, "clock-changes.tsv") {
		c, err := timetable.NewCalendar(zone(t, r.Text("zone")), timetable.RegionNone, nil, nil)
		require.NoError(t, err)
		noon := r.Day("day", c.Zone())
		start := time.Date(noon.Year(), noon.Month(), noon.Day(), 0, 0, 0, 0, c.Zone())
		require.Equal(t, r.Number("hours"), c.AddDays(start, 1).Sub(start).Hours(), "%s", r)
		before, after := c.AddDays(start, -7), c.AddDays(start, 7)
		require.InDelta(t, 14*24+r.Number("hours")-24, after.Sub(before).Hours(), 0, "%s: no other change about it", r)
	}
}

// TestPublishedEasterByTheLibrary: testdata/published/easter.tsv, also for years that no calendar knows: the computus of the
// library that all holidays about Easter rest on, with its two exceptions (1954, 1981, 2049, 2076) and extremes.
func TestPublishedEasterByTheLibrary(t *testing.T) {
	for _, r := range published.Table(t, "easter.tsv") {
		easter := r.Day("easter", time.UTC)
		got := cal.CalcEasterOffset(&cal.Holiday{}, easter.Year())
		require.Equal(t, easter.Format(time.DateOnly), got.Format(time.DateOnly), "%s", r)
	}
	south, usa := calendarOf(t, timetable.RegionSouthAfrica), calendarOf(t, timetable.RegionUSFederal)
	for _, r := range published.Table(t, "easter.tsv") {
		if easter := r.Day("easter", south.Zone()); south.Known(easter) {
			require.False(t, south.Working(easter.AddDate(0, 0, -2)) || south.Working(easter.AddDate(0, 0, 1)), "%s: South Africa keeps both", r)
		}
		if easter := r.Day("easter", usa.Zone()); usa.Known(easter) {
			require.True(t, usa.Working(easter.AddDate(0, 0, -2)) && usa.Working(easter.AddDate(0, 0, 1)), "%s: the United States keep neither", r)
		}
	}
}

// TestPublishedCalendarDays: testdata/published/calendar-days.tsv, the 28-day standard, once over a clock change.
func TestPublishedCalendarDays(t *testing.T) {
	c := calendarOf(t, timetable.RegionEnglandWales)
	for _, r := range published.Table(t, "calendar-days.tsv") {
		require.Equal(t, r.Day("end", c.Zone()), c.AddDays(r.Day("start", c.Zone()), r.Whole("days")), "%s", r)
	}
}

// TestPublishedClockChangesAreAll: testdata/published/clock-changes.tsv, practice reference 10.7: of the years that the table
// speaks of, every other day has 24 hours, and in South Africa every day.
func TestPublishedClockChangesAreAll(t *testing.T) {
	changes := map[string]float64{}
	for _, r := range published.Table(t, "clock-changes.tsv") {
		changes[r.Text("zone")+r.Text("day")] = r.Number("hours")
	}
	for _, name := range places {
		c, err := timetable.NewCalendar(zone(t, name), timetable.RegionNone, nil, nil)
		require.NoError(t, err)
		for day := time.Date(2024, 1, 1, 0, 0, 0, 0, c.Zone()); day.Year() <= 2027; day = c.AddDays(day, 1) {
			want, changed := changes[name+day.Format(time.DateOnly)]
			if !changed {
				want = 24
			}
			require.Equal(t, want, c.AddDays(day, 1).Sub(day).Hours(), "%s, %s", name, day.Format(time.DateOnly))
		}
	}
}
