package web_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/web"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// fake answers every question, and is told what has changed.
type fake struct {
	recorded ask.Recorded
	got      ask.Recording
	err      error
	sick     error
	board    web.BoardAnswer
	actor    ask.Actor // of the last that recorded or asked for flags

	mu      sync.Mutex
	signal  chan struct{}
	changes []web.Change
}

func newFake() *fake { return &fake{signal: make(chan struct{})} }

func (f *fake) Record(ctx context.Context, r ask.Recording) (ask.Recorded, error) {
	f.got, f.actor = r, ask.ActorOf(ctx)
	return f.recorded, f.err
}

func (f *fake) Case(_ context.Context, r ask.Request) (*ask.CaseAnswer, error) {
	item, err := r.Thing()
	if err != nil {
		return nil, err
	}
	return &ask.CaseAnswer{At: noon, Zone: "UTC", Summary: tracker.Summary{Name: item.Name, Step: tracker.StepLab},
		Trail: []ask.TrailEvent{{Event: []byte(scan)}, {Event: []byte(scan), Struck: true}}}, f.err
}
func (f *fake) Pot(context.Context, ask.Request) (*ask.PotAnswer, error) {
	return &ask.PotAnswer{}, f.err
}
func (f *fake) Flags(ctx context.Context, _ ask.Request) (*ask.FlagsAnswer, error) {
	f.actor = ask.ActorOf(ctx)
	return &ask.FlagsAnswer{}, f.err
}
func (f *fake) Chase(context.Context, ask.Request) (*ask.ChaseAnswer, error) {
	return &ask.ChaseAnswer{}, f.err
}
func (f *fake) Codes(context.Context, ask.Request) (*ask.CodesAnswer, error) {
	return &ask.CodesAnswer{}, f.err
}
func (f *fake) Proof(context.Context, ask.Request) (*ask.ProofAnswer, error) {
	return &ask.ProofAnswer{}, f.err
}
func (f *fake) Events(context.Context, ask.Request) (*ask.EventsAnswer, error) {
	return &ask.EventsAnswer{}, f.err
}
func (f *fake) Board(context.Context) (web.BoardAnswer, error) { return f.board, f.err }
func (f *fake) Zone(string) *time.Location                     { return time.UTC }
func (f *fake) PlaceName(_, place string) string               { return place }
func (f *fake) Healthy() error                                 { return f.sick }
func (f *fake) Ready() error                                   { return f.sick }

func (f *fake) Signal() <-chan struct{} {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.signal
}

func (f *fake) Changes(_ context.Context, from uint64, limit int) ([]web.Change, uint64, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if int(from) >= len(f.changes) {
		return nil, from, nil
	}
	list := f.changes[from:min(len(f.changes), int(from)+limit)]
	return list, from + uint64(len(list)), nil
}

func (f *fake) Last() (uint64, uint64) {
	f.mu.Lock()
	defer f.mu.Unlock()
	return uint64(len(f.changes)), uint64(len(f.changes))
}

func (f *fake) change(text string) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.changes = append(f.changes, web.Change{Seq: uint64(len(f.changes)), JSON: []byte(text)})
	close(f.signal)
	f.signal = make(chan struct{})
}

var noon = time.Date(2026, 3, 6, 12, 0, 0, 0, time.UTC)

const scan = `{"id":"0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77","kind":"custody.taken","clinic":"MBY","at":"2026-03-06T11:42:10Z","by":"porter.lund","station":"hatch","items":["MBY-26-00417-A"],"data":{"place":"hatch"}}`

func serve(t *testing.T, f *fake) (*web.Server, http.Handler) {
	t.Helper()
	s, err := web.New(web.Options{Service: f, Board: f, Live: f, Health: f, Log: slog.New(slog.DiscardHandler), Hosts: []string{"desk"}, Version: "test"})
	require.NoError(t, err)
	return s, s.Pages()
}

func ask1(h http.Handler, method, target, body string, headers ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, "http://127.0.0.1:4460"+target, strings.NewReader(body))
	for i := 0; i < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func TestTheDescriptionNamesEveryRoute(t *testing.T) {
	s, h := serve(t, newFake())
	var doc struct {
		Paths map[string]map[string]any `json:"paths"`
	}
	require.NoError(t, json.Unmarshal(ask1(h, "GET", "/v1/openapi.json", "").Body.Bytes(), &doc))
	described := map[string]bool{}
	for path, methods := range doc.Paths {
		for method := range methods {
			described[strings.ToUpper(method)+" "+path] = true
		}
	}
	require.True(t, described["GET /metrics"])
	delete(described, "GET /metrics") // its handler comes from outside
	for _, route := range s.Routes() {
		require.True(t, described[route.Pattern], "%s is not described", route.Pattern)
		delete(described, route.Pattern)
	}
	require.Empty(t, described, "described and not served")
}

func TestOneRefusedEventAloneIsA4xxAndSeveralAreA200(t *testing.T) {
	yes := events.Verdict{ID: "a", OK: true, Seq: 7}
	no := func(code events.Code) events.Verdict {
		return events.Refused("b", &events.Refusal{Code: code, Field: "items[0]", Text: "it is wrong"})
	}
	for name, c := range map[string]struct {
		shape    events.Shape
		verdicts []events.Verdict
		status   int
		body     string
	}{
		"one recorded":            {events.ShapeOne, []events.Verdict{yes}, 200, `{"id":"a","ok":true,"seq":7,"raised":[],"cleared":[]}`},
		"one refused":             {events.ShapeOne, []events.Verdict{no("bad-check-character")}, 400, `{"id":"b","ok":false,"error":{"code":"bad-check-character","field":"items[0]","text":"it is wrong"}}`},
		"one with other content":  {events.ShapeOne, []events.Verdict{no(events.CodeDifferentContent)}, 409, ""},
		"one too large":           {events.ShapeOne, []events.Verdict{no(events.CodeTooLarge)}, 413, ""},
		"one without space":       {events.ShapeOne, []events.Verdict{no(events.CodeNoSpace)}, 507, ""},
		"some refused":            {events.ShapeArray, []events.Verdict{yes, no("bad-id")}, 200, ""},
		"all of an array refused": {events.ShapeArray, []events.Verdict{no("bad-id")}, 200, ""},
		"no space for any":        {events.ShapeArray, []events.Verdict{no(events.CodeNoSpace), no(events.CodeNoSpace)}, 507, ""},
		"lines":                   {events.ShapeLines, []events.Verdict{yes, yes}, 200, `{"id":"a","ok":true,"seq":7,"raised":[],"cleared":[]}` + "\n" + `{"id":"a","ok":true,"seq":7,"raised":[],"cleared":[]}`},
		"no events at all":        {events.ShapeArray, nil, 200, "[]"},
	} {
		t.Run(name, func(t *testing.T) {
			f := newFake()
			f.recorded = ask.Recorded{Shape: c.shape, Verdicts: c.verdicts}
			_, h := serve(t, f)
			w := ask1(h, "POST", "/v1/events", "{}", "X-Sent-At", "2026-03-06T12:00:00+01:00")
			require.Equal(t, c.status, w.Code)
			if c.body != "" {
				require.Equal(t, c.body+"\n", w.Body.String())
			}
			require.Equal(t, noon.Add(-time.Hour), f.got.SentAt.UTC())
		})
	}
}

func TestWhatIsTooLargeOrUnclearNeverReachesTheLedger(t *testing.T) {
	f := newFake()
	_, h := serve(t, f)
	require.Equal(t, 413, ask1(h, "POST", "/v1/events", strings.Repeat(" ", events.MaxRequest+1)).Code)
	require.Equal(t, 400, ask1(h, "POST", "/v1/events", "{}", "X-Sent-At", "noon").Code)
	require.Nil(t, f.got.Data)
}

func TestOnlyKnownHostsAreServed(t *testing.T) {
	_, h := serve(t, newFake())
	for host, ok := range map[string]bool{"127.0.0.1:4460": true, "localhost": true, "[::1]:4460": true, "desk:4460": true, "LOCALHOST": true,
		"evil.example": false, "127.0.0.1.evil.example": false, "": false} {
		r := httptest.NewRequest("GET", "/healthz", nil)
		r.Host = host
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		require.Equal(t, ok, w.Code == 200, "host %q: %d", host, w.Code)
	}
}

func TestAnotherSiteMayNotRecord(t *testing.T) {
	f := newFake()
	f.recorded = ask.Recorded{Verdicts: []events.Verdict{{OK: true}}}
	_, h := serve(t, f)
	require.Equal(t, 403, ask1(h, "POST", "/v1/events", "{}", "Sec-Fetch-Site", "cross-site").Code)
	require.Equal(t, 403, ask1(h, "POST", "/v1/events", "{}", "Origin", "http://evil.example").Code)
	require.Nil(t, f.got.Data)
	require.Equal(t, 200, ask1(h, "POST", "/v1/events", "{}", "Sec-Fetch-Site", "same-origin").Code)
	require.Equal(t, 200, ask1(h, "POST", "/v1/events", "{}").Code, "no browser: no such header")
}

func TestErrorsHaveOneShape(t *testing.T) {
	f := newFake()
	_, h := serve(t, f)
	for target, want := range map[string]string{
		"/v1/case/MBY-26-XX":      `{"error":{"code":"bad-length","field":"name",`,
		"/v1/flags?severity=soon": `{"error":{"code":"bad-filter","field":"severity",`,
		"/v1/flags?colour=red":    `{"error":{"code":"bad-filter","field":"colour",`,
		"/v1/chase?kind=x":        `{"error":{"code":"bad-filter","field":"kind",`,
		"/v1/events?from=first":   `{"error":{"code":"bad-filter","field":"from",`,
		"/v2/anything":            `{"error":{"code":"no-such-page",`,
	} {
		w := ask1(h, "GET", target, "")
		require.Contains(t, w.Body.String(), want, target)
		require.Equal(t, "application/json", w.Header().Get("Content-Type"))
	}
	f.err = errors.New("open /secret/path: permission denied")
	w := ask1(h, "GET", "/v1/flags", "")
	require.Equal(t, 500, w.Code)
	require.NotContains(t, w.Body.String(), "secret", "what went wrong inside stays inside")
}

func TestPagesHoldNoScriptAndLoadNothingFromElsewhere(t *testing.T) {
	f := newFake()
	f.board = board()
	_, h := serve(t, f)
	for _, target := range []string{"/", "/case/MBY-26-00417", "/case/nonsense"} {
		w := ask1(h, "GET", target, "")
		require.Contains(t, w.Header().Get("Content-Security-Policy"), "default-src 'none'")
		body := w.Body.String()
		require.Contains(t, body, "<!doctype html>")
		require.NotContains(t, body, "http://")
		require.NotContains(t, body, "https://")
		require.NotContains(t, body, "style=")
		require.NotContains(t, body, "<script>")
		require.NotContains(t, body, "onclick")
		require.Contains(t, body, "Local policy and licensed practice decide", "the cautions are on every page")
	}
}

func TestTheBoardSaysTheWorstFirstAndWhatIsWell(t *testing.T) {
	f := newFake()
	_, h := serve(t, f)
	require.Contains(t, ask1(h, "GET", "/", "").Body.String(), "No case is open.")
	f.board = board()
	body := ask1(h, "GET", "/", "").Body.String()
	now, today := strings.Index(body, "flag now"), strings.Index(body, "flag today")
	require.True(t, now > 0 && today > now, "worst first")
	require.Contains(t, body, "A core is out of fixative for too long &lt;b&gt;", "texts are text")
	require.Contains(t, body, `href="/case/MBY-26-00417"`)
	require.Contains(t, body, "MBY-26-00417 A03")
	part := ask1(h, "GET", "/?part=board", "").Body.String()
	require.True(t, strings.HasPrefix(part, `<div id="board"`), "what the live page fetches again is the board alone")
}

func board() web.BoardAnswer {
	flag := func(kind tracker.FlagKind, item tracker.Name, s tracker.Severity, text string) tracker.Flag {
		return tracker.Flag{Kind: kind, Case: item.Case(), Item: item, Severity: s, Since: noon.Add(-time.Hour), Text: text,
			Remedy: "Ring the hatch (4417).", Who: "operator", Basis: "protocol line 41: common practice, no source"}
	}
	return web.BoardAnswer{At: noon, Open: []tracker.Judgement{
		{Summary: tracker.Summary{Name: "MBY-26-00416", Known: true, Step: tracker.StepLab, Pots: []tracker.PotSummary{{Name: "MBY-26-00416-A", Place: "lab-reception", Since: noon}}},
			Findings: tracker.Findings{Flags: []tracker.Flag{flag(tracker.FlagResultOverdue, "MBY-26-00416-A", tracker.Today, "No final result.")}}},
		{Summary: tracker.Summary{Name: "MBY-26-00417", Known: true, Step: tracker.StepRoom, Room: "room-2", Pots: []tracker.PotSummary{{Name: "MBY-26-00417-A", Taken: 2, Potted: 1}}},
			Findings: tracker.Findings{Flags: []tracker.Flag{flag(tracker.FlagColdIschaemiaLong, "MBY-26-00417-A03", tracker.Now, "A core is out of fixative for too long <b>")}}},
	}}
}

func TestTheTrailShowsStruckEvents(t *testing.T) {
	_, h := serve(t, newFake())
	body := ask1(h, "GET", "/case/mby2600417", "").Body.String()
	require.Contains(t, body, "taken over at hatch")
	require.Contains(t, body, `class="struck"`)
	require.Equal(t, 400, ask1(h, "GET", "/case/nonsense", "").Code)
}

func TestStaticFilesMayBeKept(t *testing.T) {
	_, h := serve(t, newFake())
	for _, name := range []string{"pottrail.css", "live.js", "icon.svg"} {
		w := ask1(h, "GET", "/static/"+name, "")
		require.Equal(t, 200, w.Code)
		require.Contains(t, w.Header().Get("Cache-Control"), "immutable")
	}
	require.Equal(t, 404, ask1(h, "GET", "/static/..%2fserver.go", "").Code)
}

func TestHealthSaysWhatIsMissing(t *testing.T) {
	f := newFake()
	_, h := serve(t, f)
	require.Equal(t, 200, ask1(h, "GET", "/healthz", "").Code)
	f.sick = &ask.Error{Kind: ask.Unavailable, Text: "the demo's history is not in yet"}
	w := ask1(h, "GET", "/healthz", "")
	require.Equal(t, 503, w.Code)
	require.Contains(t, w.Body.String(), "history is not in yet")
}

func TestChangesArriveLiveAndAgainAfterALostConnection(t *testing.T) {
	f := newFake()
	s, h := serve(t, f)
	server := httptest.NewServer(h)
	t.Cleanup(server.Close)
	t.Cleanup(s.Stop)
	open := func(last string) (*bufio.Scanner, io.Closer) {
		r, err := http.NewRequestWithContext(t.Context(), "GET", server.URL+"/v1/live", nil)
		require.NoError(t, err)
		if last != "" {
			r.Header.Set("Last-Event-ID", last)
		}
		response, err := http.DefaultClient.Do(r)
		require.NoError(t, err)
		require.Equal(t, "text/event-stream", response.Header.Get("Content-Type"))
		return bufio.NewScanner(response.Body), response.Body
	}
	until := func(lines *bufio.Scanner, want string) {
		t.Helper()
		for lines.Scan() {
			if lines.Text() == want {
				return
			}
		}
		t.Fatalf("the stream ended before %q: %v", want, lines.Err())
	}
	lines, body := open("")
	until(lines, "event: board")
	f.change(`{"change":"raised"}`)
	until(lines, "id: 0")
	until(lines, "event: flag")
	until(lines, `data: {"change":"raised"}`)
	require.NoError(t, body.Close())
	f.change(`{"change":"cleared"}`)
	lines, body = open("0")
	until(lines, `data: {"change":"cleared"}`)
	s.Stop()
	for lines.Scan() { // ends, since serving ends
		require.NotContains(t, lines.Text(), "error")
	}
	require.NoError(t, body.Close())
}

func TestAFaultOfOneRequestIsNobodyElses(t *testing.T) {
	f := newFake()
	f.recorded = ask.Recorded{Shape: events.ShapeOne} // no verdict where one is due: a fault of ours
	var log bytes.Buffer
	s, err := web.New(web.Options{Service: f, Board: f, Live: f, Health: f, Log: slog.New(slog.NewTextHandler(&log, nil))})
	require.NoError(t, err)
	w := ask1(s.Pages(), "POST", "/v1/events", `{"by":"HALVORSEN"}`)
	require.Equal(t, 500, w.Code)
	require.Contains(t, log.String(), "a request failed")
	require.NotContains(t, log.String(), "HALVORSEN")
}
