package timetable

import (
	"time"

	"github.com/rickar/cal/v2"
	"github.com/rickar/cal/v2/de"
	"github.com/rickar/cal/v2/fr"
	"github.com/rickar/cal/v2/nl"
	"github.com/rickar/cal/v2/se"
)

// continent is four countries where a holiday on a weekend is not moved.
func continent() []region {
	return []region{
		{
			Region: Region{Key: RegionGermany, Name: "Germany, all states", First: 2018, Last: LastYear,
				Source: "the nine holidays that all sixteen states keep (from memory)", Lacks: "the holidays of the state"},
			rules: de.Holidays,
		},
		{
			Region: Region{Key: RegionFrance, Name: "France", First: FirstYear, Last: LastYear,
				Source: "Code du travail, L3133-1 (from memory)", Lacks: "Good Friday and 26 December in Alsace and Moselle"},
			rules: fr.Holidays,
		},
		{
			// Good Friday, which the library has, is an ordinary day at most work; Liberation Day is kept every fifth year.
			Region: Region{Key: RegionNetherlands, Name: "Netherlands", First: 2014, Last: LastYear,
				Source: "Algemene termijnenwet, article 3; Liberation Day every fifth year is common practice (from memory)", Lacks: "Good Friday and Liberation Day where they are kept"},
			rules: []*cal.Holiday{nl.Nieuwjaar, nl.TweedePaasdag, nl.Koningsdag, everyFifth(nl.BevrijdingsDag),
				nl.Hemelvaart, nl.TweedePinksterDag, nl.EersteKerstdag, nl.TweedeKerstdag},
		},
		{
			// The eves of midsummer, Christmas and the New Year are no holidays by law, and nobody works.
			Region: Region{Key: RegionSweden, Name: "Sweden", First: 2005, Last: LastYear,
				Source: "Lag 1989:253 om allmänna helgdagar; three eves by Semesterlagen, section 3 a (from memory)"},
			rules: se.Holidays,
		},
	}
}

// everyFifth keeps a holiday only in years that five divides.
func everyFifth(holiday *cal.Holiday) *cal.Holiday {
	rare, each := *holiday, holiday.Func
	rare.Func = func(h *cal.Holiday, year int) time.Time {
		if year%5 != 0 {
			return time.Time{}
		}
		return each(h, year)
	}
	return &rare
}
