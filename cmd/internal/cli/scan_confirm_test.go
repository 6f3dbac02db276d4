package cli

import (
	"bytes"
	"fmt"
	"io"
	"net"
	"net/http"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/tracker"
)

// unsteady is a daemon that records, and fails to say so as often as it is told.
type unsteady struct {
	mu       sync.Mutex
	fails    int
	how      func(w http.ResponseWriter)
	recorded map[tracker.EventID]int
}

func (u *unsteady) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	data, _ := io.ReadAll(r.Body)
	var sent []struct {
		ID tracker.EventID `json:"id"`
	}
	if json.Unmarshal(data, &sent) != nil || len(sent) != 1 {
		http.Error(w, "no event", http.StatusBadRequest)
		return
	}
	u.mu.Lock()
	defer u.mu.Unlock()
	u.recorded[sent[0].ID]++
	if u.fails > 0 {
		u.fails--
		u.how(w)
		return
	}
	fmt.Fprintf(w, `[{"id":%q,"ok":true,"seq":1,"raised":[],"cleared":[]}]`, sent[0].ID)
}

// atUnsteady is somebody who scans at a prompt into an unsteady daemon.
func atUnsteady(t *testing.T, u *unsteady) (*scanning, *bytes.Buffer) {
	t.Helper()
	u.recorded = map[tracker.EventID]int{}
	dir := t.TempDir()
	l, err := net.Listen("unix", filepath.Join(dir, "pottrail.sock"))
	require.NoError(t, err)
	server := &http.Server{Handler: u}
	go func() { _ = server.Serve(l) }()
	t.Cleanup(func() { _ = server.Close() })
	var out bytes.Buffer
	a := &app{Streams: Streams{Out: &out, Err: &out, In: strings.NewReader("")}, options: config.Defaults(func(string) string { return "" })}
	a.options.Folder.Dir = dir
	s := &scanning{app: a, by: "porter.lund", station: "hatch", prompt: true, fill: filling{place: "hatch"}}
	s.step, err = findStep("custody")
	require.NoError(t, err)
	return s, &out
}

func hangsUp(http.ResponseWriter) { panic(http.ErrAbortHandler) }

func says503(w http.ResponseWriter) {
	w.WriteHeader(http.StatusServiceUnavailable)
	_, _ = io.WriteString(w, `{"error":{"code":"not-confirmed","text":"the disk failed while recording"}}`)
}

// After a failed write the person is told to scan again, and the same scan again is one event.
func TestAScanThatNobodyConfirmedIsScannedAgainAndIsOneEvent(t *testing.T) {
	for name, how := range map[string]func(http.ResponseWriter){"the connection breaks": hangsUp, "the disk fails": says503} {
		t.Run(name, func(t *testing.T) {
			u := &unsteady{fails: 1000, how: how}
			s, out := atUnsteady(t, u)
			require.NoError(t, s.one(t.Context(), "MBY-26-00417-A"), "the prompt goes on")
			require.Contains(t, out.String(), bell+"NOT CONFIRMED MBY-26-00417 A: scan it again; it is recorded once.")
			u.mu.Lock()
			u.fails = 0
			u.mu.Unlock()
			out.Reset()
			require.NoError(t, s.one(t.Context(), "MBY-26-00417-A"))
			require.NotContains(t, out.String(), "NOT")
			require.Len(t, u.recorded, 1, "one id")
			require.Empty(t, s.waiting)
			require.NoError(t, s.one(t.Context(), "MBY-26-00417-A"))
			require.Len(t, u.recorded, 2, "what was confirmed and is scanned again is another event")
			require.NoError(t, s.one(t.Context(), "MBY-26-00417-B"))
			require.Len(t, u.recorded, 3)
		})
	}
}

func TestADaemonThatComesBackInTimeIsNotNoticed(t *testing.T) {
	u := &unsteady{fails: 2, how: hangsUp}
	s, out := atUnsteady(t, u)
	s.patience = time.Minute
	require.NoError(t, s.one(t.Context(), "MBY-26-00417-A"))
	require.NotContains(t, out.String(), "NOT")
	require.Len(t, u.recorded, 1)
}

// Without a prompt nobody can scan again into the same command: it says so, and where to look.
func TestACommandThatEndsUnsureSaysWhereToLook(t *testing.T) {
	u := &unsteady{fails: 1000, how: hangsUp}
	s, _ := atUnsteady(t, u)
	s.prompt = false
	err := s.one(t.Context(), "MBY-26-00417-A")
	require.ErrorContains(t, err, "not confirmed")
	var e *exitError
	require.ErrorAs(t, err, &e)
	require.Equal(t, exitCouldNot, e.code)
	require.Contains(t, e.hint, "it may have been recorded: look with `pottrail trail")
	s.app.options.Folder.Dir = t.TempDir()
	err = s.one(t.Context(), "MBY-26-00417-A")
	require.ErrorContains(t, err, "no daemon answers")
	require.NotContains(t, err.Error(), "not confirmed", "nothing was sent")
}
