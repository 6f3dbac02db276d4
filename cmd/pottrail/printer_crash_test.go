package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/daemon"
	"github.com/pottrail/pottrail/cmd/internal/web"
	"github.com/pottrail/pottrail/tracker"
)

// moodyPrinter takes most labels, and throws some connections away half-way.
type moodyPrinter struct {
	listener net.Listener
	mu       sync.Mutex
	calls    int // that brought at least one byte
	whole    [][]byte
}

func newMoodyPrinter(t *testing.T) *moodyPrinter {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	p := &moodyPrinter{listener: listener}
	t.Cleanup(func() { _ = listener.Close() })
	go func() {
		for {
			conn, err := listener.Accept()
			if err != nil {
				return
			}
			go p.take(conn.(*net.TCPConn))
		}
	}()
	return p
}

func (p *moodyPrinter) take(conn *net.TCPConn) {
	defer func() { _ = conn.Close() }()
	first := make([]byte, 1)
	if n, _ := conn.Read(first); n == 0 {
		return
	}
	p.mu.Lock()
	p.calls++
	p.mu.Unlock()
	if rand.IntN(6) == 0 {
		_, _ = io.CopyN(io.Discard, conn, 200)
		_ = conn.SetLinger(0)
		return
	}
	body, err := io.ReadAll(io.MultiReader(bytes.NewReader(first), conn))
	if err == nil {
		p.mu.Lock()
		p.whole = append(p.whole, body)
		p.mu.Unlock()
	}
	<-time.After(30 * time.Millisecond) // until it says that it has taken all: most kills fall in here
}

// local asks the daemon of a folder for something that only commands may.
func local[A any](ctx context.Context, folder, path string, request any) (answer A, err error) {
	client := http.Client{Transport: &http.Transport{DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) { return daemon.DialSocket(ctx, folder) }}}
	defer client.CloseIdleConnections()
	body, err := json.Marshal(request)
	if err != nil {
		return answer, err
	}
	post, err := http.NewRequestWithContext(ctx, http.MethodPost, "http://pottrail"+path, bytes.NewReader(body))
	if err != nil {
		return answer, err
	}
	post.Header.Set("Content-Type", "application/json")
	response, err := client.Do(post)
	if err != nil {
		return answer, err
	}
	defer func() { _ = response.Body.Close() }()
	text, err := io.ReadAll(response.Body)
	if err != nil {
		return answer, err
	}
	if response.StatusCode != http.StatusOK {
		return answer, fmt.Errorf("%s: %s", response.Status, text)
	}
	return answer, json.Unmarshal(text, &answer)
}

// Kill -9 while labels are on their way to printers that vanish now and then: no label is sent a second time once a byte of
// it has left, and each is accounted for.
func TestKillNinePrintsNoLabelTwice(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "clinic")
	all := []*moodyPrinter{newMoodyPrinter(t), newMoodyPrinter(t)}
	file := filepath.Join(t.TempDir(), "pottrail.toml")
	var tables string
	for i, p := range all {
		tables += fmt.Sprintf("[printers.room-%d]\nway = \"raw\"\nto = %q\nlanguage = \"zpl\"\ndots_per_mm = 8\nstock = [\"pot-50x25\"]\n", i, p.listener.Addr())
	}
	require.NoError(t, os.WriteFile(file, []byte(tables), 0o600))

	var mu sync.Mutex
	said := map[uint64]bool{} // jobs that the daemon said it had recorded
	const rounds = 3
	for range rounds {
		p := start(t, folder, "serve", "--config", file)
		p.ready(t)
		ctx, stop := context.WithCancel(t.Context())
		var rooms sync.WaitGroup
		for room := range all {
			opened, err := local[ask.Opened](ctx, folder, web.PathOpen, ask.OpenRequest{Clinic: "MBY", By: "clerk.ann", Station: "desk",
				Patient: ask.Patient{Family: "Halvorsen", Given: "Ingrid", BirthDate: "1961-02-14", RecordNumber: "MB-004417"},
				Lesions: []ask.OpenLesion{{Organ: "breast", Side: "left", Position: "2 o'clock", Target: "mass", Studies: []string{"histology"}}}})
			require.NoError(t, err)
			rooms.Go(func() {
				for range 35 { // copies
					answer, err := local[ask.PrintAnswer](ctx, folder, web.PathPrint, ask.PrintRequest{LabelsRequest: ask.LabelsRequest{Items: []string{string(opened.Case) + "-A"}},
						Printer: fmt.Sprintf("room-%d", room), By: "nurse.osei", Station: fmt.Sprintf("room-%d", room)})
					if err != nil {
						return
					}
					mu.Lock()
					for _, j := range answer.Jobs {
						said[j.Job] = true
					}
					mu.Unlock()
				}
			})
		}
		<-time.After(time.Duration(50+rand.IntN(400)) * time.Millisecond)
		p.end(t, os.Kill)
		stop()
		rooms.Wait()
	}

	p := start(t, folder, "serve", "--config", file)
	p.ready(t)
	var jobs ask.JobsAnswer
	require.NoError(t, await(func() error {
		var err error
		if jobs, err = local[ask.JobsAnswer](t.Context(), folder, web.PathJobs, ask.JobsRequest{All: true}); err != nil {
			return err
		}
		if slices.ContainsFunc(jobs.Jobs, func(j ask.PrintJob) bool { return j.State == ask.PrintQueued || j.State == ask.PrintSending }) {
			return fmt.Errorf("labels still wait")
		}
		return nil
	}), p.log.String())
	states, labels := map[string]int{}, map[string]bool{}
	for _, j := range jobs.Jobs {
		states[j.State]++
		require.False(t, labels[j.Code], "one job a copy")
		labels[j.Code] = true
		delete(said, j.Job)
	}
	require.Empty(t, said, "recorded, and not in the queue")
	calls, whole := 0, map[string]bool{}
	for _, p := range all {
		p.mu.Lock()
		calls += p.calls
		for _, body := range p.whole {
			require.False(t, whole[string(body)], "a label came out twice")
			whole[string(body)] = true
		}
		p.mu.Unlock()
	}
	require.LessOrEqual(t, calls, len(jobs.Jobs), "each label leaves at most once")
	require.LessOrEqual(t, states[ask.PrintSent], len(whole), "what is said to be sent was taken")

	out, err := exec.Command("pottrail", "export", "--data", folder).Output()
	require.NoError(t, err)
	kinds := map[tracker.Kind]int{}
	for line := range bytes.Lines(out) {
		var e struct {
			Kind tracker.Kind `json:"kind"`
		}
		require.NoError(t, json.Unmarshal(line, &e))
		kinds[e.Kind]++
	}
	require.Equal(t, len(jobs.Jobs), kinds[tracker.KindLabelPrinted], "each print is on record, and each that is on record was sent or is asked about")
	require.Equal(t, states["not-printed"], kinds[tracker.KindLabelSpoiled])
	p.end(t, os.Interrupt)
	t.Logf("%d kills, %d labels: %v; %d came out whole", rounds, len(jobs.Jobs), states, len(whole))
}
