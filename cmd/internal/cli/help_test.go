package cli_test

import (
	"bytes"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/cli"
)

func help(t *testing.T, args ...string) string {
	t.Helper()
	var out bytes.Buffer
	require.Zero(t, cli.Run(t.Context(), append(args, "--help"), cli.Streams{In: strings.NewReader(""), Out: &out, Err: &out, Getenv: os.Getenv}))
	return out.String()
}

var listed = regexp.MustCompile(`(?m)^  ([a-z-]+) {2,}\S`)

// Every command of the contract's page on faces that this release has is there, and every one shows an example.
func TestEveryCommandShowsAnExample(t *testing.T) {
	top := help(t)
	for _, name := range []string{"serve", "demo", "open", "labels", "scan", "record", "export", "trail", "chase", "flags", "check", "prove", "verify", "checkpoint", "rebuild", "protocol", "printers", "people", "version", "completion"} {
		require.Regexp(t, `(?m)^  `+name+` `, top)
	}
	commands := listed.FindAllStringSubmatch(top[strings.Index(top, "Available Commands"):], -1)
	require.Greater(t, len(commands), 14)
	for _, c := range commands {
		if c[1] == "help" || c[1] == "completion" {
			continue
		}
		text := help(t, c[1])
		require.Contains(t, text, "Examples:\n  pottrail "+c[1], c[1])
		if _, subs, ok := strings.Cut(text, "Available Commands:"); ok {
			for _, sub := range listed.FindAllStringSubmatch(subs, -1) {
				require.Contains(t, help(t, c[1], sub[1]), "Examples:\n  pottrail "+c[1]+" "+sub[1])
			}
		}
	}
}

// What prints data prints JSON too.
func TestWhatPrintsDataPrintsJSON(t *testing.T) {
	for _, name := range []string{"open", "labels", "scan", "record", "export", "trail", "chase", "flags", "check", "prove", "verify", "checkpoint", "rebuild", "version"} {
		require.Contains(t, help(t, name), "--json", name)
	}
	for _, name := range []string{"list", "test", "jobs", "settle", "call-off"} {
		require.Contains(t, help(t, "printers", name), "--json", name)
	}
	for _, name := range []string{"add", "list", "pin", "remove", "unlock", "set-up-link", "sessions", "end-session", "doubts"} {
		require.Contains(t, help(t, "staff", name), "--json", name)
	}
	for _, name := range []string{"enrol", "list", "remove"} {
		require.Contains(t, help(t, "stations", name), "--json", name)
	}
	for _, name := range []string{"find", "forget", "reads", "rotate-key"} {
		require.Contains(t, help(t, "people", name), "--json", name)
	}
}
