package cli

import (
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"
	"github.com/stretchr/testify/require"
)

// TestAnyFileNameIsWrittenAsOneTOMLText: a file may be called anything, and the lines are still TOML.
func TestAnyFileNameIsWrittenAsOneTOMLText(t *testing.T) {
	for name, want := range map[string]string{
		"trust.ics":                       "trust.ics",
		"our \"closed\" days\\2027.ics":   "our \"closed\" days\\2027.ics",
		"line\nbreak\t\x00.ics":           "line?break??.ics",
		"Weihnachten und Neujahr – ä.ics": "Weihnachten und Neujahr – ä.ics",
		"bad \xff byte":                   "bad ? byte",
	} {
		var read struct{ Source string }
		require.NoError(t, toml.Unmarshal([]byte("source = "+tomlText(name)), &read), name)
		require.Equal(t, want, read.Source)
	}
	require.Equal(t, "standard input", plainName("-"))
	require.Equal(t, "trust.ics", plainName("shared/lists/trust.ics"))
	require.Len(t, plainName(strings.Repeat("x", 200)), 80)
}
