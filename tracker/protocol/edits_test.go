package protocol_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// block is an edit of tables that the default does not have: they are put in before the contacts, with one thing changed.
func block(tables string) func(name, old, new, at string) edit {
	return func(name, old, new, at string) edit {
		return edit{name, "\n[contacts]", strings.Replace(tables, old, new, 1) + "\n[contacts]", at}
	}
}

// furnished is the default with hours, rounds, runs, benches, needles, people and a calendar of the laboratory: every key that
// a protocol can have is in it.
func furnished(t testing.TB) string {
	t.Helper()
	text := protocol.Default().Text
	added := 0
	for _, e := range edits() {
		switch e.name {
		case "hours", "round", "run over nights", "bench", "calendar", "staff", "needles", "target in a calendar":
			require.Contains(t, text, e.old, e.name)
			text = strings.Replace(text, e.old, e.new, 1)
			added++
		}
	}
	require.Equal(t, 8, added)
	_, err := protocol.Parse([]byte(text))
	require.NoError(t, err)
	return text
}

// timeEdits are about places, hours, rounds, runs, benches, calendars and people.
func timeEdits() []edit {
	hours := block(`
[hours.reception]
calendar = "england-wales"
mon = ["08:30-12:00", "12:30-17:00"]
fri = ["22:00-06:00"]
sat = ["06:00-12:00"]
dates = { 2026-12-24 = ["08:30-12:00"], 2026-12-31 = [] }
source = "our handbook"
`)
	round := block(`
[rounds.afternoon]
from = "hatch"
to = "lab-reception"
days = ["mon", "fri"]
departs = ["10:30", "16:30"]
takes = "35m"
source = "our timetable"
`)
	run := block(`
[runs.weekend]
place = "lab-processor"
days = ["fri"]
cutoff = "16:00"
load = "18:00"
leaves = "18:00"
nights = 3
daily = true
source = "our laboratory"
`)
	bench := block(`
[hours.bench]
mon = ["08:00-16:00"]
source = "our handbook"
[benches.flow]
name = "the flow bench"
place = "lab-reception"
hours = "bench"
studies = ["flow"]
source = "our handbook"
`)
	calendar := block(`
[calendars.laboratory]
region = "none"
closed = ["2026-12-24"]
open = ["2026-12-27"]
until = "2027-12-31"
source = "our handbook"
[calendars.laboratory.imported]
closed = ["2026-12-28"]
source = "the trust's calendar, 3 March 2026"
`)
	staff := edit{"staff", "\n[staff]\n", "\n[staff]\noperator = [\"nurse.osei\", \"nurse-3.b\"]\nporter = []\n", ""}
	return []edit{
		hours("hours", "", "", ""),
		hours("hours of a calendar that is not there", `"england-wales"`, `"england"`, "calendar"),
		hours("hours that are none", `"08:30-12:00", "12`, `"morning", "12`, `"morning"`),
		hours("hours without a nought", `"08:30-12:00", "12`, `"8:30-12:00", "12`, `"8:30-12:00"`),
		hours("hours after midnight", `"12:30-17:00"`, `"12:30-24:30"`, `"12:30-24:30"`),
		hours("hours that begin when they end", `"22:00-06:00"`, `"06:00-06:00"`, `"06:00-06:00"`),
		hours("a whole day", `"22:00-06:00"`, `"00:00-24:00"`, ""),
		hours("hours that overlap", `"12:30-17:00"`, `"11:59-17:00"`, `"11:59-17:00"`),
		hours("hours that touch", `"12:30-17:00"`, `"12:00-17:00"`, ""),
		hours("hours out of order", `"08:30-12:00", "12:30-17:00"`, `"12:30-17:00", "08:30-12:00"`, `"08:30-12:00"]`),
		hours("hours over midnight into the next day's", `"06:00-12:00"`, `"05:59-12:00"`, `"05:59-12:00"`),
		hours("hours from Sunday night into Monday's", `sat = ["06:00-12:00"]`, `sun = ["22:00-09:00"]`, `"08:30-12:00", "12`),
		hours("hours that are never open", "mon = [\"08:30-12:00\", \"12:30-17:00\"]\nfri = [\"22:00-06:00\"]\nsat = [\"06:00-12:00\"]\n", "", "reception]"),
		hours("other hours on a day that is none", "2026-12-31", "2026-12-32", "2026-12-32"),
		hours("other hours on a day far off", "2026-12-31", "1926-12-31", "1926-12-31"),
		hours("other hours that overlap", `2026-12-31 = []`, `2026-12-31 = ["08:00-12:00", "11:00-13:00"]`, `"11:00-13:00"`),
		hours("hours that are none, and what they would overlap", "mon = [\"08:30-12:00\", \"12:30-17:00\"]\nfri = [\"22:00-06:00\"]", "mon = [\"morning\"]\nfri = [\"22:00-06:30\"]", `"morning"`),
		hours("other hours on the first and last days that calendars know", "2026-12-24 = [\"08:30-12:00\"], 2026-12-31", "2000-01-01 = [\"08:30-12:00\"], 2099-12-31", ""),
		hours("other hours a day before calendars begin", "2026-12-31", "1999-12-31", "1999-12-31"),
		hours("other hours a day after calendars end", "2026-12-31", "2100-01-01", "2100-01-01"),
		hours("other hours that are none, on a day far off", `2026-12-31 = []`, `1926-12-31 = ["morning"]`, "1926-12-31"),
		hours("hours without a source", "source = \"our handbook\"\n", "", "reception]"),
		hours("hours on a day that is not there", "fri =", "friday =", "friday"),
		{"place with hours that are not there", `van = { name = "the van", role = "vehicle"`, `van = { name = "the van", role = "vehicle", hours = "reception"`, "hours"},

		round("round", "", "", ""),
		round("round from a place that is not there", `"hatch"`, `"hutch"`, "from"),
		round("round to a place that is not there", `"lab-reception"`, `"lab"`, "to"),
		round("round to itself", `"lab-reception"`, `"hatch"`, "to"),
		round("round on no day", `["mon", "fri"]`, `[]`, "days"),
		round("round on a day that is not there", `"fri"`, `"friday"`, `"friday"`),
		round("round at no time", `["10:30", "16:30"]`, `[]`, "departs"),
		round("round at a time that is not there", `"16:30"`, `"24:30"`, `"24:30"`),
		round("round at a time twice", `"16:30"`, `"10:30"`, `"10:30"]`),
		round("round that takes days", `"35m"`, `"1d"`, "takes"),
		round("round that takes no time", "takes = \"35m\"\n", "", "afternoon]"),
		round("round without times", "departs = [\"10:30\", \"16:30\"]\n", "", "afternoon]"),
		round("round without days", "days = [\"mon\", \"fri\"]\n", "", "afternoon]"),
		round("round without places", "from = \"hatch\"\nto = \"lab-reception\"\n", "", "afternoon]"),
		round("round without a source", "source = \"our timetable\"\n", "", "afternoon]"),
		round("round in a calendar that is not there", "takes =", "calendar = \"wales\"\ntakes =", "calendar"),
		round("round on holidays too, and in a calendar", "takes =", "daily = true\ncalendar = \"england-wales\"\ntakes =", "calendar"),

		run("run over nights", "", "", ""),
		run("run over so many nights", "nights = 3", "nights = 33", "nights"),
		run("run over nights before", "nights = 3", "nights = -1", "nights"),
		run("run on no day", `["fri"]`, `[]`, "days"),
		run("run in a calendar that is not there", "daily = true", `calendar = "wales"`, "calendar"),
		run("run on holidays too, and in a calendar", "daily = true", "daily = true\ncalendar = \"england-wales\"", "calendar"),

		run("run over seven nights", "nights = 3", "nights = 7", ""),
		run("run over eight nights", "nights = 3", "nights = 8", "nights"),
		run("run that is loaded at no time", `load = "18:00"`, `load = "08:0"`, "load"),
		run("run that leaves at no time, with a cut-off after its load", "load = \"18:00\"\nleaves = \"18:00\"", "load = \"15:00\"\nleaves = \"6\"", "leaves"),

		bench("bench", "", "", ""),
		bench("bench without studies", "studies = [\"flow\"]\n", "", "flow]"),
		bench("bench at a place that is not there", `"lab-reception"`, `"lab"`, "place"),
		bench("bench in a room", `"lab-reception"`, `"room-1"`, "place"),
		bench("bench with hours that are not there", `hours = "bench"`, `hours = "benches"`, "hours"),
		bench("bench for a study that is not there", `["flow"]`, `["flow", "rheology"]`, `"rheology"`),
		bench("bench for nothing", `["flow"]`, `[]`, "studies"),

		calendar("calendar", "", "", ""),
		calendar("calendar until a day that is none", `"2027-12-31"`, `"2027"`, "until"),
		calendar("imported closure that is no day", `"2026-12-28"`, `"28 December"`, `"28 December"`),
		calendar("imported closure that is open too", `"2026-12-28"`, `"2026-12-27"`, `"2026-12-27"]`+"\nuntil"),
		calendar("imported closures without a source", "source = \"the trust's calendar, 3 March 2026\"\n", "", "imported]"),
		calendar("imported closures without any", "closed = [\"2026-12-28\"]\n", "", "imported]"),

		staff,
		{"a role of people that is not there", "\n[staff]\n", "\n[staff]\nsurgeon = [\"dr.varga\"]\n", "surgeon"},
		{"a staff key with a space", "\n[staff]\n", "\n[staff]\noperator = [\"Nurse Osei\"]\n", `"Nurse Osei"`},
		{"a staff key that ends in a dot", "\n[staff]\n", "\n[staff]\noperator = [\"nurse.\"]\n", `"nurse."`},
		{"a staff key of nothing", "\n[staff]\n", "\n[staff]\noperator = [\"\"]\n", `""`},
		{"the longest staff key", "\n[staff]\n", "\n[staff]\noperator = [\"A-Z.09" + strings.Repeat("z", 73) + "9\"]\n", ""},
		{"a staff key that is too long", "\n[staff]\n", "\n[staff]\noperator = [\"" + strings.Repeat("z", 81) + "\"]\n", `"zz`},
		{"a staff key twice", "\n[staff]\n", "\n[staff]\noperator = [\"nurse.osei\", \"nurse.osei\"]\n", `"nurse.osei"]`},
	}
}

// tissueEdits are about media, organs, needles, looks and fixative.
func tissueEdits() []edit {
	needles := func(name, old, new, at string) edit {
		const two = "\n[organs.node.needles.thin]\nfrom_gauge = 18\nto_gauge = 20\npieces = { any = 5 }\nsource = \"our meeting\"\n" +
			"[organs.node.needles.thick]\nfrom_gauge = 14\nto_gauge = 16.5\npieces = { any = 3, mass = 2 }\nsource = \"our meeting\"\n\n[organs.thyroid]\n"
		return edit{name, "\n[organs.thyroid]\n", strings.Replace(two, old, new, 1), at}
	}
	return []edit{
		{"formaldehyde over what dissolves", "formaldehyde = 3.7", "formaldehyde = 41", "formaldehyde"},
		{"formaldehyde under nought", "formaldehyde = 3.7", "formaldehyde = -1", "formaldehyde"},
		{"formaldehyde that is no number", "formaldehyde = 3.7", "formaldehyde = nan", "formaldehyde"},
		{"formaldehyde that does not fix", "name = \"saline\"\nfixing = false", "name = \"saline\"\nfixing = false\nvapour = true\nformaldehyde = 4", "formaldehyde"},
		{"formaldehyde and not a word about its vapour", "vapour = true\nserves = []", "serves = []", "bouin]"},
		{"formaldehyde whose vapour harms nothing", "vapour = true\nserves = []", "vapour = false\nserves = []", ""},
		{"dried, and gives off vapour", "dried = true", "vapour = true\ndried = true", "dried"},
		{"dried, and in a fixing medium", "fixing = false\ndried = true", "fixing = true\ndried = true", "dried"},
		{"a caution of two words", "caution = \"flammable\"\ncarrier = \"slide\"", "caution = \"very toxic\"\ncarrier = \"slide\"", "caution"},
		{"a caution too long for a label", "caution = \"flammable\"\ncarrier = \"slide\"", "caution = \"abcdefghijklm\"\ncarrier = \"slide\"", "caution"},
		{"a caution as long as a label holds", "caution = \"flammable\"\ncarrier = \"slide\"", "caution = \"abcdefghijkl\"\ncarrier = \"slide\"", ""},
		{"a caution of nothing", "caution = \"flammable\"\ncarrier = \"slide\"", "caution = \"\"\ncarrier = \"slide\"", "caution"},
		{"pieces that lie in no carrier", "caution = \"flammable\"\ncarrier = \"slide\"", "caution = \"flammable\"\ncarrier = \"basket\"", "carrier"},
		{"a ratio under one", "ratio = 10.0", "ratio = 0.1", "ratio"},
		{"a ratio without end", "ratio = 10.0", "ratio = inf", "ratio"},
		{"fixative without a source", "source = \"JSP practical guidelines 1.10", "# source = \"JSP practical guidelines 1.10", "fixative]"},

		{"formaldehyde at what dissolves", "formaldehyde = 3.7", "formaldehyde = 40", ""},
		{"formaldehyde, and not a word about fixing", "fixing = true\nformaldehyde = 3.7", "formaldehyde = 3.7", "formalin]"},
		{"a ratio of one", "ratio = 10.0", "ratio = 1", ""},
		{"a ratio of a thousand", "ratio = 10.0", "ratio = 1000", ""},
		{"a ratio over a thousand", "ratio = 10.0", "ratio = 1000.5", "ratio"},
		{"a count of nothing", "[organs.other]\n", "[organs.other]\ncounts = \"cores\"\n", "counts"},
		{"pieces that are not counted", "counts = \"passes\"\n", "", "thyroid]"},
		{"as many pieces as a pot holds", "calcification = 6", "calcification = 99", ""},
		{"one piece more than a pot holds", "calcification = 6", "calcification = 100", "calcification = 100"},

		needles("needles", "", "", ""),
		needles("needles without a number", "pieces = { any = 5 }\n", "", "thin]"),
		needles("needles from the widest to the thinnest", "from_gauge = 18\nto_gauge = 20", "from_gauge = 17\nto_gauge = 34", ""),
		needles("needles as thin as a hair", "to_gauge = 20", "to_gauge = 35", "to_gauge = 35"),
		needles("needles upside down that would share a gauge", "from_gauge = 14\nto_gauge = 16.5", "from_gauge = 21\nto_gauge = 19", "from_gauge = 21"),
		needles("needles as wide as needles are", "from_gauge = 14", "from_gauge = 4", ""),
		needles("needles upside down", "from_gauge = 18\nto_gauge = 20", "from_gauge = 20\nto_gauge = 18", "from_gauge = 20"),
		needles("needles of one gauge", "from_gauge = 18\nto_gauge = 20", "from_gauge = 18\nto_gauge = 18", ""),
		needles("needles that share a gauge", "to_gauge = 16.5", "to_gauge = 18", "from_gauge = 18"),
		needles("needles without an end", "to_gauge = 16.5\n", "", "thick]"),
		needles("needles as wide as a pipe", "from_gauge = 14", "from_gauge = 1", "from_gauge = 1"),
		needles("needles of no number", "from_gauge = 14", "from_gauge = nan", "from_gauge = nan"),
		needles("needles for a target that is not there", "mass = 2", "lump = 2", "lump"),
		needles("needles for no piece", "mass = 2", "mass = 0", "mass = 0"),
		needles("needles that ask for nothing", "{ any = 5 }", "{}", "pieces"),
		needles("needles without a source", "source = \"our meeting\"\n", "", "thin]"),
		{"needles, and no number for others", "pieces = { any = 2 }\ncounts = \"passes\"\n", "needles = { thin = { from_gauge = 22, to_gauge = 27, pieces = { any = 3 }, source = \"ours\" } }\n", "needles"},
		{"the longest advice", `advice = "Aim for the thickest cortex, not the hilum."`, `advice = "` + strings.Repeat("z", 240) + `"`, ""},
		{"advice that is too long", `advice = "Aim for the thickest cortex, not the hilum."`, `advice = "` + strings.Repeat("z", 241) + `"`, "advice"},
		{"the longest hint", `hint = "Blood`, `hint = "` + strings.Repeat("z", 83) + `Blood`, ""},
		{"a hint that is too long", `hint = "Blood`, `hint = "` + strings.Repeat("z", 84) + `Blood`, "hint"},
		{"advice of two lines", `advice = "Aim for the thickest cortex`, `advice = "Aim\nfor the thickest cortex`, "advice"},

		{"poor in an organ that is not there", `poor_in = ["breast"`, `poor_in = ["brest"`, `"brest"`},
		{"poor everywhere, and in an organ", `grey-brown = { name = "grey-brown", poor = true`, `grey-brown = { name = "grey-brown", poor = true, poor_in = ["breast"]`, "poor_in"},
		{"good for a study that is not there", `good_for = ["culture", "tb"], hint = "Pus speaks`, `good_for = ["culture", "tbc"], hint = "Pus speaks`, `"tbc"`},
		{"good for a study, and poor nowhere", `mixed = { name = "mixed", poor = false`, `mixed = { name = "mixed", poor = false, good_for = ["tb"]`, "good_for"},
		{"poor without a source", `blood-only = { name = "blood only", poor = true, hint = "Blood alone has no tissue to look at.", source = `, `blood-only = { name = "blood only", poor = true, hint = `, "blood-only"},
		{"a hint that is empty", `hint = "Blood alone has no tissue to look at."`, `hint = ""`, "hint"},
	}
}

// answerEdits are about targets, sets, concordance and meetings.
func answerEdits() []edit {
	const european = "share = 0.9\nsource = \"European"
	target := func(name, more, at string) edit { return edit{name, european, more + european, at} }
	return []edit{
		target("target in a calendar that is not there", "calendar = \"us\"\n", "calendar"),
		target("target in a calendar", "calendar = \"england-wales\"\nadds = { stains = \"3wd\" }\nexcludes = [\"cytology\"]\n", ""),
		target("target that adds for a study that is not there", "adds = { stain = \"3wd\" }\n", "stain ="),
		target("target that excludes a study that is not there", "excludes = [\"stain\"]\n", `"stain"`),
		target("target that excludes a study twice", "excludes = [\"flow\", \"flow\"]\n", `"flow"]`),
		target("target that adds for what it excludes", "adds = { stains = \"3wd\" }\nexcludes = [\"stains\"]\n", "stains ="),
		target("target that adds for a study with its own", "adds = { tb = \"3wd\" }\n", "tb ="),
		target("target that adds for an addendum", "adds = { receptors = \"3wd\" }\n", "receptors ="),
		{"provisional target that adds", "stage = \"provisional\"\nspan = \"1wd\"", "stage = \"provisional\"\nadds = { stains = \"1wd\" }\nspan = \"1wd\"", "stains ="},

		{"another set", `target_set = "default"`, `target_set = "uk-2013-b"`, ""},
		{"a set that is not there", `target_set = "default"`, `target_set = "uk-2013-d"`, "target_set"},
		{"no set chosen", `target_set = "default"`, `# target_set = "default"`, "#"},
		{"a set without a priority", "urgent = [\"rcpath-2013-c-biopsies\"]\n", "", "priorities]"},
		{"a set with a priority that is not there", `urgent = ["rcpath-2013-c-biopsies"]`, "urgent = [\"rcpath-2013-c-biopsies\"]\nsoon = [\"rcpath-2013-c-biopsies\"]", "soon"},
		{"a set without a source", "source = \"CAP accreditation, ANP.12150 [T5]; next day", "# source = \"", "us-2-working-days]"},

		{"a concordance of a class that is not there", `mid = { benign = "watch" }`, `mid = { harmless = "watch" }`, "harmless"},
		{"a concordance of a severity that is not there", `mid = { benign = "watch" }`, `mid = { benign = "soon" }`, "benign"},
		{"calcium missed, of a severity that is not there", `calcium_missed = "today"`, `calcium_missed = "tomorrow"`, "calcium_missed"},
		{"a middling score worse than a high one", `high = { benign = "now" }` + "\n" + `mid = { benign = "watch" }`, `high = { benign = "today" }` + "\n" + `mid = { benign = "now" }`, "benign = \"now\""},
		{"a middling score as bad as a high one", `mid = { benign = "watch" }`, `mid = { benign = "now" }`, ""},
		{"a middling score bad where a high one is not", `mid = { benign = "watch" }`, `mid = { benign = "watch", inadequate = "today" }`, "inadequate"},
		{"a meeting on a category of no class", `"Thy4", "III"`, `"Thy6", "III"`, `"Thy6"`},
		{"a meeting on a category twice", `"Thy4", "III"`, `"thy 3a", "III"`, `"thy 3a"`},
		{"undivided, of no class", `{ category = "Thy3", divided`, `{ category = "Thy7", divided`, "category"},
		{"undivided, into what has no class", `["Thy3a", "Thy3f"]`, `["Thy3a", "Thy7f"]`, `"Thy7f"`},
		{"undivided, into one", `["Thy3a", "Thy3f"]`, `["Thy3a"]`, "divided"},
		{"undivided, into itself", `["Thy3a", "Thy3f"]`, `["Thy3", "Thy3f"]`, `"Thy3"`},
		{"undivided, into the same twice", `["Thy3a", "Thy3f"]`, `["Thy3a", "thy3A"]`, `"thy3A"`},
		{"undivided twice", `thy3 = { category = "Thy3"`, `thy3 = { category = "b3"`, "category"},
		{"a category that is empty", `"C3", "C4", "Thy3a"`, `"", "C4", "Thy3a"`, `""`},
	}
}
