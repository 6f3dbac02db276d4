package tracker_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// TestEveryRowHasAScenario says which rows of page 3's tables and which lines of its defaults and edges no story tells.
func TestEveryRowHasAScenario(t *testing.T) {
	t.Parallel()
	shown := map[string]string{}
	for _, path := range scenarioFiles(t) {
		sc := readScenarioFile(t, path)
		for _, about := range sc.about {
			if _, isLine := lines[about]; isLine {
				shown[about] = path
				continue
			}
			_, isRow := rows[tracker.FlagKind(about)]
			require.True(t, isRow, "%s is about %q, which is no row and no line of page 3", path, about)
			seen := sc.shows(tracker.FlagKind(about))
			require.NotEmpty(t, seen, "%s is about %s and expects nothing of it", path, about)
			for _, what := range seen {
				shown[about+" "+what] = path
			}
		}
	}
	for _, need := range needs() {
		if shown[need] == "" {
			t.Errorf("no scenario shows: %s (%s)", need, lines[need])
		}
	}
}

// shows lists the aspects of a flag that the expectations of a story speak of; the story itself is held to them by
// TestScenarios.
func (sc *scenario) shows(kind tracker.FlagKind) []string {
	seen := map[string]bool{}
	var raised, answered, settled bool
	last := map[tracker.Name]string{}
	for _, s := range sc.steps {
		if s.event != nil {
			f, ok := s.event.Data.(*tracker.FlagAnswered)
			answered = answered || ok && f.Flag == kind
			continue
		}
		there, held := false, false
		for _, w := range s.expect.flags {
			if w.kind != kind {
				continue
			}
			if w.by != "" {
				held = true
				seen["held by "+w.by] = true
				continue
			}
			there = true
			seen["raised"] = true
			state := fmt.Sprintf("%s %s", w.severity, w.who)
			before, known := last[w.item]
			if severity, who, _ := strings.Cut(before, " "); known && (severity != string(w.severity) || who != "" && w.who != "" && who != w.who) {
				seen["changed"] = true
			}
			last[w.item] = state
		}
		gone := s.expect.exact && !held || slices.ContainsFunc(s.expect.absent, func(w wanted) bool { return w.kind == kind })
		switch {
		case there:
			raised, answered, settled = true, false, false
		case gone && raised && answered && !settled:
			seen["answered"], settled = true, true
		case gone && raised && !settled:
			seen["cleared"], settled = true, true
		case gone && !raised:
			seen["absent"] = true
		}
	}
	var list []string
	for what := range seen {
		list = append(list, what)
	}
	slices.Sort(list)
	return list
}

// TestScenarioMistakesAreTold holds the reader of scenarios to being strict: a word that it does not know would else be
// an expectation that nobody holds.
func TestScenarioMistakesAreTold(t *testing.T) {
	t.Parallel()
	const head = "# A story\nabout room-open\nFri 6 Mar 2026\n09:00 opened\n pot A in formalin for histology\n"
	for name, mistake := range map[string]struct{ lines, says string }{
		"no title":                 {"", "the first line is the title"},
		"a verb nobody knows":      {head + "09:10 took A01", "no event is told as"},
		"a word nobody knows":      {head + "09:10 taken A01 quickly", `line 6: "quickly" means nothing`},
		"a field twice":            {head + "09:10 taken A01 14 G 16 G", "said twice"},
		"a medium nobody says":     {head + "09:10 filled A", "medium"},
		"no thing":                 {head + "09:10 taken", "names no thing"},
		"an hour too early":        {head + "08:59 taken A01", "before the line above"},
		"a day of the wrong name":  {head + "Sat 6 Mar 2026", "it was a Friday"},
		"nothing happened":         {head + "09:10 ;", "nothing is said"},
		"no time":                  {head + "25:10 taken A01", "no time of day"},
		"a flag nobody knows":      {head + "09:10 expect no room-opened", "there is no flag"},
		"no severity":              {head + "09:10 expect room-open case", "severity"},
		"a severity nobody knows":  {head + "09:10 expect soon room-open case", "no severity"},
		"held by nothing":          {head + "09:10 expect held now room-open case", `with "by"`},
		"a detail nobody knows":    {head + "09:10 expect now room-open case from 09:00", "means nothing"},
		"a label nobody gave":      {head + "09:10 seen result R1", "no line above"},
		"a label twice":            {head + "09:10 R1: result final\n09:11 R1: result final", "on two lines"},
		"an open quote":            {head + `09:10 noted case text "who`, "not closed"},
		"a line of nothing":        {head + "tomorrow", "is neither"},
		"a limit nobody has":       {head + "protocol limits.room-closed.span = \"45m\"", "changed protocol is refused"},
		"a key to leave out":       {head + "protocol without limits.room-closed", "to take out"},
		"an hour that is skipped":  {"# A night\nabout room-open\nSun 29 Mar 2026\n01:30 expect nothing", "did not show"},
		"exactly what":             {head + "09:10 expect exactly", "exactly what"},
		"a bound of two pots":      {head + "09:10 taken A01..B02", "means nothing"},
		"an event of two lesions":  {head + "09:10 taken A01; lesion L1 breast", "cannot follow"},
		"nothing about":            {"# A story\nFri 6 Mar 2026\n09:00 opened\n pot A in formalin for histology\n", "what the scenario is about"},
		"a choice that is no word": {head + "09:10 procedure ended well", "means nothing"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			_, err := readScenario(mistake.lines)
			require.ErrorContains(t, err, mistake.says)
		})
	}
}

// TestEveryKindOfEventCanBeTold holds the verbs against the list of kinds.
func TestEveryKindOfEventCanBeTold(t *testing.T) {
	t.Parallel()
	for _, info := range tracker.Kinds() {
		require.True(t, slices.ContainsFunc(verbs, func(v verb) bool { return v.kind == info.Kind }), info.Kind)
	}
	for _, kind := range tracker.FlagCatalog() {
		require.Contains(t, rows, kind.Kind)
	}
}
