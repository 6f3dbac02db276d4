package prints_test

import (
	"bufio"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"github.com/pottrail/pottrail/store/prints"
)

const victimEnv = "POTTRAIL_PRINTS_TEST_VICTIM"

// TestMain lets the test binary be its own victim.
func TestMain(m *testing.M) {
	if path := os.Getenv(victimEnv); path != "" {
		if err := victim(path); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	goleak.VerifyTestMain(m) // a queue that was closed leaves nobody waiting
}

// fates are what becomes of jobs in turn, by their number.
var fates = [][]prints.State{
	{prints.Prepared, prints.Queued, prints.Sending, prints.Sent},
	{prints.Prepared, prints.Queued, prints.Sending, prints.Unknown, prints.NotPrinted},
	{prints.Prepared, prints.Queued, prints.Sending, prints.Sent, prints.Confirmed},
	{prints.Prepared, prints.Queued, prints.Sending, prints.NotPrinted},
	{prints.Prepared, prints.Queued, prints.Sending, prints.Queued, prints.Sending, prints.Sent}, // nothing left at the first try
}

func fateOf(id uint64) []prints.State { return fates[id%uint64(len(fates))] }

// victim runs jobs through two printers and prints each state that was acknowledged, until it is killed.
func victim(path string) error {
	q, err := prints.Open(path, key(1))
	if err != nil {
		return err
	}
	said := func(id uint64, s prints.State) { fmt.Printf("%d %s\n", id, s) } // one write, unbuffered
	start, err := strconv.Atoi(os.Getenv(victimEnv + "_FROM"))
	if err != nil {
		return err
	}
	var printers sync.WaitGroup
	for n, printer := range []string{"room", "lab"} {
		printers.Go(func() {
			for i := range 400 {
				j, err := q.Prepare(time.Now(), label(printer, pot(start+2*i+n), '1'), []byte(bytesOf))
				if err != nil {
					fmt.Fprintln(os.Stderr, err)
					return
				}
				said(j.ID, prints.Prepared)
				if err := q.Queue(j.ID, time.Now()); err != nil {
					fmt.Fprintln(os.Stderr, err)
					return
				}
				said(j.ID, prints.Queued)
				if err := run(q, printer, said); err != nil {
					fmt.Fprintln(os.Stderr, err)
					return
				}
			}
		})
	}
	printers.Wait()
	return nil
}

// run takes what waits at a printer to its end.
func run(q *prints.Queue, printer string, said func(uint64, prints.State)) error {
	for {
		j, _, ok, err := q.Take(printer, time.Now())
		if err != nil || !ok {
			return err
		}
		said(j.ID, prints.Sending)
		fate := fateOf(j.ID)
		if j.Attempts == 1 && fate[3] == prints.Queued {
			if err := q.Again(j.ID, time.Now(), time.Now(), "no paper"); err != nil {
				return err
			}
			said(j.ID, prints.Queued)
			continue
		}
		for _, s := range fate[slices.Index(fate, prints.Sending)+1:] {
			switch s {
			case prints.Queued, prints.Sending:
				continue
			case prints.Sent:
				err = q.Sent(j.ID, time.Now())
			case prints.Unknown:
				err = q.Lost(j.ID, time.Now(), "it went away")
			case prints.Confirmed:
				_, err = q.Confirm(j.Name, j.Copy, time.Now())
			case prints.NotPrinted:
				if slices.Contains(fate, prints.Unknown) {
					err = q.Settle(j.ID, time.Now(), false, "nurse.osei", "room-2")
				} else {
					err = q.Refuse(j.ID, time.Now(), "wrong language")
				}
			}
			if err != nil {
				return err
			}
			said(j.ID, s)
		}
	}
}

// A process killed at any instant has on disk what it had acknowledged, and what may have come out never waits again.
func TestWhatWasAcknowledgedSurvivesAKill(t *testing.T) {
	rounds := 12
	if testing.Short() {
		rounds = 3
	}
	path := filepath.Join(t.TempDir(), "prints.db")
	said := map[uint64][]prints.State{} // in order
	before := map[uint64]prints.State{} // on disk after the last kill
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
			var id uint64
			var state prints.State
			if k, err := fmt.Sscanf(lines.Text(), "%d %s", &id, &state); k == 2 && err == nil && slices.Contains(fateOf(id), state) {
				said[id] = append(said[id], state)
				total++
			}
			if n == 20+round*17 { // another instant each time
				require.NoError(t, cmd.Process.Kill())
			}
		}
		_ = cmd.Wait() // killed
		require.Empty(t, complaints.String())

		q, err := prints.Open(path, key(1))
		require.NoError(t, err)
		require.NoError(t, q.Check())
		after := map[uint64]prints.State{}
		jobs, err := q.Jobs(prints.Filter{})
		require.NoError(t, err)
		for _, j := range jobs {
			after[j.ID] = j.State
			require.NotEqual(t, prints.Sending, j.State, "nobody is sending")
		}
		for id, states := range said {
			got, fate := after[id], fateOf(id)
			last := states[len(states)-1]
			// Acknowledged, or further on; what was being sent when the process ended is of unknown outcome.
			allowed := slices.Clone(fate[place(fate, states):])
			if slices.Contains(allowed, prints.Sending) {
				allowed = append(allowed, prints.Unknown)
			}
			if before[id] == prints.Unknown && !slices.Contains(fate, prints.Unknown) {
				allowed = []prints.State{prints.Unknown} // since an earlier kill
			}
			require.Contains(t, allowed, got, "round %d: job %d was acknowledged as %s", round, id, last)
			if got == prints.Queued && slices.Contains(states, prints.Sending) {
				require.Contains(t, fate[3:], prints.Queued, "round %d: job %d may have come out and waits again", round, id)
			}
			if before[id] == prints.Unknown {
				require.NotEqual(t, prints.Queued, got)
			}
		}
		before = after
		require.NoError(t, q.Close())
	}
	t.Logf("%d kills, %d transitions acknowledged of %d jobs, none lost", rounds, total, len(said))
}

// place is how far along its fate a job was when it last said something.
func place(fate, said []prints.State) int {
	at := -1
	for _, s := range said {
		if n := slices.Index(fate[at+1:], s); n >= 0 {
			at += n + 1
		}
	}
	return max(at, 0)
}
