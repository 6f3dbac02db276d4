package timetable

import (
	"time"

	"github.com/rickar/cal/v2"
	"github.com/rickar/cal/v2/au"
	"github.com/rickar/cal/v2/ca"
	"github.com/rickar/cal/v2/nz"
	"github.com/rickar/cal/v2/us"
	"github.com/rickar/cal/v2/za"
)

// usFederal: Saturday to Friday, Sunday to Monday, so that a New Year's Day may be kept in the year before.
func usFederal() region {
	return region{
		Region: Region{Key: RegionUSFederal, Name: "United States, federal", First: FirstYear, Last: LastYear,
			Source: "5 U.S.C. 6103; OPM federal holidays", Lacks: "closures by executive order (24 December 2024, 9 January 2025), and what the state keeps besides"},
		rules: us.Holidays,
	}
}

// canadaFederal is the general holidays of the Canada Labour Code; provinces differ from it and from each other.
func canadaFederal() region {
	return region{
		Region: Region{Key: RegionCanadaFederal, Name: "Canada, federal", First: 2021, Last: LastYear,
			Source: "Canada Labour Code, general holidays (from memory); the Monday after a weekend is common practice", Lacks: "provincial holidays"},
		rules: []*cal.Holiday{ca.NewYear, ca.GoodFriday, ca.VictoriaDay, ca.CanadaDay, ca.LabourDay, ca.NationalDayForTruthAndReconciliation,
			ca.ThanksgivingDay, ca.RemembranceDay, ca.ChristmasDay, ca.BoxingDay},
	}
}

// southAfrica differs from the library in the Day of Goodwill: when Christmas Day is a Sunday the Act adds nothing after
// Monday 26 December; 27 December was proclaimed each time so far, and a proclamation cannot be foretold.
// Source: practice reference, section 10.3; elections and 15 December 2023 from memory.
func southAfrica() region {
	return region{
		Region: Region{Key: RegionSouthAfrica, Name: "South Africa", First: 2001, Last: LastYear,
			Source: "Public Holidays Act 36 of 1994; single days by proclamation", Lacks: "election days and other days proclaimed after 2024"},
		rules: []*cal.Holiday{za.NewYear, za.HumanRightsDay, za.GoodFriday, za.FamilyDay, za.FreedomDay, za.WorkersDay, za.YouthDay, za.WomensDay,
			za.HeritageDay, za.ReconciliationDay, za.ChristmasDay, za.GoodwillDay.Clone(&cal.Holiday{Observed: sundayToMonday()})},
		oneOffs: []oneOff{
			{date: "2004-04-14"}, // national election
			{date: "2006-03-01"}, // municipal election
			{date: "2008-05-02"}, // Human Rights Day was Good Friday
			{date: "2009-04-22"}, // national election
			{date: "2011-05-18"}, // municipal election
			{date: "2011-12-27"}, // Christmas Day a Sunday
			{date: "2014-05-07"}, // national election
			{date: "2016-08-03"}, // municipal election
			{date: "2016-12-27"}, // Christmas Day a Sunday
			{date: "2019-05-08"}, // national election
			{date: "2021-11-01"}, // municipal election
			{date: "2022-12-27"}, // Christmas Day a Sunday
			{date: "2023-12-15"}, // rugby World Cup
			{date: "2024-05-29"}, // national election
		},
	}
}

// newSouthWales is the library's list, with the Mondays after Anzac Day that were declared for two years.
func newSouthWales() region {
	return region{
		Region: Region{Key: RegionNewSouthWales, Name: "New South Wales", First: 2012, Last: LastYear,
			Source: "Public Holidays Act 2010 (NSW) (from memory)", Lacks: "local public holidays and event days"},
		rules:   au.HolidaysNSW,
		oneOffs: []oneOff{{date: "2026-04-27"}, {date: "2027-04-26"}}, // Anzac Day on a weekend: extra days declared (from memory, medium)
	}
}

// newZealand adds Matariki, whose dates an Act lists, to the library's days. The table ends where the list is sure.
func newZealand() region {
	var oneOffs []oneOff
	for _, date := range []string{"2022-06-24", "2023-07-14", "2024-06-28", "2025-06-20", "2026-07-10", "2027-06-25", "2028-07-14", "2029-07-06",
		"2030-06-21", "2031-07-11", "2032-07-02", "2033-06-24", "2034-07-07", "2035-06-29"} {
		oneOffs = append(oneOffs, oneOff{date: date})
	}
	return region{
		Region: Region{Key: RegionNewZealand, Name: "New Zealand", First: 2014, Last: 2035,
			Source: "Holidays Act 2003; Te Kāhui o Matariki Public Holiday Act 2022, schedule 1, to 2035 (from memory)", Lacks: "the anniversary day of the province"},
		rules: append([]*cal.Holiday{{Name: "Memorial Day", Month: time.September, Day: 26, StartYear: 2022, EndYear: 2022, Func: cal.CalcDayOfMonth}},
			nz.Holidays...),
		oneOffs: oneOffs,
	}
}
