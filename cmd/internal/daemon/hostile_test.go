package daemon

import (
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/web"
	"github.com/pottrail/pottrail/events"
)

// spoken is what a daemon answers to bytes on a connection of their own, until it closes.
func spoken(t *testing.T, d *running, text string) string {
	t.Helper()
	conn, err := net.Dial("tcp", d.pages.Addr().String())
	require.NoError(t, err)
	defer func() { _ = conn.Close() }()
	require.NoError(t, conn.SetDeadline(time.Now().Add(time.Minute)))
	_, _ = io.WriteString(conn, text) // the other side may have had enough in the middle of it
	said, _ := io.ReadAll(conn)       // or reset the connection
	return string(said)
}

// digest is the ledger's root and what else a client could have changed.
func digest(t *testing.T, d *running) string {
	t.Helper()
	at, err := d.ledger.Root(d.ledger.Origin())
	require.NoError(t, err)
	jobs, err := d.service.Jobs(t.Context(), ask.JobsRequest{})
	require.NoError(t, err)
	refused, err := d.service.Refused(t.Context(), ask.RefusedRequest{By: "quality.roth", Station: "desk-1"})
	require.NoError(t, err)
	return fmt.Sprintf("%d entries %x, %d jobs, %d refused", at.Size, at.Root, len(jobs.Jobs), len(refused.Refused))
}

const hostileScan = `{"id":"0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77","kind":"custody.taken","clinic":"MBY","at":"2026-03-06T11:42:10Z","by":"porter.lund","station":"hatch","items":["MBY-26-00417-A"],"data":{"place":"hatch"}}`

func TestNoGETChangesAnything(t *testing.T) {
	d := atWork(t, 0)
	at := "http://" + d.pages.Addr().String()
	post := func(body string) {
		response, err := http.Post(at+"/v1/events", "application/json", strings.NewReader(body))
		require.NoError(t, err)
		require.Equal(t, 200, response.StatusCode)
		require.NoError(t, response.Body.Close())
	}
	post(hostileScan)
	before := digest(t, d)
	server, err := web.New(web.Options{Service: d.service, Board: d.service, Live: d.service, Health: &d.health, Metrics: d.service.counts.handler(), Log: d.o.Log})
	require.NoError(t, err)
	defer server.Stop()
	// What is in a query of a link that somebody was made to follow.
	event := "?body=" + url.QueryEscape(hostileScan) + "&limit=1&_method=POST&name=MBY-26-00417"
	walked := 0
	for _, route := range server.AllRoutes() {
		path, ok := strings.CutPrefix(route.Pattern, "GET ")
		if !ok || path == "/v1/live" {
			continue
		}
		path = strings.NewReplacer("{name}", "MBY-26-00417-A", "{file}", "live.js", "{$}", "").Replace(path)
		for _, query := range []string{"", event} {
			request, err := http.NewRequestWithContext(t.Context(), "GET", at+path+query, strings.NewReader(hostileScan))
			require.NoError(t, err)
			request.Header.Set("X-HTTP-Method-Override", "POST")
			response, err := http.DefaultClient.Do(request)
			require.NoError(t, err)
			require.NoError(t, response.Body.Close())
			walked++
		}
	}
	require.Greater(t, walked, 20)
	require.Equal(t, before, digest(t, d))
	post(strings.Replace(hostileScan, "2b77", "2b78", 1))
	require.NotEqual(t, before, digest(t, d), "a POST does")
}

func TestBytesThatAreNoProperRequest(t *testing.T) {
	d := atWork(t, 0)
	before := digest(t, d)
	t.Run("each", func(t *testing.T) { eachImproper(t, d) })
	after, _, _ := strings.Cut(digest(t, d), ", ")
	was, _, _ := strings.Cut(before, ", ")
	require.Equal(t, was, after, "nothing of all this is in the ledger")
	require.Contains(t, spoken(t, d, request("/v1/events", hostileScan)), `"ok":true`, "and scanning goes on")
}

func eachImproper(t *testing.T, d *running) {
	length := len(hostileScan)
	for name, c := range map[string]struct{ text, status string }{
		"a header of 64 KiB":                  {"GET / HTTP/1.1\r\nHost: localhost\r\nX-A: " + strings.Repeat("a", 64<<10) + "\r\n\r\n", "431"},
		"an address of 64 KiB":                {"GET /" + strings.Repeat("a", 64<<10) + " HTTP/1.1\r\nHost: localhost\r\n\r\n", "431"},
		"ten thousand headers":                {"GET / HTTP/1.1\r\nHost: localhost\r\n" + strings.Repeat("X-A: b\r\n", 10_000) + "\r\n", "431"},
		"two hosts":                           {"GET / HTTP/1.1\r\nHost: localhost\r\nHost: evil.example\r\n\r\n", "400"},
		"no host":                             {"GET / HTTP/1.1\r\n\r\n", "400"},
		"a host with a line break in it":      {"GET / HTTP/1.1\r\nHost: local\nhost: x\r\n\r\n", "400"},
		"another site's name (rebinding)":     {"GET / HTTP/1.1\r\nHost: evil.example\r\nConnection: close\r\n\r\n", "403"},
		"another site as the address":         {"GET http://evil.example/ HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n", "403"},
		"a name with a dot behind":            {"GET / HTTP/1.1\r\nHost: localhost.evil.example\r\nConnection: close\r\n\r\n", "403"},
		"a header with a zero byte":           {"GET / HTTP/1.1\r\nHost: localhost\r\nX-A: a\x00b\r\n\r\n", "400"},
		"a header name with a space":          {"GET / HTTP/1.1\r\nHost: localhost\r\nX A: b\r\n\r\n", "400"},
		"a folded header":                     {"GET / HTTP/1.1\r\nHost: localhost\r\n X: b\r\n\r\n", "400"},
		"two lengths":                         {fmt.Sprintf("POST /v1/events HTTP/1.1\r\nHost: localhost\r\nContent-Length: 5\r\nContent-Length: %d\r\n\r\n%s", length, hostileScan), "400"},
		"a length below zero":                 {"POST /v1/events HTTP/1.1\r\nHost: localhost\r\nContent-Length: -1\r\n\r\n", "400"},
		"a transfer coding that nobody has":   {"POST /v1/events HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: gzip\r\n\r\n", "501"},
		"chunks that do not say how long":     {"POST /v1/events HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n", "400"},
		"a tunnel":                            {"CONNECT evil.example:443 HTTP/1.1\r\nHost: evil.example:443\r\nConnection: close\r\n\r\n", "403"},
		"the priming of HTTP/2 without TLS":   {"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n", "403"},
		"no HTTP":                             {"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03", "400"},
		"a body longer than any may be":       {fmt.Sprintf("POST /v1/events HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\nContent-Length: %d\r\n\r\n%s", events.MaxRequest+1, strings.Repeat(" ", events.MaxRequest+1)), "413"},
		"something behind the event":          {request("/v1/events", hostileScan+" x"), "400"},
		"an event and half of another":        {request("/v1/events", hostileScan+hostileScan[:20]), "400"},
		"a bracket too many":                  {request("/v1/events", hostileScan+"}"), "400"},
		"a member twice":                      {request("/v1/events", strings.Replace(hostileScan, "{", `{"kind":"custody.given",`, 1)), "400"},
		"half a million brackets":             {request("/v1/events", strings.Repeat("[", 500_000)), "400"},
		"half a million brackets in an event": {request("/v1/events", strings.Replace(hostileScan, `"hatch"}`, strings.Repeat("[", 500_000), 1)), "413"},
		"a byte order mark":                   {request("/v1/events", "\ufeff"+hostileScan), "400"},
		"text that is no UTF-8":               {request("/v1/events", strings.Replace(hostileScan, "hatch", "ha\xfftch", 1)), "400"},
		"nothing":                             {request("/v1/events", ""), "400"},
		"a name with a zero byte":             {"GET /v1/codes/%00 HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n", "400"},
		"a page with a zero byte":             {"GET /case/MBY-26-00417%00 HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n", "400"},
		"a name among the filters":            {"GET /v1/flags?name=HALVORSEN HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n", "400"},
		"a header put in through a name":      {"GET /case/x%0d%0aSet-Cookie:%20a=b HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n", "400"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel() // the server keeps a bad connection for half a second
			said := spoken(t, d, c.text)
			line, _, _ := strings.Cut(said, "\r\n")
			require.Contains(t, line, " "+c.status+" ", "%.300s", said)
			require.NotContains(t, said, "Set-Cookie")
			require.NotContains(t, said, "evil.example", "nothing of it is repeated")
			require.NotContains(t, said, "HALVORSEN")
		})
	}
}

// A second request hidden in the body of a first is a body and nothing else.
func TestARequestHiddenInAnotherIsNone(t *testing.T) {
	d := atWork(t, 0)
	hidden := request("/v1/events", hostileScan)
	said := spoken(t, d, fmt.Sprintf("POST /v1/events HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\nContent-Length: %d\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n%s", len(hidden)+5, hidden))
	require.Equal(t, 1, strings.Count(said, "HTTP/1.1 "), said)
	at, err := d.ledger.Root(d.ledger.Origin())
	require.NoError(t, err)
	require.Zero(t, at.Size)
}
