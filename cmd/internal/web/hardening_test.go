package web_test

import (
	"bytes"
	"compress/gzip"
	"crypto/tls"
	"io/fs"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/web"
	"github.com/pottrail/pottrail/events"
)

// places are an address for each route that takes a GET, and for each file; fill gives each name in a pattern a value.
func places(t *testing.T, s *web.Server) []string {
	t.Helper()
	fill := strings.NewReplacer("{name}", "MBY-26-00417", "{$}", "", "GET ", "")
	var out []string
	for _, route := range s.AllRoutes() {
		pattern := route.Pattern
		switch {
		case pattern == "GET /static/{file}":
			files, err := fs.Glob(web.StaticFiles, "static/*")
			require.NoError(t, err)
			for _, f := range files {
				out = append(out, "/"+f)
			}
		case strings.HasPrefix(pattern, "GET ") && pattern != "GET /v1/live":
			out = append(out, fill.Replace(pattern))
		}
	}
	require.Greater(t, len(out), 12)
	return append(out, "/nothing/here")
}

// What a page may not hold: anything that runs or looks otherwise than by a file of ours.
var (
	inline    = regexp.MustCompile(`(?i)<script(\s[^>]*)?>\s*[^<\s]|<style|\sstyle\s*=|\son[a-z]+\s*=|javascript:|<iframe|<object|<embed|<base`)
	srcless   = regexp.MustCompile(`(?i)<script(\s+type="module")?\s*>`)
	elsewhere = regexp.MustCompile(`(?i)(href|src|action|srcset|poster|data)\s*=\s*["']?\s*([a-z]+:|//)|@import|url\(`)
)

func TestNoPageHoldsAScriptAStyleOrAnythingFromAnotherHost(t *testing.T) {
	f := newFake()
	f.board = board()
	s, h := serve(t, f)
	for _, target := range places(t, s) {
		w := ask1(h, "GET", target, "")
		said := strings.ReplaceAll(w.Body.String(), "xmlns=\"http://www.w3.org/2000/svg\"", "")
		require.NotContains(t, said, "://", target)
		if kind := w.Header().Get("Content-Type"); strings.HasPrefix(kind, "text/html") || strings.HasPrefix(kind, "text/css") || strings.HasPrefix(kind, "image/svg") {
			for _, not := range []*regexp.Regexp{inline, srcless, elsewhere} {
				require.Empty(t, not.FindString(said), target)
			}
		}
	}
}

func TestNoPageHoldsAScriptCanFail(t *testing.T) {
	for _, bad := range []string{`<script>alert(1)</script>`, `<p style="color:red">`, `<a onclick="x()">`, `<a href="javascript:x()">`, `<STYLE>`, `<base href="/x">`} {
		require.NotEmpty(t, inline.FindString(bad), bad)
	}
	for _, bad := range []string{`<img src="//cdn.example/x.png">`, `<link href='https://x.example/x.css'>`, `@import "x.css"`, `background: url(x.png)`, `<form action=http://x.example>`} {
		require.NotEmpty(t, elsewhere.FindString(bad), bad)
	}
	for _, good := range []string{`<script type="module" src="/static/live.js"></script>`, `<a href="/case/MBY-26-00417">`, `<section>`, `<p class="on">`} {
		require.Empty(t, inline.FindString(good)+elsewhere.FindString(good)+srcless.FindString(good), good)
	}
}

func TestEveryAnswerHasItsPolicy(t *testing.T) {
	f := newFake()
	f.board = board()
	s, h := serve(t, f)
	targets := append(places(t, s), "/case/nonsense", "/static/none.js", "/v1/case/nonsense")
	for _, target := range targets {
		w := ask1(h, "GET", target, "")
		got := w.Header()
		if got.Get("Location") != "" {
			continue
		}
		policy := got.Get("Content-Security-Policy")
		require.Contains(t, policy, "default-src 'none'", target)
		require.Contains(t, policy, "frame-ancestors 'none'", target)
		require.Contains(t, policy, "base-uri 'none'", target)
		require.NotContains(t, policy, "unsafe", target)
		require.NotContains(t, policy, "*", target)
		require.NotContains(t, policy, "data:", target)
		if strings.HasPrefix(got.Get("Content-Type"), "text/html") {
			require.Contains(t, policy, "form-action 'self'", target)
		} else {
			require.Contains(t, policy, "sandbox", "what is no page does nothing if a browser shows it: %s", target)
		}
		require.Equal(t, "nosniff", got.Get("X-Content-Type-Options"), target)
		require.Equal(t, "DENY", got.Get("X-Frame-Options"), target)
		require.Equal(t, "same-origin", got.Get("Referrer-Policy"), target)
		require.Contains(t, got.Get("Permissions-Policy"), "microphone=()", target)
		require.Equal(t, "same-origin", got.Get("Cross-Origin-Opener-Policy"), target)
		require.Equal(t, "same-origin", got.Get("Cross-Origin-Resource-Policy"), target)
		require.Empty(t, got.Get("Access-Control-Allow-Origin"), target)
		require.Empty(t, got.Get("Server"), target)
		require.NotEmpty(t, got.Get("Content-Type"), target)
		if !strings.HasPrefix(target, "/static/") || w.Code != 200 {
			require.Equal(t, "no-store", got.Get("Cache-Control"), "nothing of a case stays in a browser: %s", target)
		}
	}
}

func TestOverTLSABrowserIsAskedToStayThere(t *testing.T) {
	_, h := serve(t, newFake())
	r := httptest.NewRequest("GET", "https://desk:4460/healthz", nil)
	r.TLS = &tls.ConnectionState{}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	require.Equal(t, "max-age=31536000", w.Header().Get("Strict-Transport-Security"))
	require.Empty(t, ask1(h, "GET", "/healthz", "").Header().Get("Strict-Transport-Security"), "over plain HTTP it would be no use")
}

func TestAFormOfAnotherSiteGets403(t *testing.T) {
	f := newFake()
	f.recorded = ask.Recorded{Verdicts: []events.Verdict{{OK: true}}}
	s, h := serve(t, f)
	for name, c := range map[string]struct {
		headers []string
		refused bool
	}{
		"a browser that says so":                        {[]string{"Sec-Fetch-Site", "cross-site", "Origin", "https://evil.example"}, true},
		"a browser that says so, with a forged origin":  {[]string{"Sec-Fetch-Site", "cross-site", "Origin", "http://127.0.0.1:4460"}, true},
		"another port of the same machine":              {[]string{"Sec-Fetch-Site", "same-site", "Origin", "http://127.0.0.1:9999"}, true},
		"an older browser, by its origin alone":         {[]string{"Origin", "http://evil.example"}, true},
		"a page without an origin, in a sandbox":        {[]string{"Origin", "null"}, true},
		"a prefix of our name":                          {[]string{"Origin", "http://127.0.0.1:4460.evil.example"}, true},
		"a word that no browser says":                   {[]string{"Sec-Fetch-Site", "sideways"}, true},
		"our own page":                                  {[]string{"Sec-Fetch-Site", "same-origin", "Origin", "http://127.0.0.1:4460"}, false},
		"our own page, in a browser without Sec-Fetch":  {[]string{"Origin", "http://127.0.0.1:4460"}, false},
		"somebody who typed the address":                {[]string{"Sec-Fetch-Site", "none"}, false},
		"a program, which no page can make send things": {nil, false},
	} {
		f.got = ask.Recording{}
		for _, route := range s.AllRoutes() {
			pattern := route.Pattern
			path, ok := strings.CutPrefix(pattern, "POST ")
			if !ok {
				continue
			}
			w := ask1(h, "POST", path, "{}", c.headers...)
			if c.refused {
				require.Equal(t, 403, w.Code, "%s: %s", name, path)
				require.Contains(t, w.Body.String(), `"cross-origin"`)
			} else {
				require.NotContains(t, w.Body.String(), `"cross-origin"`, "%s: %s", name, path)
			}
		}
		if c.refused {
			require.Nil(t, f.got.Data, name)
		}
	}
}

func TestNothingCompressedIsOpened(t *testing.T) {
	var bomb bytes.Buffer
	z := gzip.NewWriter(&bomb)
	_, err := z.Write(bytes.Repeat([]byte{' '}, 64<<20))
	require.NoError(t, err)
	require.NoError(t, z.Close())
	f := newFake()
	s, err := web.New(web.Options{Service: f, Local: struct{ ask.Local }{}, Board: f, Live: f, Health: f, Log: slog.New(slog.DiscardHandler)})
	require.NoError(t, err)
	h := s.Pages()
	for _, how := range []string{"gzip", "deflate", "br", "zstd", "gzip, identity", "GZIP"} {
		w := ask1(h, "POST", "/v1/events", bomb.String(), "Content-Encoding", how)
		require.Equal(t, 415, w.Code, how)
		require.Contains(t, w.Body.String(), "nothing compressed is opened")
		r := httptest.NewRequest("POST", "http://pottrail"+web.PathOpen, bytes.NewReader(bomb.Bytes()))
		r.Header.Set("Content-Encoding", how)
		w = httptest.NewRecorder()
		s.Socket().ServeHTTP(w, r)
		require.Equal(t, 415, w.Code, how)
	}
	require.Nil(t, f.got.Data)
	f.recorded = ask.Recorded{Shape: events.ShapeOne, Verdicts: []events.Verdict{{OK: true}}}
	require.Equal(t, 200, ask1(h, "POST", "/v1/events", "{}", "Content-Encoding", "identity").Code)
}

func TestEveryRouteThatTakesABodyHasACap(t *testing.T) {
	s, f, _, h := guarded(t)
	b := newBrowser(h).at("key-of-room-2")
	b.signIn(t, "nurse.osei", "271828")
	for _, route := range s.AllRoutes() {
		pattern := route.Pattern
		if path, ok := strings.CutPrefix(pattern, "POST "); ok && path != "/sign-out" { // which reads none
			w := b.send("POST", path, strings.Repeat("a", 1<<20+1))
			require.Equal(t, 413, w.Code, path)
		}
	}
	require.Nil(t, f.got.Data)
}

func TestWhatNoPageHasIsNotRepeated(t *testing.T) {
	f := newFake()
	var log bytes.Buffer
	s, err := web.New(web.Options{Service: f, Board: f, Live: f, Health: f, Log: slog.New(slog.NewTextHandler(&log, &slog.HandlerOptions{Level: slog.LevelDebug}))})
	require.NoError(t, err)
	h := s.Pages()
	for _, target := range []string{
		"/static/../server.go", "/static/..%2f..%2fserver.go", "/static/%2e%2e/%2e%2e/etc/passwd", "/static/live.js%00.css", "/static/%00", "/static//live.js",
		"/static/static/live.js", "/static/..", "/static/.", "/static/live.js/", "/static/C:%5cboot.ini", "/static/%ff%fe",
		"/case/..%2f..%2fetc%2fpasswd", "/case/%00", "/case/MBY-26-00417%00", "/case/MBY-26-00417%0d%0aSet-Cookie:%20a=b", "/case/HALVORSEN%20INGRID", "/case/%3Cscript%3E",
		"/v1/case/HALVORSEN", "/v1/events?since=HALVORSEN", "/HALVORSEN?HALVORSEN=HALVORSEN",
		"/v1/case/" + strings.Repeat("A", 8000),
	} {
		r := httptest.NewRequest("GET", "http://127.0.0.1:4460/", nil)
		r.URL.Path, r.URL.RawPath, r.URL.RawQuery = parts(t, target)
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		require.Contains(t, []int{400, 404, 307, 301}, w.Code, target)
		require.Empty(t, w.Header().Values("Set-Cookie"), target)
		require.NotContains(t, w.Body.String(), "HALVORSEN", target)
		require.NotContains(t, w.Body.String(), "root:", target)
		require.NotContains(t, w.Body.String(), "package web", target)
		require.NotContains(t, strings.ToLower(w.Body.String()), "<script>", target)
		require.Less(t, w.Body.Len(), 4000, target)
	}
	require.NotContains(t, log.String(), "HALVORSEN")
	require.Empty(t, log.String(), "what strangers ask for is not worth a line")
}

func parts(t *testing.T, target string) (path, raw, query string) {
	t.Helper()
	u, err := http.NewRequest("GET", "http://x"+target, nil)
	require.NoError(t, err, target)
	return u.URL.Path, u.URL.RawPath, u.URL.RawQuery
}

func TestOtherMethodsDoNothing(t *testing.T) {
	f := newFake()
	f.recorded = ask.Recorded{Shape: events.ShapeOne, Verdicts: []events.Verdict{{OK: true}}}
	s, h := serve(t, f)
	for _, method := range []string{"OPTIONS", "TRACE", "PUT", "PATCH", "DELETE", "PROPFIND", "get"} {
		for _, target := range append(places(t, s), "/v1/events", "/v1/live", "*") {
			r := httptest.NewRequest(method, "http://127.0.0.1:4460/", strings.NewReader("{}"))
			if target != "*" {
				r.URL.Path = target
			}
			r.Header.Set("X-Canary", "HALVORSEN")
			w := httptest.NewRecorder()
			h.ServeHTTP(w, r)
			require.Equal(t, 405, w.Code, "%s %s", method, target)
			require.Equal(t, "GET, HEAD, POST", w.Header().Get("Allow"))
			require.NotContains(t, w.Body.String(), "HALVORSEN", "TRACE echoes nothing")
		}
	}
	require.Nil(t, f.got.Data)
	for _, target := range append(places(t, s), "/v1/live") {
		require.Equal(t, ask1(h, "HEAD", target, "").Code, headless(h, target), target)
	}
}

// headless is the status of a GET; that of a stream, which would not end, is known.
func headless(h http.Handler, target string) int {
	if target == "/v1/live" {
		return 200
	}
	return ask1(h, "GET", target, "").Code
}

func TestWhatAProxyIsSaidToSayIsNotBelieved(t *testing.T) {
	f := newFake()
	f.board = board()
	_, h := serve(t, f)
	for _, target := range []string{"/", "/case/MBY-26-00417", "/v1/flags", "/healthz", "/nothing"} {
		plain := ask1(h, "GET", target, "")
		forged := ask1(h, "GET", target, "", "X-Forwarded-For", "127.0.0.1", "X-Forwarded-Host", "evil.example", "X-Forwarded-Proto", "https", "Forwarded", "for=127.0.0.1;host=evil.example;proto=https",
			"X-Real-IP", "127.0.0.1", "X-Original-URL", "/metrics", "X-Rewrite-URL", "/metrics", "X-HTTP-Method-Override", "DELETE", "X-Forwarded-User", "admin.falk")
		require.Equal(t, plain.Code, forged.Code, target)
		require.Equal(t, plain.Header(), forged.Header(), target)
		require.Equal(t, plain.Body.String(), forged.Body.String(), target)
	}
}
