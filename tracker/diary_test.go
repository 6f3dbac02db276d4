package tracker_test

import (
	"crypto/sha256"
	"fmt"
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

// diary tells how the findings of one story change, from its first event to long after its last: at each event and each
// wake, what came up and what went, with since, due and who. What a story expects is at chosen instants; this is all of them.
func (sc *scenario) diary(t *testing.T, sentences map[string]bool) []string {
	t.Helper()
	var events []*tracker.Event
	var rules *tracker.Rules
	for _, s := range sc.steps {
		if s.event != nil {
			events = append(events, s.event)
		}
		if s.faulty {
			return nil
		}
		rules = s.rules // those at the story's end
	}
	filed := tracker.File(events)
	load := func(n tracker.Name) ([]*tracker.Event, error) { return filed[n], nil }
	var lines []string
	for _, watched := range slices.Sorted(maps.Keys(filed)) {
		gathered, err := tracker.Gather(watched, load)
		require.NoError(t, err)
		lines = append(lines, diaryOf(watched, gathered, rules, sentences)...)
	}
	return lines
}

// diaryOf goes through the instants at which the findings of one thing can change.
func diaryOf(watched tracker.Name, gathered []*tracker.Event, rules *tracker.Rules, sentences map[string]bool) []string {
	var steps []time.Time
	for _, e := range gathered {
		steps = append(steps, knownAt(e))
	}
	slices.SortFunc(steps, time.Time.Compare)
	steps = slices.CompactFunc(steps, time.Time.Equal)
	var lines []string
	have := map[string]bool{}
	now := steps[0]
	for range 300 {
		known := slices.DeleteFunc(slices.Clone(gathered), func(e *tracker.Event) bool { return knownAt(e).After(now) })
		got := tracker.Judge(watched, known, rules, now)
		is := map[string]bool{}
		for _, f := range got.Findings.Flags {
			is[diaryLine(f, "", sentences)] = true
		}
		for _, f := range got.Findings.Held {
			is[diaryLine(f.Flag, f.By, sentences)] = true
		}
		at := "\t" + now.In(london).Format("2006-01-02 15:04:05") + " "
		for _, line := range slices.Sorted(maps.Keys(have)) {
			if !is[line] {
				lines = append(lines, at+"- "+line)
			}
		}
		for _, line := range slices.Sorted(maps.Keys(is)) {
			if !have[line] {
				lines = append(lines, at+"+ "+line)
			}
		}
		have = is
		next := got.Findings.Wake
		for _, step := range steps {
			if step.After(now) {
				if next.IsZero() || step.Before(next) {
					next = step
				}
				break
			}
		}
		if next.IsZero() {
			break
		}
		now = next
	}
	return lines
}

func diaryLine(f tracker.Flag, by string, sentences map[string]bool) string {
	sentences[fmt.Sprintf("%s: %s %s", f.Kind, f.Text, f.Remedy)] = true
	line := fmt.Sprintf("%s %s %s since %s", f.Severity, f.Kind, f.Item, f.Since.In(london).Format("2 Jan 15:04:05"))
	if !f.Due.IsZero() {
		line += " due " + f.Due.In(london).Format("2 Jan 15:04:05")
	}
	if line += ", " + f.Who; by != "" {
		line += ", held by " + by
	}
	return line
}

// TestTheDiaryOfEveryStory compares the whole course of each story, and a sum over the sentences that its flags say, with
// files that were read: testdata/diary. A story that is not in them yet is told by its own expectations alone. -update
// writes the files anew; then read the difference.
func TestTheDiaryOfEveryStory(t *testing.T) {
	told := map[string]map[string]string{} // area → story → its course
	for _, path := range scenarioFiles(t) {
		area, name := filepath.Base(filepath.Dir(path)), strings.TrimSuffix(filepath.Base(path), ".txt")
		if told[area] == nil {
			told[area] = map[string]string{}
		}
		sentences := map[string]bool{}
		lines := readScenarioFile(t, path).diary(t, sentences)
		sum := sha256.Sum256([]byte(strings.Join(slices.Sorted(maps.Keys(sentences)), "\n")))
		told[area][name] = strings.Join(append(lines, fmt.Sprintf("\t%d sentences, %x", len(sentences), sum[:6])), "\n") + "\n"
	}
	for area, stories := range told {
		file := filepath.Join("testdata", "diary", area+".txt")
		if *update {
			var text strings.Builder
			for _, name := range slices.Sorted(maps.Keys(stories)) {
				text.WriteString(name + "\n" + stories[name])
			}
			require.NoError(t, os.MkdirAll(filepath.Dir(file), 0o755))
			require.NoError(t, os.WriteFile(file, []byte(text.String()), 0o644))
		}
		kept, err := os.ReadFile(file)
		require.NoError(t, err)
		for name, want := range diaryEntries(string(kept)) {
			got, there := stories[name]
			if !there {
				t.Errorf("%s keeps the course of %s, and there is no such story", file, name)
			} else if got != want {
				t.Errorf("%s tells another course of %s: %s\n\tgo test -run TestTheDiaryOfEveryStory -update writes it anew; read the difference before you keep it", file, name, firstDifference(want, got))
			}
		}
	}
}

// diaryEntries parts a file into its stories: a name at the margin, its course indented.
func diaryEntries(text string) map[string]string {
	entries := map[string]string{}
	name := ""
	for line := range strings.Lines(text) {
		if !strings.HasPrefix(line, "\t") {
			name = strings.TrimSpace(line)
			continue
		}
		entries[name] += line
	}
	return entries
}

func firstDifference(want, got string) string {
	a, b := strings.Split(want, "\n"), strings.Split(got, "\n")
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			return fmt.Sprintf("line %d was %q and is %q", i+1, a[i], b[i])
		}
	}
	return fmt.Sprintf("%d lines were, %d are", len(a), len(b))
}
