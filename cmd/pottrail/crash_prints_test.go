package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// printJob is as much of a job as this test needs.
type printJob struct {
	Job   uint64 `json:"job"`
	Name  string `json:"name"`
	Copy  string `json:"copy"`
	State string `json:"state"`
}

// copyOf names one copy of one label.
func copyOf(name, copy string) string { return name + " copy " + copy }

// Killed at random moments while labels are printed, the daemon prints none twice, and every label that is recorded as printed
// came out, is asked about, or is recorded as spoiled.
func TestKillNinePrintsNothingTwiceAndAccountsForAll(t *testing.T) {
	dir := t.TempDir()
	folder, config := filepath.Join(dir, "clinic"), filepath.Join(dir, "printers.toml")
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	printer := &fakePrinter{listener: listener}
	t.Cleanup(printer.end)
	go printer.serve("takes", 0)
	require.NoError(t, os.WriteFile(config, fmt.Appendf(nil, "[printers.room-2]\nway = \"raw\"\nto = %q\nlanguage = \"zpl\"\ndots_per_mm = 8\nstock = [\"pot-50x25\"]\n", listener.Addr()), 0o600))
	const rounds, cases = 6, 4
	pots := make([]string, cases)
	for round := range rounds {
		p := start(t, folder, "serve", "--config", config)
		p.ready(t)
		for i := range pots {
			if round == 0 {
				pots[i] = openPot(t, folder)
			}
		}
		var all sync.WaitGroup
		for _, pot := range pots {
			all.Go(func() {
				for exec.Command("pottrail", "labels", pot, "--one-more", "--printer", "room-2", "--data", folder).Run() == nil {
				}
			})
		}
		<-time.After(time.Duration(30+rand.IntN(200)) * time.Millisecond)
		p.end(t, os.Kill)
		all.Wait()
	}
	p := start(t, folder, "serve", "--config", config)
	p.ready(t)
	states := map[string]string{}
	require.NoError(t, await(func() error {
		out, err := exec.Command("pottrail", "printers", "jobs", "--all", "--json", "--data", folder).Output()
		var answer struct {
			Jobs []printJob `json:"jobs"`
		}
		if bad := json.Unmarshal(out, &answer); bad != nil {
			return fmt.Errorf("%w: %w", bad, err)
		}
		for _, j := range answer.Jobs {
			states[copyOf(j.Name, j.Copy)] = j.State
			if j.State == "queued" || j.State == "sending" {
				return fmt.Errorf("job %d is still %s", j.Job, j.State)
			}
		}
		return nil
	}))
	recorded, spoiled := labelsRecorded(t, folder)
	p.end(t, os.Interrupt)

	printer.mu.Lock()
	defer printer.mu.Unlock()
	for i, one := range printer.taken {
		for _, other := range printer.taken[:i] {
			require.False(t, bytes.Equal(one, other), "a label came out twice")
		}
	}
	sent, unknown := 0, 0
	for label := range recorded {
		switch states[label] {
		case "sent":
			sent++
		case "unknown":
			unknown++
		case "not-printed":
			require.Contains(t, spoiled, label)
		default:
			t.Errorf("%s is recorded as printed, and its job is %q", label, states[label])
		}
	}
	require.Len(t, states, len(recorded), "no job without a record")
	require.LessOrEqual(t, sent, len(printer.taken), "what is called printed came out")
	require.LessOrEqual(t, len(printer.taken), sent+unknown, "what came out is known, or asked about")
	t.Logf("%d kills, %d labels recorded: %d sent, %d asked about; %d came out", rounds, len(recorded), sent, unknown, len(printer.taken))
}

// openPot opens a case and gives its first pot.
func openPot(t *testing.T, folder string) string {
	t.Helper()
	open := exec.Command("pottrail", "open", "--json", "--data", folder)
	open.Stdin = bytes.NewReader([]byte(`{"clinic": "MBY", "patient": {"family": "Tern", "given": "Ola", "birth_date": "1971-02-03", "record_number": "R-2"},
		"lesions": [{"organ": "thyroid", "target": "mass", "studies": ["histology"]}]}`))
	out, err := open.Output()
	require.NoError(t, err)
	var opened struct {
		Case string `json:"case"`
	}
	require.NoError(t, json.Unmarshal(out, &opened))
	return opened.Case + "-A"
}

// labelsRecorded gives the copies that the ledger has as printed, and as spoiled.
func labelsRecorded(t *testing.T, folder string) (printed, spoiled map[string]bool) {
	t.Helper()
	out, err := exec.Command("pottrail", "export", "--data", folder).Output()
	require.NoError(t, err)
	printed, spoiled = map[string]bool{}, map[string]bool{}
	lines := bufio.NewScanner(bytes.NewReader(out))
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		var e struct {
			Kind  string   `json:"kind"`
			Items []string `json:"items"`
			Data  struct {
				Copy string `json:"copy"`
			} `json:"data"`
		}
		require.NoError(t, json.Unmarshal(lines.Bytes(), &e))
		switch e.Kind {
		case "label.printed":
			require.False(t, printed[copyOf(e.Items[0], e.Data.Copy)], "a copy is recorded as printed once")
			printed[copyOf(e.Items[0], e.Data.Copy)] = true
		case "label.spoiled":
			spoiled[copyOf(e.Items[0], e.Data.Copy)] = true
		}
	}
	return printed, spoiled
}
