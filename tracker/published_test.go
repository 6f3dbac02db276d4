package tracker_test

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/testdata/published"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// only keeps the lines of a judgement that are about some kinds of flags, held ones too.
func (s *story) only(at string, kinds ...tracker.FlagKind) []string {
	s.t.Helper()
	return slices.DeleteFunc(s.flags("case", at), func(line string) bool {
		words := strings.Fields(line)
		return !slices.ContainsFunc(kinds, func(k tracker.FlagKind) bool { return words[1] == string(k) })
	})
}

// TestTheFixationBoundarySet: testdata/published/fixation.tsv, cases A to I of the reference on practice, section 1.5. Sources of
// the limits: ASCO/CAP clarification notice 2011, FAQ 1 (time to fixation of an hour) and 3 (6 to 72 hours in formalin);
// Easter and the spring bank holiday of 2026: gov.uk.
func TestTheFixationBoundarySet(t *testing.T) {
	for _, r := range published.Table(t, "fixation.tsv") {
		t.Run(r.Text("case"), func(t *testing.T) {
			s := newStory(t)
			s.opened(plan("A", "formalin", "receptors"))
			taken, out := s.instant(r.Text("taken")), s.instant(r.Text("out"))
			s.at(r.Text("taken")).taken("A01")
			if r.Has("potted") {
				potted := s.instant(r.Text("potted"))
				require.Equal(t, r.Length("cold"), potted.Sub(taken), "%s: time to fixation, elapsed", r)
				require.Equal(t, r.Length("fixed"), out.Sub(potted), "%s: time in fixative, elapsed", r)
				s.at(r.Text("potted")).potted("A01")
			}
			s.at(taken.Add(20*minute).Format(rfc3339)).sealed("A", "nurse.lund", 1)
			s.at(s.clock.Add(minute).Format(rfc3339)).cleared()
			s.handed("van", "A")
			s.at(r.Text("out")).by("lab.reed", "lab-1")
			s.at(s.clock.Add(-minute).Format(rfc3339)).handed("lab-reception", "A")
			s.at(r.Text("out")).loaded("A", "")
			want := []string{}
			if r.Text("flag") != "none" {
				want = append(want, r.Text("flag"))
			}
			require.Equal(t, want, s.only(r.Text("out"), tracker.FlagColdIschaemiaLong, tracker.FlagFixativeTimeMissing, tracker.FlagFixationShort,
				tracker.FlagFixationLong, tracker.FlagClockDoubtful), "%s", r)
		})
	}
}

// withWindow is the default protocol with another window for a study, made as a clinic would: in its text.
func withWindow(t *testing.T, study, least, most, source string) *tracker.Rules {
	t.Helper()
	text := protocol.Default().Text
	window := fmt.Sprintf("[studies.%s.window]\nmin = %q\nmax = %q\nsource = %q\n", study, least, most, source)
	old := regexp.MustCompile(`\[studies\.` + study + `\.window\]\nmin = .*\nmax = .*\nsource = .*\n`)
	if old.MatchString(text) {
		text = old.ReplaceAllLiteralString(text, window)
	} else {
		text = strings.Replace(text, "[studies."+study+".to_fixation]\n", window+"[studies."+study+".to_fixation]\n", 1)
	}
	require.Contains(t, text, window)
	p, err := protocol.Parse([]byte(text))
	require.NoError(t, err)
	rules, err := tracker.NewRules(p, time.LoadLocation)
	require.NoError(t, err)
	return rules
}

// TestWindowsOfTheRuleSets: testdata/published/rule-sets.tsv: the same time in fixative under the windows of 2007, of 2011 and
// after, and of others. 54 hours were too long in 2007 and are not since 2011: ASCO/CAP HER2 guideline 2007, Table 5, and
// clarification notice 2011, FAQ 3.
func TestWindowsOfTheRuleSets(t *testing.T) {
	flags := map[string][]string{"short": {"now fixation-short A"}, "inside": {}, "long": {"now fixation-long A"}}
	met := map[string]bool{}
	for _, r := range published.Table(t, "rule-sets.tsv") {
		require.Contains(t, flags, r.Text("verdict"), "%s", r)
		s := newStory(t)
		s.rules = withWindow(t, r.Text("study"), r.Text("min"), r.Text("max"), r.Text("set"))
		s.opened(plan("A", "formalin", r.Text("study")))
		s.at("2026-03-09 10:00").taken("A01")
		s.potted("A01")
		out := s.clock.Add(r.Length("spent")).Format(rfc3339)
		s.at(out).loaded("A", "")
		require.Equal(t, flags[r.Text("verdict")], s.only(out, tracker.FlagFixationShort, tracker.FlagFixationLong), "%s: %s under %s", r, r.Text("spent"), r.Text("set"))
		met[r.Text("set")+" "+r.Text("spent")+" "+r.Text("verdict")] = true
		if r.Text("set") == "2011+" || r.Text("set") == "Japan, sequencing" {
			w := protocol.Default().Studies[r.Text("study")].Window
			require.Equal(t, [2]time.Duration{r.Length("min"), r.Length("max")}, [2]time.Duration{w.Min.Elapsed, w.Max.Elapsed}, "%s is the default's own window", r)
		}
	}
	require.True(t, met["2007 54h long"] && met["2011+ 54h inside"])
}

// TestEveryMediumServesTheStudiesOfTheTable: testdata/published/media.tsv, the table of the contract page on flags, cell by cell
// through events: R is silent, L is watched as it was planned so, - is to be put right now.
func TestEveryMediumServesTheStudiesOfTheTable(t *testing.T) {
	flags := map[string][]string{"R": {}, "L": {"watch container-wrong A"}, "-": {"now container-wrong A"}}
	cells := 0
	for _, r := range published.Table(t, "media.tsv") {
		for study, cell := range r.Cells() {
			if study == "entry" || study == "medium" {
				continue
			}
			s := newStory(t)
			s.opened(plan("A", r.Text("medium"), study))
			require.Equal(t, flags[cell], s.only("09:00", tracker.FlagContainerWrong), "%s: %s for %s", r, r.Text("medium"), study)
			cells++
		}
	}
	require.Equal(t, 11*13, cells)
}

// TestImagingAndPathologyTogether: testdata/published/concordance.tsv, after Youk et al., Korean J Radiol 2011;12:232-40 (from memory,
// medium). Where the default differs from the published table, the table says why.
func TestImagingAndPathologyTogether(t *testing.T) {
	for _, r := range published.Table(t, "concordance.tsv") {
		s := newStory(t)
		s.request.Lesions[0].Imaging = r.Text("imaging")
		if r.Has("calcium") {
			s.request.Lesions[0].Target = "calcification"
		}
		s.opened(plan("A", "formalin", "histology"))
		s.at("10:00").taken("A01")
		s.at("10:05").potted("A01")
		if r.Has("calcium") {
			s.at("10:10").record(&tracker.SpecimenImaged{Calcium: r.Text("calcium")}, "A01")
		}
		s.at("10:15").sealed("A", "nurse.lund", 1)
		s.cleared()
		s.at("17:00").by("lab.reed", "lab-1").handed("lab-reception", "A")
		s.at("2026-03-11 11:00").issued(tracker.StageFinal, r.Text("category"), "A")
		want := []string{}
		for column, kind := range map[string]tracker.FlagKind{"discordant": tracker.FlagDiscordant, "meeting": tracker.FlagNeedsMeeting, "inadequate": tracker.FlagSampleInadequate} {
			if r.Has(column) {
				want = append(want, r.Text(column)+" "+string(kind)+" case")
			}
		}
		got := s.only("2026-03-11 11:00", tracker.FlagDiscordant, tracker.FlagNeedsMeeting, tracker.FlagSampleInadequate)
		require.ElementsMatch(t, want, got, "%s: %s with %s", r, r.Text("imaging"), r.Text("category"))
	}
}

// TestUndividedCategoriesAreAskedAbout: testdata/published/categories.tsv, R3: B3 was divided on 1 April 2020, and Thy3 is Thy3a or
// Thy3f. Both are taken as they are, and the laboratory is asked which.
func TestUndividedCategoriesAreAskedAbout(t *testing.T) {
	asked := 0
	for _, r := range published.Table(t, "categories.tsv") {
		s, _ := reported(t, r.Text("category"))
		s.none(tracker.FlagProtocolGap, "2026-03-11 11:00")
		if !r.Has("divided") {
			continue
		}
		asked++
		f := s.flag(tracker.FlagNeedsMeeting, "case", "2026-03-11 11:00")
		for _, one := range r.Words("divided") {
			require.Contains(t, f.Text+" "+f.Remedy, one, "%s: which is it?", r)
		}
	}
	require.Equal(t, 2, asked)
}
