package cli_test

import (
	"bytes"
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/cli"
	"github.com/pottrail/pottrail/tracker"
)

// TestCodesInHelpAreCodes: who copies an example must not be told that its check character does not fit.
func TestCodesInHelpAreCodes(t *testing.T) {
	found := 0
	for _, command := range []string{"scan", "trail", "labels", "open", "record"} {
		var out bytes.Buffer
		require.Zero(t, cli.Run(t.Context(), []string{command, "--help"}, cli.Streams{Out: &out, Err: &out, Getenv: func(string) string { return "" }}))
		for _, code := range regexp.MustCompile(`\b[A-Z][A-Z0-9]{2}[0-9]{7}[A-Z0-9]{5}\b`).FindAllString(out.String(), -1) {
			_, err := tracker.ParseCode(code)
			require.NoError(t, err, command)
			found++
		}
	}
	require.Positive(t, found)
}
