package main

import (
	"bytes"
	"context"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httputil"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/canary"
	"github.com/pottrail/pottrail/cmd/internal/daemon"
	"github.com/pottrail/pottrail/cmd/internal/web"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/demo"
)

// Two invented patients whose names, numbers and addresses stand nowhere else.
const canaryCases = `[{"clinic":"MBY","room":"room-2","patient":{"family":"Zyxwhistle","given":"Quombaline","birth_date":"1931-08-23","record_number":"ZQ-9407713",
"national_number":"943 476 5919","address":"17 Vornickle Row, Marram Bay","telephone":"+44 1632 960 487"},
"lesions":[{"organ":"breast","side":"left","position":"2 o'clock","target":"mass","imaging":"U4","studies":["histology"]}]},
{"clinic":"MBY","room":"room-2","patient":{"family":"Ñandúbray","given":"Íñigulda","birth_date":"1929-11-07","record_number":"QX/8830145",
"national_number":"FO0552811","address":"3 Quaddlestrøm Lane","telephone":"01632 960732"},"national_kind":"other",
"lesions":[{"organ":"breast","side":"right","position":"9 o'clock","target":"mass","imaging":"U3","studies":["histology"]}]}]`

// canaryWords are their names and numbers in the ways in which people write them.
func canaryWords() *canary.Words {
	return canary.New("Zyxwhistle", "Quombaline", "1931-08-23", "23/08/1931", "23 Aug 1931", "19310823", "ZQ-9407713", "9407713", "943 476 5919", "9434765919", "Vornickle", "960 487", "960487",
		"Ñandúbray", "ndúbray", "Íñigulda", "igulda", "1929-11-07", "7 Nov 1929", "19291107", "QX/8830145", "8830145", "FO0552811", "Quaddlestrøm", "Quaddlestr", "960732")
}

// walk is a clinic in which everything is done that can be done with patients, and what is heard of it.
type walk struct {
	t      *testing.T
	folder string // of the daemon
	front  string // a folder whose socket leads to the daemon, past a clerk who notes addresses and headers
	temp   string // the system's folder for temporary files
	desk   string // where whoever runs commands keeps files
	safe   string // where backups are kept
	daemon *process
	heard  map[string][]byte // by where
	mu     sync.Mutex
}

func (w *walk) hear(where string, said []byte) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.heard[where] = append(w.heard[where], append(said, '\n')...)
}

// environ gives processes a folder for temporary files of their own.
func (w *walk) environ() []string { return append(os.Environ(), "TMPDIR="+w.temp) }

func (w *walk) serve(config string) {
	w.t.Helper()
	w.daemon = &process{folder: w.folder}
	w.daemon.cmd = exec.Command("pottrail", "serve", "--data", w.folder, "--http", "127.0.0.1:0", "--nats-listen", "127.0.0.1:0", "--log-level", "debug", "--log-format", "json", "--config", config, "--backup-dir", w.safe)
	w.daemon.cmd.Env = w.environ()
	w.daemon.cmd.Stderr, w.daemon.cmd.Stdout = &w.daemon.log, &w.daemon.log
	require.NoError(w.t, w.daemon.cmd.Start())
	cmd := w.daemon.cmd
	w.t.Cleanup(func() {
		if cmd.ProcessState == nil {
			_ = cmd.Process.Kill()
			_ = cmd.Wait()
		}
	})
	w.daemon.ready(w.t)
	w.hear("the daemon as a process", w.ofProcess("cmdline"))
	w.hear("the daemon as a process", w.ofProcess("environ"))
}

func (w *walk) ofProcess(what string) []byte {
	data, err := os.ReadFile(fmt.Sprintf("/proc/%d/%s", w.daemon.cmd.Process.Pid, what))
	if err != nil {
		return nil // a system without
	}
	return data
}

// run runs a command with something on its standard input, and hears arguments and answers. It gives back what it said.
func (w *walk) run(stdin string, args ...string) string {
	w.t.Helper()
	cmd := exec.Command("pottrail", append(args, "--data", w.front)...)
	cmd.Env, cmd.Stdin = w.environ(), strings.NewReader(stdin)
	out, err := cmd.CombinedOutput()
	require.NotContains(w.t, string(out), "no daemon answers", "%s: %v", args, err)
	w.hear("arguments", []byte(strings.Join(cmd.Args, "\x00")))
	return string(out)
}

// says is run for a command whose answer must show no patient.
func (w *walk) says(stdin string, args ...string) string {
	w.t.Helper()
	out := w.run(stdin, args...)
	w.hear("the answer of "+strings.Join(args, " "), []byte(out))
	return out
}

// clerk stands between commands and daemon and notes what is asked for, without the bodies.
func (w *walk) clerk() {
	w.t.Helper()
	require.NoError(w.t, os.MkdirAll(w.front, 0o700))
	listener, err := net.Listen("unix", filepath.Join(w.front, "pottrail.sock"))
	require.NoError(w.t, err)
	proxy := &httputil.ReverseProxy{
		Rewrite: func(r *httputil.ProxyRequest) {
			w.hear("addresses and headers", fmt.Append(nil, r.In.Method, " ", r.In.URL, " ", r.In.Header))
			r.SetURL(&url.URL{Scheme: "http", Host: "pottrail"})
		},
		Transport: &http.Transport{DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) { return daemon.DialSocket(ctx, w.folder) }},
	}
	server := &http.Server{Handler: proxy}
	go func() { _ = server.Serve(listener) }()
	w.t.Cleanup(func() { _ = server.Close() })
}

// eavesdrop hears all that goes over NATS.
func (w *walk) eavesdrop() *nats.Conn {
	w.t.Helper()
	c, err := daemon.ReadCredentials(w.folder)
	require.NoError(w.t, err)
	conn, err := nats.Connect(c.URL, nats.UserInfo(c.User, c.Password))
	require.NoError(w.t, err)
	w.t.Cleanup(conn.Close)
	for _, subject := range []string{events.SubjectEvents, events.SubjectFlags, "_INBOX.>"} {
		_, err = conn.Subscribe(subject, func(m *nats.Msg) {
			w.hear("NATS", fmt.Append(nil, m.Subject, " ", m.Reply, " ", m.Header, " ", string(m.Data)))
		})
		require.NoError(w.t, err)
	}
	require.NoError(w.t, conn.Flush())
	return conn
}

// ask asks over HTTP and hears the whole answer.
func (w *walk) ask(method, path, body string, headers ...string) int {
	w.t.Helper()
	request, err := http.NewRequest(method, "http://"+w.address()+path, strings.NewReader(body))
	require.NoError(w.t, err)
	for i := 0; i < len(headers); i += 2 {
		request.Header.Set(headers[i], headers[i+1])
	}
	response, err := (&http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}).Do(request)
	require.NoError(w.t, err)
	defer response.Body.Close()
	answer, err := io.ReadAll(io.LimitReader(response.Body, 4<<20))
	require.NoError(w.t, err)
	w.hear(fmt.Sprintf("HTTP: %s %s", method, strings.SplitN(path, "?", 2)[0]), fmt.Append(nil, response.Status, response.Header, string(answer)))
	return response.StatusCode
}

// stream hears the beginning of a stream that does not end by itself.
func (w *walk) stream(path string) {
	w.t.Helper()
	ctx, cancel := context.WithTimeout(w.t.Context(), time.Second)
	defer cancel()
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+w.address()+path, nil)
	require.NoError(w.t, err)
	response, err := http.DefaultClient.Do(request)
	require.NoError(w.t, err)
	said, _ := io.ReadAll(response.Body)
	_ = response.Body.Close()
	w.hear("HTTP: GET "+path, said)
}

var pagesAt = regexp.MustCompile(`pages +http://(\S+)`)

func (w *walk) address() string { return pagesAt.FindStringSubmatch(w.daemon.log.String())[1] }

// look looks for the patients in all that was heard, in the data folder, in the folder for temporary files and in the log.
func (w *walk) look(words *canary.Words) []canary.Hit {
	w.t.Helper()
	w.mu.Lock()
	defer w.mu.Unlock()
	var hits []canary.Hit
	for where, said := range w.heard {
		hits = append(hits, words.Search(where, said)...)
	}
	hits = append(hits, words.Search("the daemon's log", []byte(w.daemon.log.String()))...)
	for _, dir := range []string{w.folder, w.temp, w.safe} {
		found, err := words.SearchFolder(dir, nil)
		require.NoError(w.t, err)
		hits = append(hits, found...)
	}
	return hits
}

func newWalk(t *testing.T) *walk {
	root := t.TempDir()
	w := &walk{t: t, folder: filepath.Join(root, "clinic"), front: filepath.Join(root, "front"), temp: filepath.Join(root, "temp"), desk: filepath.Join(root, "desk"), safe: filepath.Join(root, "safe"), heard: map[string][]byte{}}
	for _, dir := range []string{w.temp, w.desk, w.safe} {
		require.NoError(t, os.Mkdir(dir, 0o700))
	}
	return w
}

// printer takes what comes, and hears it too: a label is a picture, and no text ever reaches a printer.
func (w *walk) printer() (config string) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(w.t, err)
	w.t.Cleanup(func() { _ = listener.Close() })
	go func() {
		for {
			conn, err := listener.Accept()
			if err != nil {
				return
			}
			data, _ := io.ReadAll(conn)
			w.hear("the bytes for the printer", data)
			_ = conn.Close()
		}
	}()
	spool := filepath.Join(w.desk, "spool")
	require.NoError(w.t, os.Mkdir(spool, 0o700))
	config = filepath.Join(w.desk, "pottrail.toml")
	text := ""
	for name, to := range map[string]string{"room-2": "raw\"\nto = \"" + listener.Addr().String(), "desk": "spool\"\nto = \"" + spool, "off": "raw\"\nto = \"127.0.0.1:1"} {
		text += "[printers." + name + "]\nway = \"" + to + "\"\nlanguage = \"zpl\"\ndots_per_mm = 8\nstock = [\"pot-50x25\", \"request-50x25\", \"downtime-50x25\"]\nstations = [\"" + name + "\"]\n"
	}
	require.NoError(w.t, os.WriteFile(config, []byte(text), 0o600))
	return config
}

// days does everything that can be done with patients. It gives the two cases.
func (w *walk) days() []string {
	t := w.t
	var cases []string
	for line := range strings.Lines(w.says(canaryCases, "open", "--json", "--by", "clerk.ann")) {
		var o ask.Opened
		require.NoError(t, json.Unmarshal([]byte(line), &o), line)
		cases = append(cases, string(o.Case))
	}
	require.Len(t, cases, 2)
	one, two := cases[0], cases[1]
	w.says("clinic,family,given,birth_date,record_number,organ,side,position,studies\nMBY,Zyxwhistle,Quombaline,1931-08-23,ZQ-9407713,breast,left,2 o'clock,astrology\n", "open", "--by", "clerk.ann")

	for _, wrong := range []string{`{"patient":{"family":["Zyxwhistle"]}}`, `{"patient":{"birth_date":19310823}}`, `{"planned":"ZQ-9407713"}`, `[{"patient":{"family":"Zyxwhistle"]`, "Zyxwhistle,Quombaline,1931-08-23\n",
		"family,given\nZyxwhistle\n", "family,planned\nZyxwhistle,ZQ-9407713\n", `{"clinic":"ZQ-9407713","patient":{"family":"Zyxwhistle"}}`} {
		w.says(wrong, "open", "--by", "clerk.ann")
	}

	for i, out := range []string{"labels.pdf", "label.png"} {
		w.says("", "labels", cases[i]+"-A", "--out", filepath.Join(w.desk, out), "--by", "nurse.osei")
	}
	w.says("", "labels", one+"-A", "--out", filepath.Join(w.desk, "preview.png"), "--preview")
	for _, station := range []string{"room-2", "desk", "off"} {
		for i, name := range []string{one + "-A", two} {
			w.says("", "labels", name, "--printer", station, "--one-more", "--by", "nurse.osei", "--json", "--station", []string{"room-2", "desk"}[i])
		}
	}
	w.says("", "printers", "list", "--json")
	w.says("", "printers", "jobs", "--all", "--json")

	roll := w.says("", "labels", "reserve", "1", "--clinic", "MBY", "--out", filepath.Join(w.desk, "roll.pdf"))
	rolled := regexp.MustCompile(`MBY-\d\d-\d{5}`).FindString(roll)
	require.NotEmpty(t, rolled, roll)
	w.says("", "scan", "--step", "filled", "--medium", "formalin", "--by", "nurse.osei", rolled+"-A")
	list := w.run("\n", "labels", "bind", rolled+"-A", "--by", "nurse.osei")
	require.Contains(t, list, "ZYXWHISTLE", "the list for a pick shows names, to whoever looks")
	w.says("", "labels", "bind", rolled+"-A", "--to", one+"-A", "--by", "nurse.osei")

	for _, step := range [][]string{
		{"checked", "--room", "room-2", "--confirmed", "side,consent", one}, {"filled", "--medium", "formalin", two + "-A"}, {"taken", "--look", "grey-brown", one + "-A01"}, {"potted", one + "-A01"},
		{"sealed", "--with", "dr.varga", "--pieces", "1", one + "-A"}, {"ended", one}, {"custody", "--place", "van", one + "-A"}, {"custody", "--place", "lab-reception", one + "-A"},
	} {
		w.says("", append([]string{"scan", "--by", "nurse.osei", "--step"}, step...)...)
	}
	// What names a patient is refused, in a sentence that does not.
	for _, note := range []string{"rang Mrs Zyxwhistle", "born 23.8.31, ZQ 9407713", "lives at 17 vornickle row"} {
		out := w.run("", "scan", "--step", "noted", "--note", note, "--by", "nurse.osei", one) // an argument of this test alone
		require.Contains(t, out, "NOT RECORDED")
		w.hear("a refusal", []byte(out))
		w.mu.Lock() // a straggler of the clerk may still be writing
		delete(w.heard, "arguments")
		w.mu.Unlock()
	}
	w.says(`{"id":"x","kind":"note.added","data":{"text":"Ñandúbray"}`, "record", "--json")
	require.Contains(t, w.run("", "flags", "--refused"), "Zyxwhistle", "whoever looks at what was refused sees it")
	for _, args := range [][]string{{"flags", "--json"}, {"flags"}, {"chase"}, {"trail", one}, {"trail", one, "--json"}, {"trail", one, "--proof"}, {"trail", two + "-A"}, {"export"}, {"scan", one + "-A"},
		{"forecast", one + "-A"}, {"chase", "log", one, "--asked", "where is it", "--by", "nurse.osei"}, {"serve", "--show-options"}, {"people", "reads"}} {
		w.says("", args...)
	}

	found := w.run("zyxwhistle\n23/8/1931\n", "people", "find", "--why", "is the result back", "--by", "nurse.osei")
	require.Contains(t, found, "ZYXWHISTLE, Quombaline, born 23 Aug 1931")
	require.Contains(t, found, tracker.Name(one).Printed())
	w.says("Zyxwhistle\nthe 23rd\n", "people", "find", "--why", "w", "--by", "nurse.osei")
	w.says("Zyxwhistle\n1930-01-01\n", "people", "find", "--why", "w", "--by", "nurse.osei")
	w.says("ZQ-9407713\n", "people", "forget", "--why", "w", "--by", "lead.moss", "--yes") // open: refused
	w.says("", "people", "rotate-key")
	w.says("", "people", "reads", "--json")
	w.backUp()
	return cases
}

// backUp makes a backup in the safe and one to standard output. What it is made of holds every patient, sealed; the key is in neither.
func (w *walk) backUp() {
	w.t.Helper()
	w.says("", "backup", filepath.Join(w.safe, "monday.tar"))
	w.says("", "backup", "-") // the clerk's words on standard error come with it
	archive, err := os.ReadFile(filepath.Join(w.safe, "monday.tar"))
	require.NoError(w.t, err)
	sealed, err := os.ReadFile(filepath.Join(w.folder, "people.db"))
	require.NoError(w.t, err)
	require.Greater(w.t, len(archive), len(sealed), "the people file is in it")
	text, err := os.ReadFile(filepath.Join(w.folder, "people.key"))
	require.NoError(w.t, err)
	keys := 0
	for line := range strings.Lines(string(text)) {
		if raw, err := hex.DecodeString(strings.TrimSpace(line)); err == nil && len(raw) > 0 {
			keys++
			require.NotContains(w.t, string(archive), strings.TrimSpace(line))
			require.NotContains(w.t, string(archive), string(raw))
		}
	}
	require.Positive(w.t, keys)
}

// routes asks for every route, with names where they do not belong, so that there are answers of errors too.
func (w *walk) routes(cases []string) {
	var description struct {
		Paths map[string]map[string]any `json:"paths"`
	}
	response, err := http.Get("http://" + w.address() + "/v1/openapi.json")
	require.NoError(w.t, err)
	defer response.Body.Close()
	require.NoError(w.t, json.NewDecoder(response.Body).Decode(&description))
	require.Greater(w.t, len(description.Paths), 8)
	paths := []string{"/", "/case/{name}", "/metrics", "/static/pottrail.css", "/nowhere", "/sign-in", "/sign-out", "/set-up", "/enrol", "/staff", "/light",
		web.PathRefused, web.PathFind, web.PathLabels}
	for path := range description.Paths {
		paths = append(paths, path)
	}
	for _, path := range paths {
		if path == "/v1/live" {
			w.stream(path)
			continue
		}
		for _, name := range []string{cases[0], cases[1] + "-A", "Zyxwhistle", "ZQ-9407713", url.PathEscape("Ñandúbray")} {
			at := strings.Replace(path, "{name}", name, 1)
			w.ask("GET", at, "")
			w.ask("GET", at+"?clinic="+url.QueryEscape("Ñandúbray")+"&kind=Zyxwhistle&name=ZQ-9407713&severity=Zyxwhistle&from=ZQ-9407713&since=1931-08-23", "")
			if !strings.Contains(path, "{name}") {
				break
			}
		}
		w.ask("POST", path, `{"family":"Zyxwhistle","birth_date":"1931-08-23"}`, "Content-Type", "application/json", "X-Sent-At", "Zyxwhistle")
		if code := w.ask("POST", path, "badge=Zyxwhistle&pin=19310823&to=/case/Zyxwhistle&again=19310823&do=enrol&key=Zyxwhistle&light=Zyxwhistle",
			"Content-Type", "application/x-www-form-urlencoded"); code == http.StatusOK {
			w.t.Errorf("POST %s takes nonsense", path)
		}
		w.ask("DELETE", path, "Zyxwhistle", "Sec-Fetch-Site", "cross-site", "Origin", "http://zyxwhistle.example")
	}
	for _, body := range []string{`{"id":"0199f1c2-7b1e-7c3a-9d55-0000000000a1","kind":"note.added"}`, `["Ñandúbray"]`, `Zyxwhistle`, `{"id":"1","kind":"note.added","at":"ZQ-9407713","by":"","items":["Zyxwhistle"],"clinic":"ZQ-9407713"}`,
		`{"id":"0199f1c2-7b1e-7c3a-9d55-0000000000a2","kind":"note.added","clinic":"MBY","at":"2026-03-06T15:42:10Z","by":"nurse.osei","station":"desk","items":["` + cases[0] + `"],"data":{"text":"Zyx\u0077histle rang"}}`,
		`{"id":"0199f1c2-7b1e-7c3a-9d55-0000000000a3","kind":"piece.taken","clinic":"MBY","at":"2026-03-06T15:42:10Z","by":"nurse.osei","station":"desk","items":["` + cases[0] + `-A02"],"data":{"lesion":"1","what":"Zyxwhistle","length_mm":"ZQ-9407713"}}`} {
		w.ask("POST", "/v1/events", body)
	}
}

// Nothing but the sealed file knows who the patients are: not the data folder, not a temporary file, not the log at its most
// talkative, no answer, no stream, no metric, no address, no argument, not what a printer is sent, not what is left after a kill.
func TestNoPatientOutsideTheSealedFile(t *testing.T) {
	w := newWalk(t)
	words := canaryWords()
	config := w.printer()
	w.serve(config)
	w.clerk()
	conn := w.eavesdrop()
	cases := w.days()
	w.routes(cases)
	for _, q := range ask.Questions() {
		answer, err := conn.Request("trail.v1.MBY.ask."+q.What, []byte(`{"name":"`+cases[0]+`"}`), 10*time.Second)
		require.NoError(t, err)
		w.hear("NATS: "+q.What, answer.Data)
		answer, err = conn.Request("trail.v1.MBY.ask."+q.What, []byte(`{"name":"Zyxwhistle","clinic":"ZQ-9407713"}`), 10*time.Second)
		require.NoError(t, err)
		w.hear("NATS: "+q.What, answer.Data)
	}
	require.Empty(t, w.look(words), "while it runs")
	names, err := words.SearchFolder(w.desk, func(path string) bool { return true })
	require.NoError(t, err)
	require.Empty(t, names, "what is spooled for a printer shows a patient, and is not called like one")

	w.daemon.end(t, os.Kill)
	require.Empty(t, w.look(words), "killed")
	w.serve(config)
	require.NoError(t, w.daemon.cmd.Process.Signal(syscall.SIGQUIT))
	require.Error(t, w.daemon.cmd.Wait(), "it ends as one that panics does, with all its stacks")
	require.Contains(t, w.daemon.log.String(), "goroutine ")
	require.Empty(t, w.look(words), "as it fell over")
	w.mu.Lock()
	places := len(w.heard)
	w.mu.Unlock()
	require.Greater(t, places, 40, "a search over nothing finds nothing")
}

// The same look finds a patient who did get out, wherever that was: here by what a person did, who called a station like her.
func TestALeakIsFound(t *testing.T) {
	w := newWalk(t)
	w.serve(w.printer())
	w.clerk()
	conn := w.eavesdrop()
	var o ask.Opened
	require.NoError(t, json.Unmarshal([]byte(w.says(canaryCases[1:strings.Index(canaryCases, ",\n{")], "open", "--json", "--by", "clerk.ann", "--station", "zyxwhistle")), &o))
	w.says("", "export")
	w.backUp()
	w.ask("GET", "/v1/case/"+string(o.Case), "")
	require.NoError(t, os.WriteFile(filepath.Join(w.temp, "core.1"), append(make([]byte, 4096), "Z\x00y\x00x\x00w\x00h\x00i\x00s\x00t\x00l\x00e\x00"...), 0o600))
	require.Eventually(t, func() bool {
		w.mu.Lock()
		defer w.mu.Unlock()
		return bytes.Contains(w.heard["NATS"], []byte("case.opened"))
	}, within, 10*time.Millisecond)
	require.NoError(t, conn.Drain())
	where := map[string]bool{}
	for _, h := range w.look(canaryWords()) {
		require.Equal(t, "Zyxwhistle", h.Word)
		where[strings.Split(h.Where, string(filepath.Separator))[0]] = true
	}
	for _, place := range []string{"ledger.db", "nats", "core.1", "monday.tar", "the answer of backup -", "NATS", "arguments", "the answer of export", "HTTP: GET "} {
		require.Contains(t, where, place, "%v", where)
	}
	w.daemon.end(t, os.Interrupt)
}

// The invented people of the demo are nowhere but in its sealed file either.
func TestNoPatientOfTheDemoOutsideTheSealedFile(t *testing.T) {
	w := newWalk(t)
	w.daemon = start(t, w.folder, "demo", "--weeks", "4", "--log-level", "debug")
	w.daemon.ready(t)
	var state struct {
		Seed  uint64
		Weeks int
		Now   time.Time
	}
	data, err := os.ReadFile(filepath.Join(w.folder, "demo.json"))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, &state))
	zone, err := time.LoadLocation("Europe/London")
	require.NoError(t, err)
	network, err := demo.Generate(demo.Options{Seed: state.Seed, Weeks: state.Weeks, Now: state.Now, Zone: zone})
	require.NoError(t, err)
	var words []string
	for _, p := range network.People {
		words = append(words, p.Family, string(p.Born), p.Record, p.National, p.Address)
	}
	require.Greater(t, len(words), 500)
	for _, path := range []string{"/", "/v1/flags", "/v1/chase", "/metrics"} {
		response, err := http.Get("http://" + regexp.MustCompile(`http="?(127\.0\.0\.1:\d+)`).FindStringSubmatch(w.daemon.log.String())[1] + path)
		require.NoError(t, err)
		body, err := io.ReadAll(response.Body)
		require.NoError(t, errJoin(err, response.Body.Close()))
		w.hear("HTTP: "+path, body)
	}
	out, err := exec.Command("pottrail", "export", "--data", w.folder).Output()
	require.NoError(t, err)
	w.hear("export", out)
	require.Empty(t, w.look(canary.New(words...)))
	w.daemon.end(t, os.Interrupt)
}

func errJoin(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}
