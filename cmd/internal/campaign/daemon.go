package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"os/exec"
	"os/signal"
	"slices"
	"strings"
	"syscall"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/google/uuid"

	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/cmd/internal/daemon"
	"github.com/pottrail/pottrail/events"
)

// modeDaemon is the child that serves a data folder until it is killed or told to stop.
const modeDaemon = "daemon"

// serve runs a daemon, and prints the address of its pages when it is ready. More is how many bytes of the disk it leaves free.
func serve(ctx context.Context, folder string, more []string, out io.Writer) error {
	ctx, stop := signal.NotifyContext(ctx, syscall.SIGTERM)
	defer stop()
	o := daemon.Options{Options: config.Defaults(func(string) string { return "" }), Version: "v0.0.0",
		Log: slog.New(slog.NewTextHandler(os.Stderr, &slog.HandlerOptions{Level: slog.LevelError}))}
	o.Folder.Dir, o.Web.Listen = folder, "127.0.0.1:0"
	if len(more) > 0 {
		o.Store.Reserve = int64(whole(more[0]))
	}
	o.Ready = func(r daemon.Ready) { fmt.Fprintln(out, r.HTTP) }
	return daemon.Run(ctx, o)
}

// process is a daemon in a process of its own.
type process struct {
	cmd    *exec.Cmd
	folder string
	pages  string        // host:port
	took   time.Duration // until it was ready
	log    strings.Builder
}

// start starts a daemon and waits until it is ready.
func (o options) start(ctx context.Context, folder string) (*process, error) {
	return o.startUnder(ctx, nil, folder)
}

// startUnder is start under another program. With an error there may be a process all the same: one that ended.
func (o options) startUnder(ctx context.Context, under []string, folder string, more ...string) (*process, error) {
	args := slices.Concat(under, o.self(modeDaemon, append([]string{folder}, more...)...))
	p := &process{folder: folder, cmd: exec.CommandContext(ctx, args[0], args[1:]...)}
	p.cmd.Stderr = &p.log
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	began := time.Now()
	if err := p.cmd.Start(); err != nil {
		return nil, err
	}
	lines := bufio.NewScanner(out)
	if !lines.Scan() {
		p.kill()
		return p, fmt.Errorf("the daemon did not get ready: %s", p.log.String())
	}
	p.pages, p.took = lines.Text(), time.Since(began)
	return p, nil
}

// kill ends the daemon at once.
func (p *process) kill() {
	_ = p.cmd.Process.Kill() // it may have ended
	_ = p.cmd.Wait()
}

// stop lets the daemon end in its order.
func (p *process) stop() error {
	if err := p.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		return err
	}
	if err := p.cmd.Wait(); err != nil {
		return fmt.Errorf("the daemon did not end well: %w: %s", err, p.log.String())
	}
	return nil
}

// scan is one event about a case that nobody opened: well formed, and flagged.
type scan struct{ id, body string }

func newScan(serial int) scan {
	id := uuid.Must(uuid.NewV7()).String() // fails only without randomness
	return scan{id, fmt.Sprintf(`{"id":%q,"kind":"custody.taken","clinic":"MBY","at":%q,"by":"porter.amin","station":"desk","items":["MBY-26-%05d-A"],"data":{"place":"hatch"}}`,
		id, time.Now().Format(time.RFC3339Nano), serial)}
}

// client records over a connection of its own kind.
type client struct {
	http *http.Client
	to   string
}

// atSocket is a client at the daemon's socket, as the commands are.
func (p *process) atSocket() client {
	return client{&http.Client{Transport: &http.Transport{DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
		return daemon.DialSocket(ctx, p.folder)
	}}}, "http://pottrail/v1/events"}
}

// atPages is a client that opens a connection for each scan.
func (p *process) atPages() client {
	return client{&http.Client{Transport: &http.Transport{DisableKeepAlives: true}, Timeout: time.Minute}, "http://" + p.pages + "/v1/events"}
}

// errNoAnswer says that it is not known whether a scan was recorded.
var errNoAnswer = errors.New("no answer")

// record sends one scan and gives its verdict.
func (c client) record(ctx context.Context, s scan) (v events.Verdict, err error) {
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, c.to, strings.NewReader(s.body))
	if err != nil {
		return v, err
	}
	response, err := c.http.Do(request)
	if err != nil {
		return v, fmt.Errorf("%w: %w", errNoAnswer, err)
	}
	defer func() { _ = response.Body.Close() }()
	answer, err := io.ReadAll(response.Body)
	if err != nil {
		return v, fmt.Errorf("%w: %w", errNoAnswer, err)
	}
	if err := json.Unmarshal(answer, &v); err != nil || v.ID != s.id {
		return v, fmt.Errorf("%w: status %d", errNoAnswer, response.StatusCode)
	}
	return v, nil
}
