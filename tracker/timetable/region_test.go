package timetable_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker/timetable"
)

// TestHolidaysOfOtherRegions: lists as their governments have them, all from memory, those of the British Isles high, the
// others medium; only Mondays to Fridays count.
func TestHolidaysOfOtherRegions(t *testing.T) {
	for _, row := range []struct {
		region string
		year   int
		off    string
	}{
		{timetable.RegionScotland, 2022, "01-03 01-04 04-15 05-02 06-02 06-03 08-01 09-19 11-30 12-26 12-27"},
		{timetable.RegionScotland, 2023, "01-02 01-03 04-07 05-01 05-08 05-29 08-07 11-30 12-25 12-26"},
		{timetable.RegionScotland, 2024, "01-01 01-02 03-29 05-06 05-27 08-05 12-02 12-25 12-26"}, // St Andrew's Day a Saturday
		{timetable.RegionScotland, 2025, "01-01 01-02 04-18 05-05 05-26 08-04 12-01 12-25 12-26"},
		{timetable.RegionScotland, 2026, "01-01 01-02 04-03 05-04 05-25 06-15 08-03 11-30 12-25 12-28"},
		{timetable.RegionNorthernIreland, 2024, "01-01 03-18 03-29 04-01 05-06 05-27 07-12 08-26 12-25 12-26"}, // St Patrick's Day a Sunday
		{timetable.RegionNorthernIreland, 2025, "01-01 03-17 04-18 04-21 05-05 05-26 07-14 08-25 12-25 12-26"}, // 12 July a Saturday
		{timetable.RegionNorthernIreland, 2026, "01-01 03-17 04-03 04-06 05-04 05-25 07-13 08-31 12-25 12-28"},
		{timetable.RegionIreland, 2022, "01-03 03-17 03-18 04-18 05-02 06-06 08-01 10-31 12-26 12-27"},
		{timetable.RegionIreland, 2025, "01-01 02-03 03-17 04-21 05-05 06-02 08-04 10-27 12-25 12-26"},
		{timetable.RegionCanadaFederal, 2025, "01-01 04-18 05-19 07-01 09-01 09-30 10-13 11-11 12-25 12-26"},
		{timetable.RegionNewSouthWales, 2025, "01-01 01-27 04-18 04-21 04-25 06-09 10-06 12-25 12-26"},
		{timetable.RegionNewZealand, 2025, "01-01 01-02 02-06 04-18 04-21 04-25 06-02 06-20 10-27 12-25 12-26"},
		{timetable.RegionNewZealand, 2026, "01-01 01-02 02-06 04-03 04-06 04-27 06-01 07-10 10-26 12-25 12-28"},
		{timetable.RegionGermany, 2025, "01-01 04-18 04-21 05-01 05-29 06-09 10-03 12-25 12-26"},
		{timetable.RegionFrance, 2025, "01-01 04-21 05-01 05-08 05-29 06-09 07-14 08-15 11-11 12-25"},
		{timetable.RegionNetherlands, 2025, "01-01 04-21 05-05 05-29 06-09 12-25 12-26"}, // King's Day a Sunday, kept on Saturday
		{timetable.RegionNetherlands, 2026, "01-01 04-06 04-27 05-14 05-25 12-25"},
		{timetable.RegionSweden, 2025, "01-01 01-06 04-18 04-21 05-01 05-29 06-06 06-20 12-24 12-25 12-26 12-31"},
	} {
		c, err := timetable.NewCalendar(zone(t, "Europe/London"), row.region, nil, nil)
		require.NoError(t, err)
		var want []string
		for day := range strings.FieldsSeq(row.off) {
			want = append(want, fmt.Sprintf("%d-%s", row.year, day))
		}
		require.Equal(t, want, daysOff(c, row.year), row.region)
	}
}

func TestEveryRegionSaysForWhichYearsItStands(t *testing.T) {
	require.True(t, slices.IsSorted(timetable.Regions()))
	for _, key := range timetable.Regions() {
		r, err := timetable.RegionOf(key)
		require.NoError(t, err)
		require.Equal(t, key, r.Key)
		require.NotEmpty(t, r.Name, key)
		require.NotEmpty(t, r.Source, key)
		require.LessOrEqual(t, timetable.FirstYear, r.First, key)
		require.Less(t, r.First, r.Last, key)
		require.LessOrEqual(t, r.Last, timetable.LastYear, key)

		c, err := timetable.NewCalendar(time.UTC, key, nil, nil)
		require.NoError(t, err)
		require.Equal(t, time.Date(r.First, 1, 1, 0, 0, 0, 0, time.UTC), c.Begin(), key)
		require.Equal(t, time.Date(r.Last+1, 1, 1, 0, 0, 0, 0, time.UTC), c.End(), key)
		require.False(t, c.Known(c.Begin().Add(-time.Nanosecond)), key)
		require.True(t, c.Known(c.Begin()), key)
		require.True(t, c.Known(c.End().Add(-time.Nanosecond)), key)
		require.False(t, c.Known(c.End()), key)
		for year := r.First; year <= r.Last; year++ {
			// A slip in a table would give a year without holidays, or one of many.
			if n := len(daysOff(c, year)); key != timetable.RegionNone && (n < 4 || n > 15) {
				t.Errorf("%s has %d days off in %d", key, n, year)
			}
		}
	}
	_, err := timetable.RegionOf("gb-orkney")
	require.ErrorIs(t, err, timetable.ErrRegion)
}

// TestAHolidayOnAWeekendIsShut: a place with hours on Saturdays is not open on a Boxing Day that is one, nor on the day on
// which it is kept.
func TestAHolidayOnAWeekendIsShut(t *testing.T) {
	c := england(t, []string{"2026-03-14"}, []string{"2026-04-03", "2026-03-21"})
	for day, shut := range map[string]bool{
		"2026-12-26": true,  // a Saturday
		"2026-12-28": true,  // kept on Monday
		"2026-12-27": false, // an ordinary Sunday
		"2026-03-07": false, // an ordinary Saturday
		"2026-03-14": true,  // closed by the protocol
		"2026-04-03": false, // Good Friday, worked by the protocol
		"2026-03-21": false, // a Saturday, worked by the protocol
		"1999-12-01": true,  // not known
	} {
		require.Equal(t, shut, c.Shut(at(t, day)), day)
	}
	require.True(t, c.Working(at(t, "2026-03-21")))
	require.True(t, c.Working(at(t, "2026-04-03")))
}

func TestACalendarThatEndsIsSaid(t *testing.T) {
	london := zone(t, "Europe/London")
	c := england(t, nil, nil)
	require.Equal(t, "the calendar has no entry after Thu 31 Dec 2099", c.Horizon())
	require.Equal(t, at(t, "2100-01-01"), c.End())

	short, err := timetable.NewCalendar(london, timetable.RegionEnglandWales, []string{"2028-01-05"}, nil, timetable.Until("2027-12-31"))
	require.NoError(t, err)
	require.Equal(t, at(t, "2028-01-01"), short.End())
	require.Equal(t, "the calendar has no entry after Fri 31 Dec 2027", short.Horizon())
	require.Equal(t, short.Horizon(), short.Doubt(at(t, "2028-01-04 10:00")))
	require.Empty(t, short.Doubt(at(t, "2027-12-31 23:59:59")))
	require.Equal(t, "the calendar has no entry before Sat 1 Jan 2000", short.Doubt(at(t, "1999-12-31 23:59:59")))
	require.True(t, short.Working(at(t, "2027-12-31 10:00")))
	require.False(t, short.Working(at(t, "2028-01-04 10:00")), "not known is not open")
	require.True(t, short.Shut(at(t, "2028-01-04 10:00")))
	got := short.AddWorkingDays(at(t, "2027-12-30 10:00"), 3)
	require.Equal(t, at(t, "2028-01-06 10:00"), got, "it counts on by what it has: New Year kept on Monday, and the closure on Wednesday")
	require.False(t, short.Known(got), "and says that this is not known")

	hours := tarnRoad(t, short)
	_, ok := hours.Next(at(t, "2027-12-31 17:00"))
	require.False(t, ok)
	_, ok = hours.Next(at(t, "2027-12-31 16:59"))
	require.True(t, ok)

	same, err := timetable.NewCalendar(london, timetable.RegionEnglandWales, nil, nil, timetable.Until(""))
	require.NoError(t, err)
	require.Equal(t, c.End(), same.End())
	ends, err := timetable.NewCalendar(london, timetable.RegionNewZealand, nil, nil, timetable.Until("2099-12-31"))
	require.NoError(t, err)
	require.Equal(t, at(t, "2036-01-01"), ends.End(), "a protocol does not lengthen what the region knows")
	for _, day := range []string{"31.12.2027", "2027-02-29", "2100-01-01"} {
		_, err = timetable.NewCalendar(london, timetable.RegionNone, nil, nil, timetable.Until(day))
		require.ErrorIs(t, err, timetable.ErrDay, day)
	}
	_, err = timetable.NewCalendar(london, timetable.RegionNewZealand, nil, nil, timetable.Until("2013-12-31"))
	require.ErrorIs(t, err, timetable.ErrDay)
	require.ErrorContains(t, err, "before region")
}
