package daemon

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
)

// A page that is met damaged while something is recorded: nothing was recorded, and whoever sent it is told so.
func TestDamageMetWhileRecordingIsNoDoubt(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &slowLedger{fail: fmt.Errorf("record: %w: entry 5", store.ErrDamaged)}
		var broken []error
		in := newIntake(l, func(err error) { broken = append(broken, err) })
		for range 3 {
			_, err := in.submit(t.Context(), some(1, "a"))
			var e *ask.Error
			require.ErrorAs(t, err, &e)
			require.Equal(t, string(events.CodeLedgerDamaged), e.Code)
			require.Contains(t, e.Text, "not recorded")
		}
		in.stop() // who hears of it has heard by now
		require.Len(t, broken, 1)
	})
}

func TestTheDaemonStopsOverDamageAndSaysSo(t *testing.T) {
	d := &running{broken: make(chan error, 1), damage: &damage{log: slog.New(slog.DiscardHandler)}, service: &Service{}}
	d.service.intake = newIntake(&slowLedger{}, d.giveUp)
	defer d.service.intake.stop()
	d.health.damage = d.damage
	d.giveUp(fmt.Errorf("judge again: %w: entry 5 is missing", store.ErrDamaged))
	require.ErrorContains(t, <-d.broken, "entry 5 is missing")
	require.Error(t, d.health.Healthy())
	require.Contains(t, d.damage.what(), "entry 5 is missing")
	_, err := d.service.intake.submit(t.Context(), some(1, "a"))
	require.ErrorIs(t, err, errDamaged)
	d.giveUp(fmt.Errorf("%w: %w", store.ErrFatal, errors.New("input/output error")))
	require.ErrorIs(t, <-d.broken, store.ErrFatal)
}

// What the look at the start has missed and the checkpoints show is only read as well.
func TestARecordThatIsNotWhatWasSignedIsOnlyRead(t *testing.T) {
	o := config.Defaults(func(string) string { return "" })
	o.Folder.Dir, o.Web.Listen, o.NATS.Listen = filepath.Join(t.TempDir(), "clinic"), "127.0.0.1:0", "127.0.0.1:0"
	d := &running{o: Options{Options: o, Log: slog.New(slog.DiscardHandler)}, broken: make(chan error, 1)}
	defer d.stop()
	require.NoError(t, d.openStores())
	require.NoError(t, d.startOver(fmt.Errorf("%w: checkpoint 3", ErrEvidence)))
	require.Contains(t, d.ready().Damaged, "checkpoint 3")
	_, err := d.service.intake.submit(t.Context(), some(1, "a"))
	require.ErrorIs(t, err, errDamaged)
	status, page := fetch(t, "GET", "http://"+d.ready().HTTP+"/", "")
	require.Equal(t, http.StatusOK, status)
	require.Contains(t, page, "The ledger is damaged. Nothing is recorded")
}

// served runs a daemon over a folder until the test is over.
func served(t *testing.T, folder string) Ready {
	t.Helper()
	o := config.Defaults(func(string) string { return "" })
	o.Folder.Dir, o.Web.Listen, o.NATS.Listen = folder, "127.0.0.1:0", "127.0.0.1:0"
	ready, ended := make(chan Ready, 1), make(chan error, 1)
	ctx, cancel := context.WithCancel(context.Background())
	go func() {
		ended <- Run(ctx, Options{Options: o, Log: slog.New(slog.DiscardHandler), Version: "v0.0.0", Ready: func(r Ready) { ready <- r }})
	}()
	t.Cleanup(func() { cancel(); require.NoError(t, <-ended) })
	select {
	case r := <-ready:
		return r
	case err := <-ended:
		ended <- nil
		require.NoError(t, err)
		return Ready{}
	}
}

func fetch(t *testing.T, method, url, body string) (int, string) {
	t.Helper()
	request, err := http.NewRequestWithContext(t.Context(), method, url, strings.NewReader(body))
	require.NoError(t, err)
	response, err := http.DefaultClient.Do(request)
	require.NoError(t, err)
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	require.NoError(t, err)
	return response.StatusCode, string(text)
}

// rotten makes a data folder whose ledger was damaged while nobody looked.
func rotten(t *testing.T, damage func(tx *bolt.Tx) error) (folder string) {
	t.Helper()
	folder = filepath.Join(t.TempDir(), "clinic")
	require.NoError(t, os.Mkdir(folder, 0o700))
	path := filepath.Join(folder, fileLedger)
	l, err := store.Open(path, store.Options{})
	require.NoError(t, err)
	list := storetest.Life(5, 3)
	storetest.Record(t, l, list[len(list)-1].At, list...)
	require.NoError(t, l.Close())
	db, err := bolt.Open(path, 0o600, &bolt.Options{Timeout: time.Second})
	require.NoError(t, err)
	require.NoError(t, db.Update(damage))
	require.NoError(t, db.Close())
	return folder
}

// Over a damaged ledger everybody is told by every way in that nothing is recorded, and what can be read is shown.
func TestOverADamagedLedgerNothingIsTakenIn(t *testing.T) {
	folder := rotten(t, func(tx *bolt.Tx) error {
		b := tx.Bucket([]byte("entries"))
		key, leaf := b.Cursor().Last()
		return b.Put(bytes.Clone(key), bytes.Replace(leaf, []byte("nurse."), []byte("nursa."), 1))
	})
	before, err := os.ReadFile(filepath.Join(folder, fileLedger))
	require.NoError(t, err)
	t.Cleanup(func() { // after the daemon has ended
		after, err := os.ReadFile(filepath.Join(folder, fileLedger))
		require.NoError(t, err)
		require.True(t, bytes.Equal(before, after), "not a byte is changed")
	})
	r := served(t, folder)
	require.Contains(t, r.Damaged, "Entry ")
	base := "http://" + r.HTTP
	for _, path := range []string{"/", "/case/MBY-26-00001"} {
		status, page := fetch(t, "GET", base+path, "")
		require.Equal(t, http.StatusOK, status)
		require.Contains(t, page, "The ledger is damaged. Nothing is recorded")
		require.Contains(t, page, "When the ledger is damaged")
		require.Contains(t, page, `role="alert"`)
	}
	_, part := fetch(t, "GET", base+"/?part=board", "") // which pages that are open ask for
	require.Contains(t, part, "Load this page anew: it says what to do")
	for _, path := range []string{"/healthz", "/readyz"} {
		status, text := fetch(t, "GET", base+path, "")
		require.Equal(t, http.StatusServiceUnavailable, status)
		require.Contains(t, text, "the ledger is damaged and can only be read")
	}
	status, text := fetch(t, "GET", base+"/v1/case/MBY-26-00001", "")
	require.Equal(t, http.StatusOK, status, text)
	event := string(events.Encode(storetest.Life(6, 1)[0]))
	status, text = fetch(t, "POST", base+"/v1/events", event)
	require.Equal(t, http.StatusServiceUnavailable, status)
	require.Contains(t, text, `"code":"ledger-damaged"`)
	require.Contains(t, text, "nothing of this was recorded")

	secret, err := os.ReadFile(r.NATSFile)
	require.NoError(t, err)
	var credentials Credentials
	require.NoError(t, json.Unmarshal(secret, &credentials))
	conn, err := nats.Connect(r.NATS, nats.UserInfo(credentials.User, credentials.Password))
	require.NoError(t, err)
	defer conn.Close()
	reply, err := conn.Request("trail.v1.MBY.record", []byte(event), 10*time.Second)
	require.NoError(t, err)
	require.Contains(t, string(reply.Data), `"ok":false`)
	require.Contains(t, string(reply.Data), `"code":"ledger-damaged"`)
}

// What could end the process is not opened; the pages say so all the same.
func TestOverALedgerThatCannotBeReadThereIsTheBanner(t *testing.T) {
	folder := rotten(t, func(*bolt.Tx) error { return nil })
	path := filepath.Join(folder, fileLedger)
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	for i := 2 * os.Getpagesize(); i < len(data); i++ {
		data[i] ^= 0xff
	}
	require.NoError(t, os.WriteFile(path, data, 0o600))
	r := served(t, folder)
	base := "http://" + r.HTTP
	for path, says := range map[string]string{"/": "The ledger is damaged", "/case/MBY-26-00001": "cannot be read", "/v1/flags": `"code":"ledger-damaged"`, "/healthz": "damaged", "/readyz": "damaged"} {
		status, text := fetch(t, "GET", base+path, "")
		require.Equal(t, http.StatusServiceUnavailable, status, path)
		require.Contains(t, text, says, path)
	}
	status, text := fetch(t, "POST", base+"/v1/events", "{}")
	require.Equal(t, http.StatusServiceUnavailable, status)
	require.Contains(t, text, "nothing was recorded")
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	require.True(t, bytes.Equal(data, after))
	names, err := os.ReadDir(folder)
	require.NoError(t, err)
	for _, n := range names {
		require.Contains(t, []string{fileLedger, fileSocket}, n.Name(), "nothing else is made")
	}
}
