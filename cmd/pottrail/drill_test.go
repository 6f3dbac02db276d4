package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/daemon"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
	"github.com/pottrail/pottrail/tracker"
)

// past fills a folder's ledger with so many events of before, twenty notes a case.
func past(t *testing.T, folder string, events int) {
	require.NoError(t, os.MkdirAll(folder, 0o700))
	l, err := store.Open(filepath.Join(folder, "ledger.db"), store.Options{})
	require.NoError(t, err)
	const batch, ofCase = 500, 20
	at := time.Now().AddDate(0, 0, -30)
	for done := 0; done < events; {
		var list []*tracker.Event
		for range min(batch, events-done) {
			name, err := tracker.CaseName("HCX", 26, done/ofCase+1)
			require.NoError(t, err)
			at = at.Add(time.Second)
			list = append(list, &tracker.Event{ID: tracker.EventID(fmt.Sprintf("018f0000-0000-7000-8000-%012d", done)), Kind: tracker.KindNoteAdded, Clinic: "HCX", At: at, By: "nurse.osei", Station: "desk",
				Items: []tracker.Item{{Name: name}}, Data: &tracker.NoteAdded{Text: "n"}})
			done++
		}
		storetest.Record(t, l, at, list...)
	}
	require.NoError(t, l.Close())
}

// The drill: a backup is made while four clients record without a pause, the machine is lost a moment later, and the backup is
// put back on another. Of what was confirmed before the backup began nothing is lost, and clients that send again what they
// still hold lose nothing at all. POTTRAIL_DRILL says how many events are in the record before; it prints how long it takes.
func TestRestoreDrill(t *testing.T) {
	folder, again := filepath.Join(t.TempDir(), "clinic"), filepath.Join(t.TempDir(), "again")
	before, err := strconv.Atoi(os.Getenv("POTTRAIL_DRILL"))
	if err != nil {
		before = 2000
	}
	past(t, folder, before)
	p := start(t, folder, "serve")
	p.ready(t)

	said := &acked{ids: map[string]uint64{}}
	var sent sync.Map // id → event, as a phone keeps it until it is confirmed and backed up
	ctx, stop := context.WithCancel(t.Context())
	var clients sync.WaitGroup
	for i := range 4 {
		clients.Go(func() {
			client := http.Client{Transport: &http.Transport{DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) { return daemon.DialSocket(ctx, folder) }}}
			for n := 0; ctx.Err() == nil; n++ {
				id, body := note(1000*(i+1) + n/20)
				sent.Store(id, body)
				v, ok := post(ctx, &client, body)
				if !ok {
					return // the machine is gone
				}
				if v.OK {
					said.add(v)
				}
			}
		})
	}
	known := func() map[string]uint64 {
		said.mu.Lock()
		defer said.mu.Unlock()
		return maps.Clone(said.ids)
	}
	require.Eventually(t, func() bool { return len(known()) > 200 }, within, 10*time.Millisecond)

	confirmed := known()
	began := time.Now()
	archive := filepath.Join(t.TempDir(), "drill.tar")
	out, err := exec.Command("pottrail", "backup", archive, "--data", folder).CombinedOutput()
	require.NoError(t, err, "%s", out)
	made := time.Since(began)
	after := len(known())
	require.Eventually(t, func() bool { return len(known()) > after+50 }, within, 10*time.Millisecond, "recording goes on")
	p.end(t, os.Kill)
	stop()
	clients.Wait()
	key, err := os.ReadFile(filepath.Join(folder, "people.key")) // kept apart
	require.NoError(t, err)
	require.NoError(t, os.RemoveAll(folder))

	stick := filepath.Join(t.TempDir(), "people.key")
	require.NoError(t, os.WriteFile(stick, key, 0o600))
	began = time.Now()
	out, err = exec.Command("pottrail", "restore", archive, "--data", again, "--key", stick).CombinedOutput()
	require.NoError(t, err, "%s", out)
	p = start(t, again, "serve")
	p.ready(t)
	back := time.Since(began)

	there := exported(t, again)
	for id, seq := range confirmed {
		require.Equal(t, seq, there[id], "confirmed before the backup began, and lost")
	}
	all := known()
	lost := 0
	for id := range all {
		if _, ok := there[id]; !ok {
			lost++
		}
	}
	require.Positive(t, lost, "the twin: what was confirmed after the backup is not in it, and this look sees that")

	client := http.Client{Transport: &http.Transport{DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) { return daemon.DialSocket(ctx, again) }}}
	twice := 0
	sent.Range(func(id, body any) bool {
		if _, known := there[id.(string)]; known {
			if twice++; twice > 100 { // a hundred of those will show that none counts twice
				return true
			}
		}
		v, ok := post(t.Context(), &client, body.(string))
		return ok && v.OK
	})
	there = exported(t, again) // each id once
	for id := range all {
		require.NotZero(t, there[id], "sent again, and not there")
	}
	info, err := os.Stat(archive)
	require.NoError(t, err)
	t.Logf("drill: %d events before; confirmed before the backup %d, lost 0; confirmed in all %d, of these after the backup %d, lost 0 once sent again; archive %d MiB; backup %s, restored and serving in %s",
		before, len(confirmed), len(all), lost, info.Size()>>20, made.Round(time.Millisecond), back.Round(time.Millisecond))
	p.end(t, os.Interrupt)
}

// post sends one event; ok is false when there was no answer.
func post(ctx context.Context, client *http.Client, body string) (v verdict, ok bool) {
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, "http://pottrail/v1/events", strings.NewReader(body))
	if err != nil {
		return v, false
	}
	response, err := client.Do(request)
	if err != nil {
		return v, false
	}
	defer response.Body.Close()
	answer, err := io.ReadAll(response.Body)
	return v, err == nil && json.Unmarshal(answer, &v) == nil
}
