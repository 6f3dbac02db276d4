package main

import (
	"bufio"
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
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/daemon"
)

// process is a daemon in a process of its own.
type process struct {
	cmd    *exec.Cmd
	log    lockedBuffer
	folder string
}

// lockedBuffer takes a process's log while others read it.
type lockedBuffer struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (b *lockedBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.text.Write(p)
}

func (b *lockedBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.text.String()
}

func start(t *testing.T, folder string, args ...string) *process {
	t.Helper()
	p := &process{folder: folder}
	p.cmd = exec.Command("pottrail", append(args, "--data", folder, "--http", "127.0.0.1:0")...)
	p.cmd.Stderr = &p.log
	require.NoError(t, p.cmd.Start())
	t.Cleanup(func() {
		if p.cmd.ProcessState == nil {
			_ = p.cmd.Process.Kill()
			_ = p.cmd.Wait()
		}
	})
	return p
}

func (p *process) ready(t *testing.T) {
	t.Helper()
	require.NoError(t, awaitHealth(t.Context(), p.folder, true), p.log.String())
}

func (p *process) end(t *testing.T, signal os.Signal) {
	t.Helper()
	require.NoError(t, p.cmd.Process.Signal(signal))
	err := p.cmd.Wait()
	if signal != os.Kill {
		require.NoError(t, err, p.log.String())
	}
}

// note is an event about a case that nobody opened: well formed, and flagged.
func note(serial int) (id string, body string) {
	id = uuid.Must(uuid.NewV7()).String()
	return id, fmt.Sprintf(`{"id":%q,"kind":"note.added","clinic":"MBY","at":%q,"by":"nurse.osei","station":"desk","items":["MBY-26-%05d"],"data":{"text":"n"}}`,
		id, time.Now().Format(time.RFC3339Nano), serial)
}

// verdict is as much of a verdict as these tests need.
type verdict struct {
	ID  string `json:"id"`
	OK  bool   `json:"ok"`
	Seq uint64 `json:"seq"`
}

// acked collects what the daemon said is recorded.
type acked struct {
	mu  sync.Mutex
	ids map[string]uint64
}

func (a *acked) add(v verdict) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.ids[v.ID] = v.Seq
}

// load sends notes through the socket until the daemon is gone.
func load(ctx context.Context, folder string, serial int, said *acked) {
	client := http.Client{Transport: &http.Transport{DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) { return daemon.DialSocket(ctx, folder) }}}
	defer client.CloseIdleConnections()
	for {
		_, body := note(serial)
		request, err := http.NewRequestWithContext(ctx, http.MethodPost, "http://pottrail/v1/events", strings.NewReader(body))
		if err != nil {
			return
		}
		response, err := client.Do(request)
		if err != nil {
			return
		}
		answer, err := io.ReadAll(response.Body)
		_ = response.Body.Close()
		var v verdict
		if err != nil || json.Unmarshal(answer, &v) != nil {
			return
		}
		if v.OK {
			said.add(v)
		}
	}
}

// exported gives the ids in the ledger with their positions.
func exported(t *testing.T, folder string) map[string]uint64 {
	t.Helper()
	out, err := exec.Command("pottrail", "export", "--data", folder).Output()
	require.NoError(t, err)
	ids := map[string]uint64{}
	lines := bufio.NewScanner(bytes.NewReader(out))
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		var v verdict
		require.NoError(t, json.Unmarshal(lines.Bytes(), &v))
		_, twice := ids[v.ID] // require.NotContains looks at every key
		require.False(t, twice, "an id is recorded once")
		ids[v.ID] = v.Seq
		require.Equal(t, uint64(len(ids)), v.Seq, "positions have no gap")
	}
	return ids
}

// A verdict that says recorded means on disk: kill -9 at a random moment under load, start again, and look.
func TestKillNineLosesNoRecordedVerdict(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "clinic")
	said := &acked{ids: map[string]uint64{}}
	const rounds, clients = 6, 4
	for range rounds {
		p := start(t, folder, "serve")
		p.ready(t)
		var all sync.WaitGroup
		for i := range clients {
			all.Go(func() { load(t.Context(), folder, 1+i, said) })
		}
		<-time.After(time.Duration(20+rand.IntN(200)) * time.Millisecond)
		p.end(t, os.Kill)
		all.Wait()
	}
	p := start(t, folder, "serve")
	p.ready(t)
	stored := exported(t, folder)
	require.NotEmpty(t, said.ids)
	for id, seq := range said.ids {
		require.Equal(t, seq, stored[id], "recorded, and not there")
	}
	p.end(t, os.Interrupt)
	t.Logf("%d kills, %d recorded verdicts, %d events stored", rounds, len(said.ids), len(stored))
}

// SIGTERM lets what is on its way have its verdict, and ends with exit 0.
func TestTermDrains(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "clinic")
	p := start(t, folder, "serve")
	p.ready(t)
	said := &acked{ids: map[string]uint64{}}
	var all sync.WaitGroup
	for i := range 8 {
		all.Go(func() { load(t.Context(), folder, 1+i, said) })
	}
	<-time.After(200 * time.Millisecond)
	p.end(t, syscall.SIGTERM)
	all.Wait()
	require.Contains(t, p.log.String(), "stopped")
	_, err := os.Stat(filepath.Join(folder, "pottrail.sock"))
	require.ErrorIs(t, err, os.ErrNotExist)
	p = start(t, folder, "serve")
	p.ready(t)
	stored := exported(t, folder)
	for id, seq := range said.ids {
		require.Equal(t, seq, stored[id])
	}
	p.end(t, syscall.SIGTERM)
}

// The demo killed while its history goes in, and started again, has all of it, and what was recorded in between.
func TestTheDemoSurvivesKillNine(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "demo")
	said := &acked{ids: map[string]uint64{}}
	for range 2 {
		p := start(t, folder, "demo", "--weeks", "4")
		for health(t.Context(), folder) != nil && !answers(folder) {
			<-time.After(5 * time.Millisecond)
		}
		done := make(chan struct{})
		go func() { defer close(done); load(t.Context(), folder, 90000, said) }()
		<-time.After(time.Duration(10+rand.IntN(300)) * time.Millisecond)
		p.end(t, os.Kill)
		<-done
	}
	p := start(t, folder, "demo", "--weeks", "4")
	p.ready(t)
	stored := exported(t, folder)
	for id, seq := range said.ids {
		require.Equal(t, seq, stored[id], "recorded, and not there")
	}
	require.Greater(t, len(stored)-len(said.ids), 5000, "six weeks of a network")
	p.end(t, os.Interrupt)
	require.NotContains(t, p.log.String(), "level=ERROR")
}

// answers reports whether the socket is there, well or not.
func answers(folder string) bool {
	conn, err := daemon.DialSocket(context.Background(), folder)
	if err == nil {
		_ = conn.Close()
	}
	return err == nil
}

// While the daemon is gone for less than five seconds, record sends the same events again, and each is recorded once.
func TestRecordWaitsForADaemonThatStartsAgain(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "clinic")
	p := start(t, folder, "serve")
	p.ready(t)
	p.end(t, os.Kill)
	var lines strings.Builder
	for i := range 1200 {
		_, body := note(1 + i%7)
		lines.WriteString(body + "\n")
	}
	cmd := exec.Command("pottrail", "record", "--data", folder, "--json")
	cmd.Stdin = strings.NewReader(lines.String())
	var out bytes.Buffer
	cmd.Stdout = &out
	p = start(t, folder, "serve") // takes a moment, in which record finds nobody
	require.NoError(t, cmd.Start())
	p.ready(t)
	require.NoError(t, cmd.Wait(), out.String())
	require.Equal(t, 1200, strings.Count(out.String(), `"ok":true`))
	require.Len(t, exported(t, folder), 1200)
	p.end(t, os.Interrupt)

	cmd = exec.Command("pottrail", "record", "--data", folder)
	cmd.Stdin = strings.NewReader(lines.String())
	began := time.Now()
	err := cmd.Run()
	var exit *exec.ExitError
	require.ErrorAs(t, err, &exit)
	require.Equal(t, 3, exit.ExitCode())
	require.GreaterOrEqual(t, time.Since(began), 5*time.Second)
}
