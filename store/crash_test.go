package store_test

import (
	"bufio"
	"fmt"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
)

const victimEnv = "POTTRAIL_STORE_TEST_VICTIM"

// TestMain lets the test binary be its own victim.
func TestMain(m *testing.M) {
	if path := os.Getenv(victimEnv); path != "" {
		if err := victim(path); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	goleak.VerifyTestMain(m) // a ledger that was closed leaves nobody waiting
}

// victim records with several clients at once, and prints the id and position of each event that was answered, until it
// is killed.
func victim(path string) error {
	l, err := store.Open(path, store.Options{Origin: storetest.Origin})
	if err != nil {
		return err
	}
	_, recorded := l.Last()
	start, _ := l.Last()
	list := storetest.Life(start+1, 300)
	now := list[len(list)-1].At
	if recorded.After(now) {
		now = recorded
	}
	var clients sync.WaitGroup
	for client := range 8 {
		clients.Go(func() {
			for i := client; i < len(list); i += 8 {
				verdicts, err := l.Record(now, storetest.Intakes(list[i]))
				if err != nil {
					fmt.Fprintln(os.Stderr, err)
					return
				}
				if verdicts[0].OK {
					fmt.Printf("%s %d\n", verdicts[0].ID, verdicts[0].Seq) // one write, unbuffered
				}
			}
		})
	}
	clients.Go(func() {
		for {
			if _, err := l.Recheck(now, 20); err != nil {
				return
			}
			if _, err := l.TakeSerials("MBY", 27, 1); err != nil {
				return
			}
		}
	})
	clients.Wait()
	return nil
}

// A process killed at any instant has on disk what it had answered.
func TestWhatWasAnsweredSurvivesAKill(t *testing.T) {
	rounds := 20
	if testing.Short() {
		rounds = 4
	}
	path := storetest.Path(t)
	answered := map[string]uint64{}
	for round := range rounds {
		cmd := exec.CommandContext(t.Context(), os.Args[0])
		cmd.Env = append(os.Environ(), victimEnv+"="+path)
		out, err := cmd.StdoutPipe()
		require.NoError(t, err)
		var complaints strings.Builder
		cmd.Stderr = &complaints
		require.NoError(t, cmd.Start())
		// Killed after so many answers, which is another instant each time.
		lines := bufio.NewScanner(out)
		for n := 0; lines.Scan(); n++ {
			id, seq, ok := strings.Cut(lines.Text(), " ")
			if number, err := strconv.ParseUint(seq, 10, 64); ok && err == nil {
				answered[id] = number
			}
			if n == 3+round*11 {
				require.NoError(t, cmd.Process.Kill())
			}
		}
		_ = cmd.Wait() // killed
		require.Empty(t, complaints.String())

		l, err := store.Open(path, store.Options{Timeout: 10 * time.Second})
		require.NoError(t, err)
		stored := map[string]uint64{}
		last, _ := l.Last()
		for from := uint64(1); from <= last; {
			page, err := l.EventsFrom(from, 0)
			require.NoError(t, err)
			for _, entry := range page {
				e, err := entry.Event()
				require.NoError(t, err)
				stored[string(e.ID)] = entry.Seq
			}
			from += uint64(len(page))
		}
		require.Len(t, stored, int(last), "each once")
		for id, seq := range answered {
			require.Equal(t, seq, stored[id], "round %d: %s was answered", round, id)
		}
		if round%5 == 4 || round == rounds-1 {
			require.NoError(t, l.Check())
		}
		require.NoError(t, l.Close())
	}
	t.Logf("%d kills, %d answered", rounds, len(answered))
}
