package published_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/testdata/published"
)

// bases are the words by which sources.tsv says where an entry comes from.
var bases = []string{"found", "from memory, high", "from memory, medium", "from memory, low", "derived", "common practice, no source", "pottrail default"}

func TestEachSourceSaysWhatItIs(t *testing.T) {
	for entry, r := range published.Entries(t) {
		require.NotEmpty(t, r.Text("says"), "%s", r)
		require.NotEmpty(t, r.Text("source"), "%s", r)
		require.Contains(t, bases, r.Text("basis"), "%s", r)
		require.NotContains(t, entry, " ", "%s", r)
	}
}

// Every row of every table names its entry, and the entry is in sources.tsv.
func TestEachRowHasASource(t *testing.T) {
	entries := published.Entries(t)
	for _, file := range published.Tables(t) {
		for _, r := range published.Table(t, file) {
			for entry := range strings.SplitSeq(r.Text("entry"), ", ") {
				require.Contains(t, entries, entry, "%s: add the entry to testdata/published/%s", r, published.Sources)
			}
			for column, cell := range r.Cells() {
				require.Equal(t, strings.TrimSpace(cell), cell, "%s, column %s", r, column)
				require.NotEmpty(t, cell, "%s, column %s: write - for none", r, column)
			}
		}
	}
}

func TestCitedReadsWhatStandsInBrackets(t *testing.T) {
	for source, want := range map[string][]string{
		"FAQ 3: 6 to 72 h [F2]":                          {"F2"},
		"FAQ 3 [F2]; later editions (from memory) [F2b]": {"F2", "F2b"},
		"two at once [C9, N1]":                           {"C9", "N1"},
		"none":                                           nil,
	} {
		require.Equal(t, want, published.Cited(source), source)
	}
	require.False(t, slices.Contains(published.Cited("unclosed [F2"), "F2"))
}
