package main

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"
	"github.com/stretchr/testify/require"
)

// unpack writes the sample module into a folder of its own, and beside it a list of survivors.
func unpack(t *testing.T, survivors ...string) (folder, list string) {
	archive, err := txtar.ParseFile("testdata/sample.txtar")
	require.NoError(t, err)
	folder = t.TempDir()
	require.NoError(t, txtar.Write(archive, folder))
	list = filepath.Join(folder, "survivors.tsv")
	lines := append([]string{"file\tfunction\toriginal\tmutant\treason"}, survivors...)
	require.NoError(t, os.WriteFile(list, []byte(strings.Join(lines, "\n")+"\n"), 0o600))
	return folder, list
}

// fates runs the tool and gives what it says of each mutant, "dead" or "lives", without line numbers.
func fates(t *testing.T, args ...string) (lines []string, summary string, err error) {
	var out, log bytes.Buffer
	err = run(t.Context(), args, &out, &log)
	t.Log(log.String())
	all := strings.Split(strings.TrimSpace(out.String()), "\n")
	for _, line := range all[:len(all)-1] {
		lines = append(lines, regexp.MustCompile(`\t\S+: `).ReplaceAllString(line, "\t"))
	}
	return lines, all[len(all)-1], err
}

func TestEachMutantOfTheSampleHasItsFate(t *testing.T) {
	folder, list := unpack(t)
	lines, summary, err := fates(t, "-package", folder, "-survivors", list, "-all")
	require.ErrorIs(t, err, errBite)
	for _, want := range []string{
		"dead\tsample.go | Long | potted.After(taken.Add(60 * time.Minute)) | !potted.Before(taken.Add(60 * time.Minute))",
		"dead\tsample.go | Long | taken.Add(60 * time.Minute) | taken.Add(-(60 * time.Minute))",
		"dead\tsample.go | Long | 60 | 61",
		"dead\tsample.go | Long | 60 | 59",
		"dead\tsample.go | Long | taken.IsZero() | true",
		"dead\tsample.go | Long | false | true",
		"dead\tsample.go | Few | got < needed | got >= needed",
		"lives, never another value\tsample.go | Few | got < needed | got <= needed",
		"dead\tsample.go | Late | continue | (nothing)",
		"dead\tsample.go | Late | late++ | (nothing)",
		"dead\tsample.go | Late | late++ | late--",
		"dead\tsample.go | Late | allowance | allowance + time.Duration(1e9)",
		"dead\tsample.go | Late | allowance | allowance - time.Duration(1e9)",
		"dead\tsample.go | Late | scan.Before(from.Add(allowance)) | !scan.After(from.Add(allowance))",
		"lives, never reached\tsample.go | Forgotten | !open | open",
	} {
		require.Contains(t, lines, want)
	}
	require.Regexp(t, `^\d+ mutants, \d+ reached, \d+ killed \(0 of them by hanging\), .* 0 live with a reason, 2 without; 0 left out`, summary)
}

func TestASurvivorNeedsAReason(t *testing.T) {
	folder, list := unpack(t,
		"sample.go\tFew\tgot < needed\tgot <= needed\tcounted elsewhere",
		"sample.go\tForgotten\t!open\topen\tto be removed")
	_, summary, err := fates(t, "-package", folder, "-survivors", list, "-least", "0.8")
	require.NoError(t, err)
	require.Contains(t, summary, "2 live with a reason, 0 without")

	_, _, err = fates(t, "-package", folder, "-survivors", list, "-least", "0.99")
	require.ErrorIs(t, err, errBite, "too few die, though each survivor has a reason")

	for line, want := range map[string]string{
		"sample.go\tFew\tgot < needed\tgot <= needed\t ": "no reason",
		"sample.go\tFew": "2 cells, must be 5",
	} {
		_, list := unpack(t, line)
		err := run(t.Context(), []string{"-package", folder, "-survivors", list}, &bytes.Buffer{}, &bytes.Buffer{})
		require.ErrorContains(t, err, want)
	}
}

// The tree is never touched: what is instrumented lies elsewhere.
func TestTheSampleIsNotTouched(t *testing.T) {
	folder, list := unpack(t)
	before, err := os.ReadDir(folder)
	require.NoError(t, err)
	_, _, err = fates(t, "-package", folder, "-survivors", list, "-only", "sample.go", "-sample", "3")
	if err != nil {
		require.ErrorIs(t, err, errBite)
	}
	after, err := os.ReadDir(folder)
	require.NoError(t, err)
	require.Equal(t, names(before), names(after))
}

func names(entries []os.DirEntry) []string {
	var out []string
	for _, e := range entries {
		out = append(out, e.Name())
	}
	return out
}

func TestNumbersOfAFileAreChangedOneAtATime(t *testing.T) {
	folder, list := unpack(t)
	numbers := filepath.Join(folder, "numbers")
	lines, summary, err := fates(t, "-package", numbers, "-numbers", filepath.Join(numbers, "numbers.toml"), "-survivors", list, "-all")
	require.ErrorIs(t, err, errBite)
	slices.Sort(lines)
	require.Equal(t, []string{
		"dead\tnumbers.toml | limits.room-open.span | 30m | 31m",
		"dead\tnumbers.toml | limits.room-open.steps | 1 | 2",
		"dead\tnumbers.toml | limits.room-open.steps | 2 | 3",
		"lives\tnumbers.toml | limits.room-open.share | 0.9 | 1.0",
	}, lines)
	require.Contains(t, summary, "4 mutants, 4 reached, 3 killed")
}

func TestTheSameWordDrawsTheSameSample(t *testing.T) {
	folder, list := unpack(t)
	draw := func(word string) string {
		p, err := load(t.Context(), folder)
		require.NoError(t, err)
		sites := p.find(nil)
		number(sites)
		var out []string
		for _, m := range sample(mutantsOf(sites), 5, word) {
			out = append(out, m.name())
		}
		return strings.Join(out, "\n")
	}
	require.Equal(t, draw("a"), draw("a"))
	require.NotEqual(t, draw("a"), draw("b"))
	require.FileExists(t, list)
}
