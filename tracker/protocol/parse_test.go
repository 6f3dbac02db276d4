package protocol_test

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"flag"
	"fmt"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker/protocol"
)

var update = flag.Bool("update", false, "write golden files anew")

// edit is a change of the default protocol that makes it wrong, and the words that stand where the mistake is told.
type edit struct{ name, old, new, at string }

func edits() []edit {
	const evening = "\n[runs.evening]\nplace = \"lab-processor\"\ndays = [\"mon\", \"tue\"]\ncutoff = \"16:00\"\nload = \"18:00\"\nleaves = \"06:00\"\nsource = \"our laboratory\"\n"
	run := func(name, old, new, at string) edit {
		return edit{name, "\n[contacts]", strings.Replace(evening, old, new, 1) + "\n[contacts]", at}
	}
	return slices.Concat(timeEdits(), tissueEdits(), answerEdits(), []edit{
		{"not TOML", `title = "pottrail`, `title = pottrail"`, `pottrail"`},
		{"a table twice", "[studies.stains]\n", "[studies.histology]\n", "studies.histology]"},
		{"a key twice", `zone = "Europe/London"`, "zone = \"Europe/London\"\nzone = \"UTC\"", `zone = "UTC"`},
		{"unknown key", "fixing = true\nformaldehyde = 3.7", "fixxing = true\nformaldehyde = 3.7", "fixxing"},
		{"unknown table", "[contacts]", "[contact]", "contact]"},
		{"capitals are another key", "zone =", "Zone =", "Zone"},
		{"a key that needs quotes", "[organs.other]", `[organs."other site"]`, `"other site"`},
		{"a key with capitals", "[organs.other]", `[organs.Other]`, `Other`},
		{"a word for true or false", "fixing = true\nformaldehyde = 3.7", "fixing = \"yes\"\nformaldehyde = 3.7", "fixing"},
		{"a number for a span", `min = "6h"`, `min = 6`, "min"},
		{"no unit of a span", `min = "6h"`, `min = "6"`, "min"},
		{"a span of nothing", `min = "6h"`, `min = "0h"`, "min"},
		{"a word for a list", `loss = ["electron", "cytology"]`, `loss = "electron"`, "loss"},
		{"a number in a list of words", `loss = ["electron", "cytology"]`, `loss = ["electron", 7]`, `7`},
		{"a list of tables", "[organs.other]", "[[organs.other]]", "other]"},
		{"a number too great", "rank = 2", "rank = 20000000000000000000", "2000"},
		{"a source left out", "source = \"UK SMI B 40 (2014): no preservative, refrigerate if delayed [C9]; 24 h, and 2 to 8 °C from 2 h on: common practice, no source [N1]\"\n", "", "fresh]"},
		{"an empty source", `source = "pottrail default; from receipt to accession [P1]"`, `source = " "`, "source"},
		{"calendar that is not there", `calendar = "england-wales"`, `calendar = "england"`, "calendar"},
		{"region nobody knows", `region = "gb-england-wales"`, `region = "gb-orkney"`, "region"},
		{"closure that is no day", `closed = []`, `closed = ["2026-02-30"]`, `"2026-02-30"`},
		{"closed and open", "closed = [] # your own closures, \"2026-12-24\"\nopen = []", "closed = [\"2026-12-24\"]\nopen = [\"2026-12-24\"]", `"2026-12-24"]` + "   #"},
		{"medium serves a study that is not there", `serves = ["flow", "karyotype"]`, `serves = ["flow", "kariotype"]`, `"kariotype"`},
		{"study in serves and in loss", `loss = ["electron", "cytology"]`, `loss = ["electron", "histology"]`, `"histology"]` + "\nsource"},
		{"study in a list twice", `loss = ["electron", "cytology"]`, `loss = ["electron", "electron"]`, `"electron"]` + "\nsource"},
		{"study that no medium is right for", `serves = ["flow", "karyotype"]`, `serves = ["flow"]`, "karyotype]\nname"},
		{"study that needs fixation, and nothing fixes", "fixing = true\nformaldehyde = 3.7", "fixing = false\nformaldehyde = 3.7", "receptors]"},
		{"medium that serves nothing", "serves = []\nloss = [\"histology\", \"stains\"]", "serves = []\nloss = []", "bouin]"},
		{"window upside down", `min = "6h"` + "\n" + `max = "72h"`, `min = "72h"` + "\n" + `max = "6h"`, `min = "72h"`},
		{"window in working days", `max = "72h"`, `max = "3wd"`, `max = "3wd"`},
		{"window without limits", "min = \"6h\"\nmax = \"72h\"\n", "", "window]"},
		{"only today without a limit", "[studies.flow]\nname = \"flow cytometry\"", "[studies.flow]\nname = \"flow cytometry\"\nonly_today = true", "only_today = true\n[studies.flow.fresh]"},
		{"two targets of a study", "[studies.tb.target]", "[studies.tb.adds]\nspan = \"2wd\"\nsource = \"ours\"\n[studies.tb.target]", "tb]"},
		{"no default study", "default = true\n", "", "studies.histology]"},
		{"fresh limit in a fixative", `media = { michel = "5d", saline = "24h" }`, `media = { ethanol = "5d", saline = "24h" }`, "ethanol"},
		{"fresh limit in a medium that does not serve", `media = { michel = "5d", saline = "24h" }`, `media = { michel = "5d", rpmi = "24h" }`, "rpmi"},
		{"temperatures upside down", "min_c = 2\nmax_c = 8", "min_c = 8\nmax_c = 2", "min_c = 8"},
		{"temperature that is no number", "min_c = 2", "min_c = nan", "min_c = nan"},
		{"half a temperature range", "max_c = 8\n", "", "fresh]"},
		{"pieces for a target that is not there", "calcification = 6", "calcifications = 6", "calcifications"},
		{"more pieces than a pot holds", "calcification = 6", "calcification = 600", "calcification = 600"},
		{"pieces counted in feet", `counts = "passes"`, `counts = "feet"`, "counts"},
		{"a look that events do not know", "fragmented =", "crumbly =", "crumbly"},
		{"a carrier left out", "foam = { name = \"foam\", labeled = false }\n", "", "carriers]"},
		{"a role that rules do not know", "vehicle = { name", "vehicles = { name", "vehicles"},
		{"place of a role that is not there", `role = "vehicle"`, `role = "lorry"`, `role = "lorry"`},
		{"no laboratory", `role = "laboratory"`, `role = "hatch"`, "places]"},
		run("run", "", "", ""),
		run("run at a place that is not there", `"lab-processor"`, `"lab-procesor"`, "place"),
		run("run at a place that is no laboratory", `"lab-processor"`, `"van"`, "place"),
		run("run on a day that is not there", `"tue"`, `"tues"`, `"tues"`),
		run("run with a cut-off after its load", `"16:00"`, `"18:01"`, "cutoff"),
		run("run that leaves when it is loaded", `"06:00"`, `"18:00"`, "leaves"),
		run("run at a time that is not there", `"06:00"`, `"6:00"`, "leaves"),
		run("run without a cut-off", "cutoff = \"16:00\"\n", "", "evening]"),
		{"target of a stage that is not there", `stage = "provisional"`, `stage = "addendum"`, "stage"},
		{"target from a start that is not there", `from = "accession"`, `from = "booking"`, "from"},
		{"share over one", "share = 0.95", "share = 95", "share"},
		{"priority with a target that is not there", `urgent = ["rcpath-2013-b-biopsies"]`, `urgent = ["rcpath-2013-b-biopsy"]`, `"rcpath-2013-b-biopsy"`},
		{"priority with two finals", `urgent = ["rcpath-2013-b-biopsies"]`, `urgent = ["rcpath-2013-b-biopsies", "rcpath-2013-a-all"]`, `"rcpath-2013-a-all"]` + "\nroutine"},
		{"priority without a final", `urgent = ["rcpath-2013-b-biopsies"]`, `urgent = ["next-day-provisional"]`, "urgent"},
		{"provisional after the final", "stage = \"provisional\"\nspan = \"1wd\"", "stage = \"provisional\"\nspan = \"9wd\"", "next-day = [\"next-day-provisional\""},
		{"rank under nought", "rank = 0", "rank = -1", "rank"},
		{"outcome that rules need", "died = { name = \"died\" }\n", "", "outcomes]"},
		{"a category in two classes", `"B4", `, `"B4", "b5", `, `"b5"`},
		{"a class that rules do not know", "[classes.benign]", "[classes.harmless]", "harmless"},
		{"a score in both groups", `mid = ["U3", `, `mid = ["u5", `, `"u5"`},
		{"a score that is none", `mid = ["U3", `, `mid = ["indeterminate", `, `"indeterminate"`},
		{"a limit left out", "unknown-item = ", "#", "limits]"},
		{"a limit that rules do not know", "unknown-item = ", "unknown-items = ", "unknown-items"},
		{"a limit of minutes in days", "clock-skew = { span = \"2m\"", "clock-skew = { span = \"2d\"", "span"},
		{"limits in the wrong order", "fixative-missing-watch = { span = \"10m\"", "fixative-missing-watch = { span = \"30m\"", "span"},
		{"a limit without a source", `label-left-over = { span = "2h", source = "pottrail default [P1]" }`, `label-left-over = { span = "2h" }`, "label-left-over"},
		{"a contact of a role nobody has", "[contacts]", "[contacts]\nlabratory = \"01-440 220\"", "labratory"},
		{"a contact of two lines", "[contacts]", "[contacts]\nlaboratory = \"01-440 220\\nask for Ann\"", "laboratory"},
	})
}

// TestMistakesAreToldWithTheirPlace: each mistake is refused, the place is where it stands, and the sentences are in the
// golden file for people to read.
func TestMistakesAreToldWithTheirPlace(t *testing.T) {
	text := protocol.Default().Text
	var golden strings.Builder
	for _, e := range edits() {
		require.Contains(t, text, e.old, e.name)
		changed := strings.Replace(text, e.old, e.new, 1)
		if strings.HasPrefix(e.name, "no ") {
			changed = strings.ReplaceAll(text, e.old, e.new)
		}
		_, err := protocol.Parse([]byte(changed))
		fmt.Fprintf(&golden, "# %s\n", e.name)
		if e.at == "" {
			require.NoError(t, err, e.name)
			golden.WriteString("no mistake\n\n")
			continue
		}
		if !assert.ErrorIs(t, err, protocol.ErrMistake, e.name) {
			continue
		}
		assert.True(t, toldAt(changed, err, e.at), "%s stands at %q\n%v", e.name, e.at, err)
		// Lines of the default move when it is edited; the golden file keeps the sentences alone.
		golden.WriteString(regexp.MustCompile(`(?m)^line \d+, column \d+: `).ReplaceAllString(err.Error(), "") + "\n\n")
	}
	const file = "testdata/mistakes.golden"
	if *update {
		require.NoError(t, os.WriteFile(file, []byte(golden.String()), 0o644))
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, string(want), golden.String(), "go test -update writes %s anew", file)
}

// toldAt reports whether one of the mistakes is told at the place where the words stand.
func toldAt(text string, err error, words string) bool {
	lines := strings.Split(text, "\n")
	for _, one := range err.(interface{ Unwrap() []error }).Unwrap() {
		var m *protocol.Error
		if errors.As(one, &m) && m.Line > 0 {
			rest := string([]rune(lines[m.Line-1])[m.Column-1:]) + "\n" + strings.Join(lines[m.Line:], "\n")
			if strings.HasPrefix(rest, words) {
				return true
			}
		}
	}
	return false
}

func TestSeveralMistakesAreToldAtOnceInOrder(t *testing.T) {
	text := protocol.Default().Text
	text = strings.Replace(text, `role = "vehicle"`, `role = "lorry"`, 1)
	text = strings.Replace(text, `calendar = "england-wales"`, `calendar = "wales"`, 1)
	_, err := protocol.Parse([]byte(text))
	var several interface{ Unwrap() []error }
	require.ErrorAs(t, err, &several)
	require.Len(t, several.Unwrap(), 2)
	require.Contains(t, several.Unwrap()[0].Error(), "calendar")
	require.Contains(t, several.Unwrap()[1].Error(), "places.van.role")
}

// TestNothingIsTakenOver: a file is complete by itself. Each line with a key is left out in turn, of the default and of what
// a clinic adds to it; what may be left out is listed here.
func TestNothingIsTakenOver(t *testing.T) {
	mayGo := regexp.MustCompile(`^(share|default|only_today|target|min|max|formaldehyde|vapour|dried|caution|carrier|advice|high|mid|calcium_missed|b3|thy3|until|nights|daily|hours|dates|mon|fri|sat|adds|excludes|operator|porter) = |^(discharged|review|treatment|withdrawn|transferred|lost-contact|not-done|room-1|room-2|hatch|fridge|van|lab-reception|lab-processor) = \{ name|^pieces = |^counts = |^span = `)
	lines := strings.Split(furnished(t), "\n")
	refused, table := 0, ""
	for i, line := range lines {
		if strings.HasPrefix(line, "[") {
			table = line
		}
		key, _, isKey := strings.Cut(line, " = ")
		if !isKey || strings.HasPrefix(key, "#") || mayGo.MatchString(line) || key == "calendar" && table != "" {
			continue
		}
		if strings.HasPrefix(line, "source") && strings.HasPrefix(table, "[calendars.") && !strings.Contains(table, "imported") {
			continue // of closures, which are no numbers
		}
		_, err := protocol.Parse([]byte(strings.Join(lines[:i], "\n") + "\n" + strings.Join(lines[i+1:], "\n")))
		require.ErrorIs(t, err, protocol.ErrMistake, "line %d left out: %s", i+1, line)
		refused++
	}
	require.Greater(t, refused, 200)
}

// TestATypoInAnyKeyIsRefused: each key of a table with fixed keys is misspelt in turn.
func TestATypoInAnyKeyIsRefused(t *testing.T) {
	lines := strings.Split(furnished(t), "\n")
	fixed := regexp.MustCompile(`^(title|zone|calendar|region|closed|open|source|name|default|only_today|span|min|max|min_c|max_c|warm|media|fixing|caution|carrier|serves|loss|sided|pieces|counts|stage|from|share|rank|targets|target_set|formaldehyde|vapour|dried|ratio|advice|calcium_missed|categories|high|mid|until|from_gauge|to_gauge|to|days|departs|takes|daily|place|cutoff|load|leaves|nights|hours|studies|dates|mon|fri|sat|adds|excludes|operator|porter) = `)
	tried := 0
	for i, line := range lines {
		if !fixed.MatchString(line) {
			continue
		}
		changed := strings.Clone(lines[i])
		lines[i] = "x" + changed
		_, err := protocol.Parse([]byte(strings.Join(lines, "\n")))
		lines[i] = changed
		require.ErrorIs(t, err, protocol.ErrMistake, line)
		var first *protocol.Error
		require.ErrorAs(t, err, &first)
		require.Equal(t, i+1, first.Line)
		require.NotEmpty(t, first.Hint)
		tried++
	}
	require.Greater(t, tried, 250)
}

func TestTextAndSumAreKept(t *testing.T) {
	p := protocol.Default()
	again, err := protocol.Parse([]byte(p.Text))
	require.NoError(t, err)
	require.Equal(t, p, again)
	sum := sha256.Sum256([]byte(p.Text))
	require.Equal(t, hex.EncodeToString(sum[:]), p.SHA256)
}

func TestTextThatIsNoFile(t *testing.T) {
	for name, text := range map[string]string{
		"empty": "", "not UTF-8": "title = \"a\"\nzone = \"\xff\"\n", "too long": strings.Repeat("#\n", protocol.MaxBytes),
		"a byte order mark": "\ufefftitle = \"a\"\n", "an empty key": "\"\" = 1\n", "a key like a member": "\"title[0]\" = 1\n",
		"a key like a path": "\"media.formalin.fixing\" = 1\n", "nothing but brackets": strings.Repeat("[", 9999),
	} {
		_, err := protocol.Parse([]byte(text))
		require.ErrorIs(t, err, protocol.ErrMistake, name)
	}
	_, err := protocol.Parse([]byte("title = \"a\"\nzone = \"\xff\"\n"))
	var first *protocol.Error
	require.True(t, errors.As(err, &first))
	require.Equal(t, 2, first.Line)
}

// TestEveryRuleCanBeCited: the line of a key is where it stands, and the basis of a flag names its source.
func TestEveryRuleCanBeCited(t *testing.T) {
	p := protocol.Default()
	lines := strings.Split(p.Text, "\n")
	for key, stands := range map[string]string{
		"studies.receptors.window": "[studies.receptors.window]", "studies.receptors.window.max": `max = "72h"`, "zone": "zone = ",
		"limits.not-at-lab": "not-at-lab = ", "limits.not-at-lab.span": "not-at-lab = ", "places.van": "van = ", "imaging": "[imaging]",
		"media.formalin": "[media.formalin]", "targets.cap-anp-12150": "[targets.cap-anp-12150]",
	} {
		line := p.Line(key)
		require.Positive(t, line, key)
		require.Contains(t, lines[line-1], stands, key)
	}
	require.Zero(t, p.Line("studies.astrology"))

	require.Regexp(t, `^protocol line \d+: ASCO/CAP 2011 clarification .* FAQ 3`, p.Cite("studies.receptors.window"))
	require.Equal(t, p.Cite("studies.receptors.window.max")[len("protocol line 00"):], p.Cite("studies.receptors.window")[len("protocol line 00"):])
	require.Regexp(t, `^protocol line \d+: common practice, no source \[N1\]$`, p.Cite("limits.fixative-missing-watch"))
	require.Regexp(t, `^protocol line \d+: RCPath`, p.Cite("targets.rcpath-2013-a-all"))
	require.Equal(t, "protocol: no source given", p.Cite("moon.phase"))
	require.Regexp(t, `^protocol line \d+: no source given$`, p.Cite("zone"))
	for _, key := range protocol.LimitKeys() {
		require.NotContains(t, p.Cite("limits."+key), "no source given", key)
		require.Equal(t, p.Line("limits."+key), p.Line("limits."+key+".span"))
	}
}

func FuzzParse(f *testing.F) {
	text := protocol.Default().Text
	f.Add([]byte(text))
	for _, e := range edits() {
		f.Add([]byte(strings.Replace(text, e.old, e.new, 1)))
		f.Add([]byte(e.new))
	}
	f.Add([]byte("\"title[0]\" = 1\n[media]\na = {b = [{c = [1, [2, 3]]}]}\n[[x]]\ny.z = 1979-05-27"))
	f.Fuzz(func(t *testing.T, text []byte) {
		p, err := protocol.Parse(text)
		if err != nil {
			require.ErrorIs(t, err, protocol.ErrMistake)
			require.Nil(t, p)
			for _, one := range err.(interface{ Unwrap() []error }).Unwrap() {
				require.NotEmpty(t, one.Error())
			}
			return
		}
		again, err := protocol.Parse([]byte(p.Text))
		require.NoError(t, err)
		require.Equal(t, p.SHA256, again.SHA256)
		p.ClassOf(p.Title)
		p.ImagingGroup(p.Title)
		p.Cite(p.Title)
	})
}

func FuzzResultWords(f *testing.F) {
	for _, seed := range []string{"B5b", "Thy 3f", "BI-RADS 4 C", "U5 M3/P2", "Bethesda VI", "", "é5", "U5\u0130"} {
		f.Add(seed)
	}
	p := protocol.Default()
	f.Fuzz(func(t *testing.T, text string) {
		class, ok := p.ClassOf(text)
		require.Equal(t, ok, class != "")
		group, ok := p.ImagingGroup(text)
		require.Equal(t, ok, group != "")
		require.True(t, protocol.SameCategory(text, " "+text))
	})
}

// BenchmarkParse: once at start and once for each adopted protocol.
func BenchmarkParse(b *testing.B) {
	text := []byte(protocol.Default().Text)
	for b.Loop() {
		_, _ = protocol.Parse(text)
	}
}
