package say_test

import (
	"fmt"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/say"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// ours is the default with what a clinic adds to it.
func ours(t *testing.T, changes ...string) *protocol.Protocol {
	t.Helper()
	text := protocol.Default().Text
	for i := 0; i < len(changes); i += 2 {
		require.Contains(t, text, changes[i])
		text = strings.Replace(text, changes[i], changes[i+1], 1)
	}
	p, err := protocol.Parse([]byte(text))
	require.NoError(t, err)
	return p
}

const added = `
[calendars.laboratory]
region = "none"
closed = ["2026-12-24"]
open = ["2026-12-27"]
until = "2027-12-31"
source = "our handbook"
[calendars.laboratory.imported]
closed = ["2026-12-28"]
source = "a calendar file"

[hours.reception]
mon = ["08:30-12:00", "12:30-17:00"]
dates = { 2026-12-24 = ["08:30-12:00"], 2026-12-31 = [] }
source = "our handbook"

[rounds.afternoon]
from = "hatch"
to = "lab-reception"
days = ["mon", "fri"]
departs = ["10:30", "16:30"]
takes = "35m"
source = "our timetable"

[runs.evening]
place = "lab-processor"
days = ["mon", "fri"]
cutoff = "16:00"
load = "18:00"
leaves = "06:00"
calendar = "laboratory"
source = "our laboratory"

[benches.flow]
name = "the flow bench"
place = "lab-reception"
hours = "reception"
studies = ["flow"]
source = "our handbook"

[organs.node.needles.thin]
from_gauge = 18
to_gauge = 20
pieces = { any = 5 }
source = "our meeting"

[contacts]
laboratory = "01-440 220"
`

func furnished(t *testing.T, changes ...string) *protocol.Protocol {
	t.Helper()
	return ours(t, append([]string{"\n[contacts]\n", added, "\n[staff]\n", "\n[staff]\noperator = [\"nurse.osei\"]\n"}, changes...)...)
}

// TestAProtocolInWords: some of what a nurse reads, as she reads it.
func TestAProtocolInWords(t *testing.T) {
	said := map[string]string{}
	titles := []string{}
	for _, section := range say.Protocol(furnished(t)) {
		titles = append(titles, section.Title)
		require.NotNil(t, section.Statements, section.Title)
		for _, s := range section.Statements {
			require.NotContains(t, said, s.Key, "each statement has a key of its own")
			require.NotContains(t, s.About+s.Says, "%!", s.Key)
			require.NotEmpty(t, s.Says, s.Key)
			said[s.Key] = s.About + ": " + s.Says
		}
	}
	for key, want := range map[string]string{
		"studies.receptors.to_fixation":       "receptors, from the patient into fixative: within 60 min",
		"studies.receptors.window":            "receptors, time in fixative: at least 6 h and at most 72 h",
		"studies.immunofluorescence.fresh":    "immunofluorescence: in Michel's medium within 5 days, in saline within 24 h",
		"fixative":                            "volume of a fixing medium: at least 10 times that of the tissue",
		"media.formalin.fixing":               "formalin: fixes; 3.7 % formaldehyde, and for that alone by road and by air not subject to the rules on dangerous goods; its vapour spoils air-dried slides in the same bag; its label warns: toxic",
		"media.slides-dried.fixing":           "air-dried slides: does not fix; never in a bag with formalin; carrier of its pieces unless a request says otherwise: slide",
		"organs.breast.pieces.calcification":  "breast, calcification: 6 cores",
		"organs.thyroid.pieces.any":           "thyroid, any other target: 2 passes",
		"organs.node.needles.thin.pieces.any": "lymph node, any other target, with a needle of 18 to 20 G: 5 cores",
		"priorities.next-day.provisional":     "next day, provisional result: within 1 working day from receipt",
		"studies.stains.adds":                 "special stains: 2 working days more than the final result",
		"hours.reception":                     "hours of reception: Monday 08:30-12:00 and 12:30-17:00; 2026-12-24 08:30-12:00; 2026-12-31 closed; not on holidays",
		"rounds.afternoon":                    "round afternoon: from the hatch to laboratory reception, Monday and Friday at 10:30 and 16:30, 35 min under way; not on holidays",
		"runs.evening":                        "run evening: at laboratory processor, Monday and Friday: in by 16:00, loaded at 18:00, out of formalin at 06:00 the next day; not on holidays of the calendar laboratory",
		"benches.flow":                        "the flow bench: at laboratory reception, for flow cytometry, in the hours of reception",
		"contacts.laboratory":                 "the laboratory: 01-440 220",
		"staff.operator":                      "operator: nurse.osei",
		"calendars.laboratory":                "calendar laboratory: Mondays to Fridays, no holidays, closed besides on 2026-12-24 and 2026-12-28, worked all the same on 2026-12-27; nothing is known after 2027-12-31",
		"concordance.high.benign":             "high suspicion with a benign result: does not go together: a matter for now, until both are put side by side",
		"meeting.undivided.thy3":              "Thy3 without a letter: is accepted, and the laboratory asked whether Thy3a or Thy3f",
		"limits.not-at-lab":                   "a pot that is not at the laboratory: said 1 working day after its piece was taken",
	} {
		require.Equal(t, want, said[key], key)
	}
	require.Regexp(t, `^fatty: a poor piece in breast, axillary node and lymph node\. [A-Z].*[^.]$`, said["looks.fatty"])
	require.Regexp(t, `^pus: a poor piece, but good for culture and culture for tuberculosis\. [A-Z]`, said["looks.pus"])
	for _, key := range protocol.LimitKeys() {
		require.Contains(t, said, "limits."+key)
	}
	require.Contains(t, titles, "Whom to ring")
}

// TestWhatIsNotWrittenDownIsSaid: the default has no rounds, hours, runs, benches, numbers or people.
func TestWhatIsNotWrittenDownIsSaid(t *testing.T) {
	silent := 0
	for _, section := range say.Protocol(protocol.Default()) {
		if len(section.Statements) == 0 {
			require.NotEmpty(t, section.Note, section.Title)
			silent++
		}
	}
	require.Equal(t, 6, silent)
}

func TestTransportByFormaldehyde(t *testing.T) {
	const free = "not subject to the rules on dangerous goods"
	for formaldehyde, want := range map[float64]string{
		3.7: "3.7 % formaldehyde, and for that alone by road and by air " + free,
		9.9: "9.9 % formaldehyde, and for that alone by road and by air " + free,
		10:  "10 % formaldehyde, and for that alone by road " + free + ", by air dangerous goods, UN 3334",
		25:  "25 % formaldehyde, and for that alone by road and by air dangerous goods, UN 2209 of class 8 (corrosive)",
	} {
		require.Equal(t, want, say.Transport(formaldehyde))
	}
}

// TestWhatAProtocolChanges: one line a change, against the default.
func TestWhatAProtocolChanges(t *testing.T) {
	lines := func(changes ...string) []string {
		var list []string
		for _, c := range say.ProtocolChanges(protocol.Default(), ours(t, changes...)) {
			list = append(list, c.String())
		}
		return list
	}
	require.Empty(t, lines())
	require.Empty(t, lines("# Spans:", "# A comment more, so that every line moves.\n# Spans:"))
	require.Equal(t, []string{"receptors, time in fixative: at least 6 h and at most 48 h, was: at least 6 h and at most 72 h"}, lines(`max = "72h"`, `max = "48h"`))
	require.Equal(t, []string{
		"formalin for electron microscopy: wrong, was: with loss",
		"formalin for cytology: right, was: with loss",
	}, sortedAs(lines(`serves = ["histology", "stains", "receptors", "sequencing"]`+"\n"+`loss = ["electron", "cytology"]`,
		`serves = ["histology", "stains", "receptors", "sequencing", "cytology"]`+"\n"+`loss = []`), "electron", "cytology"))
	require.Equal(t, []string{
		"set in force: UK indicator 2013, second reading: 90 % of biopsies within 7 days of receipt, was: pottrail default: routine within 10 days of receipt, urgent within 7",
		"next day, final result: within 7 days from receipt (of 90 % of cases, says the source), was: within 10 days from receipt (of 90 % of cases, says the source)",
		"routine, final result: within 7 days from receipt (of 90 % of cases, says the source), was: within 10 days from receipt (of 90 % of cases, says the source)",
	}, lines(`target_set = "default"`, `target_set = "uk-2013-b"`)[:3])
	require.Equal(t, []string{"new: the laboratory: 01-440 220"}, lines("\n[contacts]\n", "\n[contacts]\nlaboratory = \"01-440 220\"\n"))
	require.Equal(t, []string{"gone: room 2, was: of the kind procedure room"}, lines("room-2 = { name = \"room 2\", role = \"room\" }\n", ""))
	require.Equal(t, []string{"the van: of the kind vehicle; ring 01-440 221, was: of the kind vehicle"},
		lines(`van = { name = "the van", role = "vehicle"`, `van = { name = "the van", role = "vehicle", contact = "01-440 221"`))
	require.Equal(t, []string{"a label that is on nothing, source: our own, was: pottrail default [P1]"},
		lines(`label-left-over = { span = "2h", source = "pottrail default [P1]" }`, `label-left-over = { span = "2h", source = "our own" }`))
	require.Len(t, say.ProtocolChanges(protocol.Default(), furnished(t)), 8)
}

// sortedAs puts lines in the order of the words that they hold.
func sortedAs(lines []string, words ...string) []string {
	var list []string
	for _, word := range words {
		for _, line := range lines {
			if strings.Contains(line, word) {
				list = append(list, line)
			}
		}
	}
	return list
}

// TestNothingChangesInSilence: each value of a furnished protocol, of lists the first, is changed in turn; what still is a protocol says at least
// one change.
func TestNothingChangesInSilence(t *testing.T) {
	was := furnished(t)
	value := regexp.MustCompile(`(?:= |\[)("[^"\n]*"|\d+(?:\.\d+)?|true|false)`)
	tried := 0
	for _, at := range value.FindAllStringSubmatchIndex(was.Text, -1) {
		line := was.Text[strings.LastIndex(was.Text[:at[0]], "\n")+1 : at[2]]
		if strings.Contains(line, "#") || strings.HasSuffix(line, "source = ") {
			continue
		}
		old := was.Text[at[2]:at[3]]
		for _, other := range others(old) {
			now, err := protocol.Parse([]byte(was.Text[:at[2]] + other + was.Text[at[3]:]))
			if other == old || err != nil {
				continue
			}
			tried++
			require.NotEmpty(t, say.ProtocolChanges(was, now), "%s%s becomes %s", line, old, other)
			break
		}
	}
	require.Greater(t, tried, 200)
}

// others are values that may stand in place of one, the likely ones first.
func others(value string) []string {
	switch word := strings.Trim(value, `"`); {
	case value == "true":
		return []string{"false"}
	case value == "false":
		return []string{"true"}
	case word == value: // a number
		return []string{value + "5", "1"}
	case regexp.MustCompile(`^\d+(m|h|d|wd)$`).MatchString(word):
		return []string{`"3h"`, `"3d"`, `"30h"`}
	case regexp.MustCompile(`^\d\d:\d\d$`).MatchString(word):
		return []string{`"17:15"`, `"15:15"`}
	case regexp.MustCompile(`^\d\d:\d\d-\d\d:\d\d$`).MatchString(word):
		return []string{`"07:15-07:30"`, `"18:15-18:30"`}
	case regexp.MustCompile(`^\d{4}-\d\d-\d\d$`).MatchString(word):
		return []string{`"2026-07-15"`}
	default:
		return []string{fmt.Sprintf("%q", word+"x"), `"node"`, `"accession"`, `"other"`, `"stains"`, `"sat"`, `"hatch"`, `"none"`, `"watch"`, `"B9"`, `"U1"`}
	}
}
