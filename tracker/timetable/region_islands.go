package timetable

import (
	"time"

	"github.com/rickar/cal/v2"
	"github.com/rickar/cal/v2/gb"
	"github.com/rickar/cal/v2/ie"
)

// britain is the three lists of bank holidays of the United Kingdom. What the library has already of single years,
// 2020-05-08, 2022-06-02 and 03 and 2023-05-08, is checked by a test.
// Source: gov.uk bank holidays, and royal proclamations in The London Gazette (dates from memory).
func britain() []region {
	throughout := []oneOff{
		{date: "2002-05-27", gone: true}, // spring bank holiday, moved to 4 June
		{date: "2002-06-03"},             // Golden Jubilee
		{date: "2002-06-04"},
		{date: "2011-04-29"},             // royal wedding
		{date: "2012-05-28", gone: true}, // spring bank holiday, moved to 4 June
		{date: "2012-06-04"},
		{date: "2012-06-05"}, // Diamond Jubilee
		{date: "2022-09-19"}, // state funeral
	}
	const list = "gov.uk bank holidays; Banking and Financial Dealings Act 1971; single days by proclamation (from memory)"
	return []region{
		{
			Region:  Region{Key: RegionEnglandWales, Name: "England and Wales", First: FirstYear, Last: LastYear, Source: list},
			rules:   gb.Holidays,
			oneOffs: throughout,
		},
		{
			Region: Region{Key: RegionScotland, Name: "Scotland", First: FirstYear, Last: LastYear,
				Source: list + "; St Andrew's Day Bank Holiday (Scotland) Act 2007", Lacks: "local holidays; and where St Andrew's Day is worked, list it as open"},
			rules: []*cal.Holiday{gb.NewYear, fixed("2 January", time.January, 2, pastTheFirst()), gb.GoodFriday, gb.EarlyMay, gb.VEDay, gb.CoronationDay,
				gb.SpringHoliday, gb.SpringHoliday2022, gb.PlatinumJubilee, gb.SummerHolidayScotland,
				from(2007, fixed("St Andrew's Day", time.November, 30, toMonday())), gb.ChristmasDay, gb.BoxingDay},
			oneOffs: append([]oneOff{{date: "2026-06-15"}}, throughout...), // after the football World Cup's first match (from memory, medium)
		},
		{
			Region: Region{Key: RegionNorthernIreland, Name: "Northern Ireland", First: FirstYear, Last: LastYear, Source: list},
			rules: append([]*cal.Holiday{fixed("St Patrick's Day", time.March, 17, toMonday()),
				fixed("Battle of the Boyne", time.July, 12, toMonday())}, gb.Holidays...),
			oneOffs: throughout,
		},
	}
}

// ireland takes the library's days, and what a weekend takes from those with a fixed date back on the days after.
func ireland() region {
	moved := func(holiday *cal.Holiday, instead []cal.AltDay) *cal.Holiday {
		return holiday.Clone(&cal.Holiday{Observed: instead})
	}
	return region{
		Region: Region{Key: RegionIreland, Name: "Ireland", First: 2010, Last: LastYear,
			Source: "Organisation of Working Time Act 1997, second schedule (from memory); the Monday after a weekend is common practice, not the Act",
			Lacks:  "Good Friday, where it is not worked"},
		rules: []*cal.Holiday{moved(ie.NewYear, toMonday()), ie.SaintBrigidDay, moved(ie.SaintPatrickDay, toMonday()), ie.ExtraPublicHoliday2022,
			ie.EasterMonday, ie.FirstMondayMay, ie.FirstMondayJune, ie.FirstMondayAugust, ie.LastMondayInOctober,
			moved(ie.ChristmasDay, toMonday()), moved(ie.SaintStephenDay, pastTheFirst())},
	}
}
