package cli_test

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/cli"
	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/cmd/internal/daemon"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/events/evidence"
)

// whole is a daemon of the whole, with pages, socket and NATS on free ports.
type whole struct {
	folder string
	http   string
	nats   *nats.Conn
	secret daemon.Credentials
	stop   func()
	log    *bytes.Buffer
}

func runWhole(t *testing.T) *whole {
	t.Helper()
	w := &whole{folder: filepath.Join(t.TempDir(), "clinic"), log: &bytes.Buffer{}}
	o := config.Defaults(os.Getenv)
	o.Folder.Dir, o.Web.Listen, o.NATS.Listen = w.folder, "127.0.0.1:0", "127.0.0.1:0"
	ready := make(chan daemon.Ready, 1)
	ended := make(chan error, 1)
	ctx, cancel := context.WithCancel(context.Background())
	go func() {
		ended <- daemon.Run(ctx, daemon.Options{Options: o, Log: slog.New(slog.NewTextHandler(w.log, nil)), Version: "v1.2.3", Ready: func(r daemon.Ready) { ready <- r }})
	}()
	w.stop = func() {
		cancel()
		require.NoError(t, <-ended)
	}
	select {
	case r := <-ready:
		w.http = "http://" + r.HTTP
		text, err := os.ReadFile(r.NATSFile)
		require.NoError(t, err)
		info, err := os.Stat(r.NATSFile)
		require.NoError(t, err)
		require.Equal(t, os.FileMode(0o600), info.Mode().Perm())
		require.NoError(t, json.Unmarshal(text, &w.secret))
		require.Equal(t, r.NATS, w.secret.URL)
		w.nats, err = nats.Connect(w.secret.URL, nats.UserInfo(w.secret.User, w.secret.Password))
		require.NoError(t, err)
		t.Cleanup(w.nats.Close)
	case err := <-ended:
		require.NoError(t, err)
	}
	return w
}

func (w *whole) command(t *testing.T, stdin string, args ...string) (code int, out string) {
	t.Helper()
	var stdout, stderr bytes.Buffer
	code = cli.Run(t.Context(), append(args, "--data", w.folder), cli.Streams{In: strings.NewReader(stdin), Out: &stdout, Err: &stderr, Getenv: func(string) string { return "" }})
	require.LessOrEqual(t, code, 1, stderr.String())
	return code, stdout.String()
}

func (w *whole) get(t *testing.T, path string) string {
	t.Helper()
	response, err := http.Get(w.http + path)
	require.NoError(t, err)
	defer response.Body.Close()
	body, err := io.ReadAll(response.Body)
	require.NoError(t, err)
	require.Equal(t, 200, response.StatusCode, string(body))
	return string(body)
}

func (w *whole) request(t *testing.T, subject, body string, headers ...string) string {
	t.Helper()
	msg := nats.NewMsg(subject)
	msg.Data = []byte(body)
	for i := 0; i < len(headers); i += 2 {
		msg.Header.Set(headers[i], headers[i+1])
	}
	answer, err := w.nats.RequestMsg(msg, 10*time.Second)
	require.NoError(t, err)
	return string(answer.Data)
}

const opened = `{"id":"0199f1c2-7b1e-7c3a-9d55-000000000001","kind":"case.opened","clinic":"MBY","at":"2026-03-06T09:00:00Z","by":"clerk.ann","station":"desk","items":["MBY-26-00417"],"data":{"patient":"ref-1","priority":"urgent","lesions":[{"key":"1","organ":"node"}],"pots":[{"pot":"A","lesion":"1","medium":"formalin","studies":["flow"]}]}}`
const taken = `{"id":"0199f1c2-7b1e-7c3a-9d55-000000000002","kind":"piece.taken","clinic":"MBY","at":"2026-03-06T09:10:00Z","by":"dr.varga","station":"room-1","items":["MBY-26-00417-A01"],"data":{"lesion":"1","what":"core"}}`
const printed = `{"id":"0199f1c2-7b1e-7c3a-9d55-000000000003","kind":"label.printed","clinic":"MBY","at":"2026-03-06T09:05:00Z","by":"nurse.osei","station":"room-1","items":["MBY-26-00417-A"],"data":{"copy":"1"}}`

// Every question can be asked over HTTP, over NATS and by a command, and all three give the same answer.
func TestHTTPAndNATSAndCommandsAnswerAlike(t *testing.T) {
	w := runWhole(t)
	require.Contains(t, w.request(t, "trail.v1.MBY.record", "["+opened+","+taken+","+printed+"]"), `"kind":"container-wrong"`)

	info := w.request(t, "$SRV.INFO.trail", "")
	for _, q := range ask.Questions() {
		require.Contains(t, info, `"trail.v1.*.ask.`+q.What+`"`, "NATS does not answer it")
	}
	asked := map[string]struct {
		path    string
		request string
		command []string
	}{
		"case":   {"/v1/case/MBY-26-00417", `{"name":"MBY-26-00417"}`, []string{"trail", "MBY-26-00417", "--json"}},
		"pot":    {"/v1/pot/MBY-26-00417-A", `{"name":"mby 26 00417 a"}`, []string{"trail", "MBY-26-00417-A", "--json"}},
		"flags":  {"/v1/flags?kind=container-wrong&severity=now", `{"kind":"container-wrong","severity":"now"}`, []string{"flags", "--kind", "container-wrong", "--severity", "now", "--json"}},
		"chase":  {"/v1/chase?clinic=MBY", ``, []string{"chase", "--json"}},
		"codes":  {"/v1/codes/MBY-26-00417-A", `{"name":"MBY-26-00417-A"}`, []string{"scan", "MBY-26-00417-A", "--json"}},
		"proof":  {"/v1/proof/MBY-26-00417", `{"name":"MBY-26-00417"}`, []string{"prove", "MBY-26-00417", "--json"}},
		"events": {"/v1/events?from=2", `{"from":2}`, []string{"export", "--json"}},
	}
	for _, q := range ask.Questions() {
		t.Run(q.What, func(t *testing.T) {
			a, ok := asked[q.What]
			require.True(t, ok, "a question that nobody asks here")
			require.Equal(t, q.Command, a.command[0])
			overHTTP := timeless(w.get(t, a.path))
			require.Equal(t, overHTTP, timeless(w.request(t, "trail.v1.MBY.ask."+q.What, a.request)))
			_, out := w.command(t, "", a.command...)
			if q.What == "events" {
				lines := strings.Split(strings.TrimSpace(out), "\n")
				require.Len(t, lines, 3)
				require.Contains(t, overHTTP, `{"events":[`+lines[1]+","+lines[2]+"]")
				return
			}
			require.Equal(t, overHTTP, timeless(out))
		})
	}
	w.stop()
}

var instant = regexp.MustCompile(`"at":"[^"]*Z","(flags|rows|zone|name|checkpoints|wake)"`)

// timeless takes the instant of the answer away, in which two answers must differ.
func timeless(body string) string {
	return instant.ReplaceAllString(strings.TrimSpace(body), `"$1"`)
}

// A client outside with the credentials of nats.json records, repeats, is refused, and follows the stream.
func TestAClientOutsideRecordsOverNATS(t *testing.T) {
	w := runWhole(t)
	_, err := nats.Connect(w.secret.URL, nats.UserInfo(w.secret.User, "a guess"))
	require.Error(t, err)

	flags, err := w.nats.SubscribeSync("trail.v1.*.flag.>")
	require.NoError(t, err)
	recorded, err := w.nats.SubscribeSync("trail.v1.*.event.>")
	require.NoError(t, err)

	first := w.request(t, "trail.v1.MBY.record", opened)
	require.Contains(t, first, `{"id":"0199f1c2-7b1e-7c3a-9d55-000000000001","ok":true,"seq":1,"raised":[{"kind":"container-wrong","item":"MBY-26-00417-A"`)
	require.Equal(t, first, w.request(t, "trail.v1.MBY.record", opened), "a repeat gets the first answer, warnings included")
	require.Contains(t, w.request(t, "trail.v1.MBY.record", strings.Replace(opened, "desk", "elsewhere", 1)), `"code":"different-content"`)
	require.Contains(t, w.request(t, "trail.v1.HCX.record", taken), `"code":"wrong-clinic"`)
	require.Contains(t, w.request(t, "trail.v1.MBY.record", taken, events.HeaderSentAt, time.Now().Add(-5*time.Minute).Format(time.RFC3339)), `"ok":true`)
	require.Contains(t, w.request(t, "trail.v1.MBY.record", "[1,"+printed+"]"), `[{"id":"","ok":false`)
	require.Contains(t, w.request(t, "trail.v1.HCX.ask.case", `{"name":"MBY-26-00417"}`), `"code":"wrong-clinic"`)
	require.Contains(t, w.get(t, "/v1/flags"), `"clock-doubtful"`, "the sender's clock is five minutes slow")

	msg, err := recorded.NextMsg(10 * time.Second)
	require.NoError(t, err)
	require.Equal(t, "trail.v1.MBY.event.case.opened", msg.Subject)
	require.Equal(t, "1", msg.Header.Get(events.HeaderOSeq))
	require.Equal(t, "0199f1c2-7b1e-7c3a-9d55-000000000001", msg.Header.Get(events.HeaderMsgID))
	// What has long been due is judged beside it, and may come first.
	for msg.Subject != "trail.v1.MBY.flag.container-wrong" {
		msg, err = flags.NextMsg(10 * time.Second)
		require.NoError(t, err)
	}
	require.Contains(t, string(msg.Data), `{"change":"raised","flag":{"kind":"container-wrong"`)
	w.stop()
}

// A client outside gets each checkpoint, signed, and finds those from before on the stream; the last one is made at the stop.
func TestAClientOutsideHoldsTheCheckpoints(t *testing.T) {
	w := runWhole(t)
	live, err := w.nats.SubscribeSync("trail.v1.MBY.checkpoint.*")
	require.NoError(t, err)
	w.request(t, "trail.v1.MBY.record", opened)
	_, key := w.command(t, "", "checkpoint", "--key")
	_, note := w.command(t, "", "checkpoint", "--now", "--note")
	msg, err := live.NextMsg(10 * time.Second)
	require.NoError(t, err)
	require.Equal(t, note, string(msg.Data))
	c, err := evidence.OpenCheckpoint(string(msg.Data), strings.TrimSpace(key))
	require.NoError(t, err)
	require.EqualValues(t, 1, c.Size)
	require.Equal(t, "trail.v1.MBY.checkpoint."+c.Origin, msg.Subject)
	require.NotEmpty(t, msg.Header.Get(events.HeaderMade))
	require.Contains(t, w.get(t, "/metrics"), "pottrail_unsigned_entries 0")
	require.Contains(t, w.get(t, "/case/MBY-26-00417"), c.Short(), "for whoever prints the page")

	js, err := jetstream.New(w.nats)
	require.NoError(t, err)
	stream, err := js.Stream(t.Context(), "CHECKPOINTS")
	require.NoError(t, err)
	kept, err := stream.GetMsg(t.Context(), 1)
	require.NoError(t, err)
	require.Equal(t, note, string(kept.Data))
	require.NoError(t, w.nats.Publish("trail.v1.MBY.checkpoint."+c.Origin, []byte("a stranger's"))) // refused: nobody sees it below

	w.request(t, "trail.v1.MBY.record", taken)
	w.stop()
	msg, err = live.NextMsg(10 * time.Second)
	require.NoError(t, err)
	last, err := evidence.OpenCheckpoint(string(msg.Data), strings.TrimSpace(key))
	require.NoError(t, err)
	require.EqualValues(t, 2, last.Size)
}

// An event that was refused by the ledger itself is kept like any other refusal.
func TestRefusedMessagesAreKeptWithTheirBytes(t *testing.T) {
	w := runWhole(t)
	w.request(t, "trail.v1.MBY.record", opened)
	w.request(t, "trail.v1.MBY.record", strings.Replace(opened, "desk", "elsewhere", 1))
	w.request(t, "trail.v1.MBY.record", "nonsense")
	_, out := w.command(t, "", "flags", "--refused", "--json")
	var kept ask.RefusedAnswer
	require.NoError(t, json.Unmarshal([]byte(out), &kept))
	require.Len(t, kept.Refused, 2)
	require.Equal(t, "bad-json", kept.Refused[0].Code)
	require.Equal(t, "nonsense", string(kept.Refused[0].Data))
	require.Equal(t, "different-content", kept.Refused[1].Code)
	require.Contains(t, string(kept.Refused[1].Data), "elsewhere")
	w.stop()
}

// No answer to anybody and no line of the log holds an identifier of a patient; the label does.
func TestIdentifiersStayInTheSealedFile(t *testing.T) {
	w := runWhole(t)
	code, out := w.command(t, `{"clinic":"MBY","patient":{"family":"Quillfeather","given":"Odile","birth_date":"1961-02-14","record_number":"RN-70701"},`+
		`"lesions":[{"organ":"breast","side":"left","imaging":"U4","studies":["histology"]}]}`, "open", "--json")
	require.Zero(t, code)
	var o ask.Opened
	require.NoError(t, json.Unmarshal([]byte(out), &o))
	pdf := filepath.Join(t.TempDir(), "labels.pdf")
	code, _ = w.command(t, "", "labels", string(o.Labels[0]), "--out", pdf)
	require.LessOrEqual(t, code, 1)
	require.FileExists(t, pdf)
	text := w.get(t, "/") + w.get(t, "/case/"+string(o.Case)) + w.get(t, "/v1/case/"+string(o.Case)) + w.get(t, "/v1/flags") + w.get(t, "/metrics") + w.get(t, "/v1/events")
	_, out = w.command(t, "", "trail", string(o.Case))
	text += out
	refused, err := http.Get(w.http + "/local/v1/refused")
	require.NoError(t, err)
	require.NoError(t, refused.Body.Close())
	require.Equal(t, 404, refused.StatusCode, "what carries identifiers is on the socket only")
	w.stop()
	text += w.log.String()
	for _, name := range []string{"ledger.db", "people.db"} {
		data, err := os.ReadFile(filepath.Join(w.folder, name))
		require.NoError(t, err)
		text += string(data)
	}
	for _, secret := range []string{"Quillfeather", "QUILLFEATHER", "Odile", "RN-70701", "1961-02-14"} {
		require.NotContains(t, text, secret)
	}
}
