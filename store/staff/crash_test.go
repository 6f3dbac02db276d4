package staff_test

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"github.com/pottrail/pottrail/store/staff"
)

const victimEnv = "POTTRAIL_STAFF_TEST_VICTIM"

// TestMain lets the test binary be its own victim.
func TestMain(m *testing.M) {
	if path := os.Getenv(victimEnv); path != "" {
		if err := victim(path); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	goleak.VerifyTestMain(m) // a file that was closed leaves nobody waiting
}

// victim puts people on the list, enrols stations, signs in and out, and notes doubts, and prints what was acknowledged, until
// it is killed.
func victim(path string) error {
	ctx := context.Background()
	f, err := staff.Open(path, key(1), staff.Options{Cost: cheap})
	if err != nil {
		return err
	}
	from, err := strconv.Atoi(os.Getenv(victimEnv + "_FROM"))
	if err != nil {
		return err
	}
	for i := from; ; i++ {
		who, at, pin := fmt.Sprintf("clerk.%d", i), fmt.Sprintf("desk-%d", i), fmt.Sprintf("pw of clerk %d", i)
		if err := f.Add(ctx, who, pin, "admin.falk"); err != nil {
			return err
		}
		fmt.Println("added", i) // one write, unbuffered
		token, _, err := f.NewLink(staff.Station{Key: at, By: who})
		if err != nil {
			return err
		}
		_, secret, err := f.Enrol(token)
		if err != nil {
			return err
		}
		fmt.Println("enrolled", i, secret)
		if _, err := f.SignIn(ctx, secret, who, "not it"); err != nil {
			fmt.Println("wrong", i)
		}
		if err := f.Unlock(who, ""); err != nil {
			return err
		}
		in, err := f.SignIn(ctx, secret, who, pin)
		if err != nil {
			return err
		}
		fmt.Println("in", i, in.Token)
		if err := f.NoteDoubts(staff.Doubt{ID: fmt.Sprintf("event %d", i), By: who}); err != nil {
			return err
		}
		fmt.Println("doubted", i)
		if i%2 == 0 {
			if err := f.SignOut(in.Token); err != nil {
				return err
			}
			fmt.Println("out", i, in.Token)
		}
		if i%5 == 0 {
			if err := f.Remove(who, "admin.falk"); err != nil {
				return err
			}
			fmt.Println("removed", i)
		}
	}
}

// A process killed at any instant has on disk what it had acknowledged.
func TestWhatWasAcknowledgedSurvivesAKill(t *testing.T) {
	rounds := 12
	if testing.Short() {
		rounds = 3
	}
	path := filepath.Join(t.TempDir(), "staff.db")
	said := map[string]map[int]string{}
	total := 0
	for round := range rounds {
		cmd := exec.CommandContext(t.Context(), os.Args[0])
		cmd.Env = append(os.Environ(), victimEnv+"="+path, fmt.Sprintf("%s_FROM=%d", victimEnv, 1+round*1000))
		out, err := cmd.StdoutPipe()
		require.NoError(t, err)
		var complaints strings.Builder
		cmd.Stderr = &complaints
		require.NoError(t, cmd.Start())
		lines := bufio.NewScanner(out)
		for n := 0; lines.Scan(); n++ {
			words := strings.Fields(lines.Text())
			i, err := strconv.Atoi(words[1])
			require.NoError(t, err)
			if said[words[0]] == nil {
				said[words[0]] = map[int]string{}
			}
			said[words[0]][i] = words[len(words)-1]
			total++
			if n == 20+round*11 { // another instant each time
				require.NoError(t, cmd.Process.Kill())
			}
		}
		_ = cmd.Wait() // killed
		require.Empty(t, complaints.String())

		f, err := staff.Open(path, key(1), staff.Options{Cost: cheap})
		require.NoError(t, err)
		require.NoError(t, f.Check())
		require.True(t, f.InForce())
		for i := range said["added"] {
			known, err := f.Known(fmt.Sprintf("clerk.%d", i))
			require.NoError(t, err)
			_, removed := said["removed"][i]
			if removed || i%5 != 0 {
				require.Equal(t, !removed, known, "round %d: clerk %d", round, i)
			}
		}
		for i, secret := range said["enrolled"] {
			s, err := f.Station(secret)
			require.NoError(t, err)
			require.Equal(t, fmt.Sprintf("desk-%d", i), s.Key)
		}
		for i, token := range said["in"] {
			_, _, err := f.Session(token, false)
			switch out, gone := said["out"][i]; {
			case gone:
				require.Equal(t, token, out)
				require.Error(t, err)
			case i%2 != 0 && i%5 != 0:
				require.NoError(t, err, "round %d: the session of clerk %d", round, i)
			}
		}
		doubts, _, err := f.Doubts(0)
		require.NoError(t, err)
		require.GreaterOrEqual(t, len(doubts), len(said["doubted"]))
		require.NoError(t, f.Close())
	}
	t.Logf("%d kills, %d changes acknowledged, none lost", rounds, total)
}
