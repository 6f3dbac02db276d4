package tracker_test

import (
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

const scenarioFolder = "testdata/scenarios"

// scenarioFiles lists the stories: testdata/scenarios/<area>/<name>.txt.
func scenarioFiles(t testing.TB) []string {
	t.Helper()
	var files []string
	err := filepath.WalkDir(scenarioFolder, func(path string, entry fs.DirEntry, err error) error {
		if err == nil && !entry.IsDir() && filepath.Dir(path) != filepath.Clean(scenarioFolder) {
			files = append(files, path)
		}
		return err
	})
	require.NoError(t, err)
	return files
}

func readScenarioFile(t testing.TB, path string) *scenario {
	t.Helper()
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	sc, err := readScenario(string(text))
	require.NoError(t, err, path)
	return sc
}

// TestScenarios tells every story of testdata/scenarios and holds each answer against what the story expects and against
// the laws of page 3.
func TestScenarios(t *testing.T) {
	t.Parallel()
	for _, path := range scenarioFiles(t) {
		name, err := filepath.Rel(scenarioFolder, path)
		require.NoError(t, err)
		t.Run(strings.TrimSuffix(filepath.ToSlash(name), ".txt"), func(t *testing.T) {
			t.Parallel()
			sc := readScenarioFile(t, path)
			require.True(t, slices.ContainsFunc(sc.steps, func(s step) bool { return s.expect != nil }), "%s expects nothing: it cannot fail", path)
			for i, s := range sc.steps {
				if s.expect == nil {
					continue
				}
				where := fmt.Sprintf("%s:%d", path, s.line)
				all, wake := sc.judge(lineOf{t, where}, sc.steps[:i], s)
				if complaints := s.expect.against(all, wake); len(complaints) > 0 {
					lines := []string{}
					for _, f := range all {
						lines = append(lines, s.expect.tell(f))
					}
					t.Errorf("%s: %s\n\tthere is: %s", where, strings.Join(complaints, "; "), strings.Join(lines, "\n\t          "))
				}
			}
		})
	}
}

// lineOf says at which line a law was broken.
type lineOf struct {
	testing.TB
	where string
}

// Errorf fails the test, naming the line.
func (l lineOf) Errorf(format string, args ...any) {
	l.Helper()
	l.TB.Errorf("%s: "+format, append([]any{l.where}, args...)...)
}

// judge checks all things of the story at a step, by the lines above it that are known by then.
func (sc *scenario) judge(t testing.TB, above []step, s step) (all []found, wake time.Time) {
	t.Helper()
	st := &story{t: t, name: storyCase, bag: storyBag, rules: s.rules}
	for _, before := range above {
		if before.event != nil && !before.at.After(s.at) {
			st.events = append(st.events, before.event)
		}
	}
	for _, watched := range slices.Sorted(maps.Keys(tracker.File(st.events))) {
		var got tracker.Findings
		if s.faulty {
			got = tracker.Judge(watched, tracker.File(st.events)[watched], &tracker.Rules{}, s.at).Findings
		} else {
			got = st.judge(string(watched), s.at)
		}
		for _, f := range got.Flags {
			all = append(all, found{f, ""})
		}
		for _, f := range got.Held {
			all = append(all, found{f.Flag, f.By})
		}
		if !got.Wake.IsZero() && (wake.IsZero() || got.Wake.Before(wake)) {
			wake = got.Wake
		}
	}
	return all, wake
}
