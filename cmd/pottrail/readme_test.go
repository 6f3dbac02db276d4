package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/require"
)

// shells are the blocks of README.md that are typed into a shell.
var shells = regexp.MustCompile("(?s)```sh\n(.*?)```")

// hereDocument is a file that a shell writes from the lines that follow.
var hereDocument = regexp.MustCompile(`(?s)cat >(\S+) <<'END'\n(.*?)\nEND\n`)

// TestTheSessionOfTheReadmeWorks types what README.md shows, a daemon first and then a case from opening to receipt, and
// expects that nothing is wrong at its end.
func TestTheSessionOfTheReadmeWorks(t *testing.T) {
	readme, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	require.NoError(t, err)
	blocks := shells.FindAllStringSubmatch(string(readme), -1)
	require.Len(t, blocks, 2, "one block starts the daemon, the other is the case")

	var script, files strings.Builder
	serve := strings.TrimSpace(blocks[0][1])
	script.WriteString("exec " + serve + " --http 127.0.0.1:0 &serve&\nready clinic\nenv POTTRAIL_DATA=./clinic\n")
	session := hereDocument.ReplaceAllStringFunc(blocks[1][1], func(doc string) string {
		parts := hereDocument.FindStringSubmatch(doc)
		files.WriteString("-- " + parts[1] + " --\n" + parts[2] + "\n")
		return ""
	})
	typed := 0
	for line := range strings.Lines(session) {
		if strings.HasPrefix(line, "pottrail ") {
			verb := "exec "
			if strings.Contains(line, "# exits 1") {
				verb = "exits 1 "
			}
			line = verb + strings.ReplaceAll(line, "MBY-26-", "MBY-${YY}-")
			typed++
		}
		script.WriteString(line)
	}
	require.Greater(t, typed, 10, "the session is a whole case")
	script.WriteString("stdout 'Nothing is wrong'\nkill -INT serve\nwait serve\n")

	file := filepath.Join(t.TempDir(), "readme.txtar")
	require.NoError(t, os.WriteFile(file, []byte(script.String()+files.String()), 0o600))
	london, err := time.LoadLocation("Europe/London")
	require.NoError(t, err)
	testscript.Run(t, testscript.Params{
		Files: []string{file},
		Setup: func(env *testscript.Env) error {
			env.Setenv("YY", time.Now().In(london).Format("06"))
			env.Setenv("HOME", env.WorkDir)
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"ready": scriptReady, "exits": scriptExits},
	})
}
