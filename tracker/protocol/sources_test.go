package protocol_test

import (
	"fmt"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/testdata/published"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// whatToDo ends each message of a source that does not resolve.
const whatToDo = `end each part of a source with its entry in testdata/published/sources.tsv: "common practice, no source [N1]", "pottrail default [P1]", "ASCO/CAP 2011, FAQ 3 [F2]; later editions (from memory) [F2b]"; add a row there if there is none`

// unresolved says what is wrong with a source: each part of it must end in entries that there are, and say "from memory",
// "common practice, no source" or "pottrail default" exactly when they do.
func unresolved(entries map[string]published.Row, source string) string {
	rest := strings.TrimSpace(source)
	if !strings.HasSuffix(rest, "]") {
		return "it does not end in an entry"
	}
	for rest != "" {
		part, behind, opened := strings.Cut(rest, "[")
		cited, after, closed := strings.Cut(behind, "]")
		if !opened || !closed {
			return fmt.Sprintf("%q has no entry behind it", rest)
		}
		rest = strings.TrimSpace(after)
		for entry := range strings.SplitSeq(cited, ", ") {
			row, known := entries[entry]
			if !known {
				return fmt.Sprintf("there is no entry %q", entry)
			}
			basis := row.Text("basis")
			for _, word := range []string{"from memory", "common practice, no source", "pottrail default"} {
				if strings.Contains(part, word) != strings.HasPrefix(basis, word) {
					return fmt.Sprintf("%q says something else than entry %s, which is %s", strings.TrimSpace(part), entry, basis)
				}
			}
		}
	}
	return ""
}

// sourceLine is a line of a protocol that has a source.
var sourceLine = regexp.MustCompile(`\bsource\s*=\s*"([^"]*)"`)

// TestEverySourceResolves: each source in the protocol inside the program is an entry of testdata/published/sources.tsv, and
// says that it is from memory exactly when that table does.
func TestEverySourceResolves(t *testing.T) {
	entries := published.Entries(t)
	found := 0
	for i, line := range strings.Split(protocol.Default().Text, "\n") {
		if strings.HasPrefix(strings.TrimSpace(line), "#") {
			continue // an example of a clinic's own
		}
		for _, m := range sourceLine.FindAllStringSubmatch(line, -1) {
			found++
			if wrong := unresolved(entries, m[1]); wrong != "" {
				t.Errorf("default.toml:%d: %q: %s: %s", i+1, m[1], wrong, whatToDo)
			}
		}
	}
	require.Greater(t, found, 80, "the sources are found at all")
}

func TestEverySourceResolvesCanFail(t *testing.T) {
	entries := published.Entries(t)
	for source, want := range map[string]string{
		"ASCO/CAP 2011, FAQ 3: 6 to 72 h [F2]":                  "",
		"ASCO/CAP 2011 [F2]; HER2 2023 (from memory) [F2b]":     "",
		"handbooks [C2, C12]; with loss: pottrail default [P1]": "",
		"common practice, no source [N1]":                       "",
		"":                                                      "does not end in an entry",
		"ASCO/CAP 2011, FAQ 3: 6 to 72 h":                       "does not end in an entry",
		"ASCO/CAP 2011 [F2]; HER2 2023":                         "does not end in an entry",
		"ASCO/CAP 2011 [F222]":                                  "no entry \"F222\"",
		"ASCO/CAP 2011 [F2,C1]":                                 "no entry \"F2,C1\"",
		"ASCO/CAP 2011 (from memory) [F2]":                      "entry F2, which is found",
		"HER2 2023 [F2b]":                                       "entry F2b, which is from memory, high",
		"common practice, no source [F2]":                       "entry F2, which is found",
		"one hour [N1]":                                         "entry N1, which is common practice, no source",
		"ten minutes [P1]":                                      "entry P1, which is pottrail default",
		"pottrail default; urgent ones the same day: CAP/ADASP 2012 [T7]":         "entry T7, which is found",
		"ASCO/CAP 2011 [F2]; nobody knows]":                                       "has no entry behind it",
		"Fishman et al. (from memory) [A4], Sun et al. for receptors (2021) [A5]": "",
	} {
		wrong := unresolved(entries, source)
		if want == "" {
			require.Empty(t, wrong, source)
			continue
		}
		require.Contains(t, wrong, want, source)
	}
}
