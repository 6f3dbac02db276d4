package daemon

import (
	"bufio"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
)

// long reports whether tests of a long life run at full length. In short they take seconds.
func long() bool { return os.Getenv("POTTRAIL_LONG") != "" }

// atWork is a daemon for one test, with pages on loopback and nobody outside on NATS.
func atWork(t testing.TB, cached int) *running {
	t.Helper()
	o := Options{Options: config.Defaults(func(string) string { return "" }), Log: slog.New(slog.DiscardHandler), Version: "v0.0.0", cached: cached}
	o.Folder.Dir, o.Web.Listen = t.TempDir(), "127.0.0.1:0"
	d := &running{o: o, broken: make(chan error, 1)}
	require.NoError(t, d.start())
	t.Cleanup(d.stop)
	return d
}

// feed records what tellers tell, in batches, through the daemon's own intake. After each batch it calls between.
func feed(t testing.TB, d *running, tellers []*teller, events, batch int, between func(done int)) {
	t.Helper()
	for done := 0; done < events; done += batch {
		verdicts, err := d.service.intake.submit(t.Context(), toldBy(t, tellers, done, batch))
		require.NoError(t, err)
		for _, v := range verdicts {
			require.True(t, v.OK, "%v", v.Error)
		}
		between(done + batch)
	}
}

func toldBy(t testing.TB, tellers []*teller, done, n int) []store.Intake {
	batch := make([]store.Intake, n)
	for i := range batch {
		e, err := events.Decode(tellers[(done+i)%len(tellers)].next())
		require.NoError(t, err)
		batch[i].Event = e
	}
	return batch
}

// Clients that ask for everything and never read a byte of the answer hold up nobody and no page of the ledger: recording
// goes on, the file grows as without them, and no reading of the ledger is long.
func TestClientsThatNeverReadHoldUpNothing(t *testing.T) {
	n := 3_000
	if long() {
		n = 50_000
	}
	w := newWorkload(t)
	grown := func(asks []string) int64 {
		d := atWork(t, 0)
		var tellers []*teller
		for i := range 20 {
			tellers = append(tellers, w.newTeller(i))
		}
		feed(t, d, tellers, 500, 50, func(int) {})
		for _, path := range asks {
			conn, err := net.Dial("tcp", d.pages.Addr().String())
			require.NoError(t, err)
			t.Cleanup(func() { _ = conn.Close() })
			require.NoError(t, conn.(*net.TCPConn).SetReadBuffer(1)) // the least that the system allows
			_, err = fmt.Fprintf(conn, "GET %s HTTP/1.1\r\nHost: localhost\r\n\r\n", path)
			require.NoError(t, err)
		}
		feed(t, d, tellers, n, 50, func(int) {})
		stats := d.ledger.Stats()
		require.Less(t, stats.LongestRead, time.Second)

		response, err := http.Get("http://" + d.pages.Addr().String() + "/healthz")
		require.NoError(t, err)
		_, err = bufio.NewReader(response.Body).ReadString(0)
		require.Error(t, err, "to its end")
		require.NoError(t, response.Body.Close())
		require.Equal(t, http.StatusOK, response.StatusCode)
		http.DefaultClient.CloseIdleConnections()
		t.Logf("%d clients that do not read, %d events, %.1f MiB, the longest read %s", len(asks), n, float64(stats.FileBytes)/(1<<20), stats.LongestRead.Round(time.Microsecond))
		d.stop()
		return stats.FileBytes
	}
	alone := grown(nil)
	var asks []string
	for range 5 {
		asks = append(asks, "/", "/v1/events", "/v1/flags", "/v1/chase", "/v1/live", "/metrics")
	}
	require.InEpsilon(t, alone, grown(asks), 0.15)
}
