package cli_test

import (
	"bytes"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/cli"
)

// TestACommandCalledWronglySaysSoInPlainWords: who stands in a dark room with a printer is told what to change, not how a
// library of commands calls it.
func TestACommandCalledWronglySaysSoInPlainWords(t *testing.T) {
	for line, says := range map[string]string{
		"labels":           "nothing was named, at least 1 must be named",
		"labels bind a b":  "2 things were named, and 1 is what this command takes",
		"labels reserve":   "nothing was named, and 1 is what this command takes",
		"labels reserve 5": "--clinic must be given",
		"labels MBY-26-00417-A --out a.png --printer room-2":    "--out and --printer do not go together: give one",
		"labels MBY-26-00417-A --dots 8 --printer room-2":       "--dots and --printer do not go together: give one",
		"labels MBY-26-00417-A --out a.png --needed --one-more": "--needed and --one-more do not go together: give one",
		"labels MBY-26-00417-A --out a.png --dots 23.6":         `--dots "23.6": give a whole number`,
		"labels MBY-26-00417-A --out a.pdf --used three":        `--used "three": give a whole number`,
		"printers settle": "nothing was named, and 1 is what this command takes",
	} {
		var out, said bytes.Buffer
		code := cli.Run(t.Context(), strings.Fields(line), cli.Streams{In: strings.NewReader(""), Out: &out, Err: &said, Getenv: os.Getenv})
		require.Equal(t, 2, code, line)
		require.Contains(t, said.String(), "pottrail: "+says+"\n", line)
		require.Empty(t, out.String(), line)
		for _, foreign := range []string{"arg(s)", "strconv", "flag", "group"} {
			require.NotContains(t, said.String(), foreign, line)
		}
	}
}
