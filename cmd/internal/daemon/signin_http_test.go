package daemon

import (
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
)

// screen is a browser on http://127.0.0.1 that keeps cookies as one does, and follows nothing.
type screen struct {
	t       *testing.T
	at      string
	cookies map[string]string
	http    http.Client
}

func newScreen(t *testing.T, d *running) *screen {
	s := &screen{t: t, at: "http://" + d.pages.Addr().String(), cookies: map[string]string{}}
	s.http.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	t.Cleanup(s.http.CloseIdleConnections)
	return s
}

func (s *screen) send(method, path, body, kind string) (status int, where, said string) {
	s.t.Helper()
	r, err := http.NewRequestWithContext(s.t.Context(), method, s.at+path, strings.NewReader(body))
	require.NoError(s.t, err)
	if kind != "" {
		r.Header.Set("Content-Type", kind)
		r.Header.Set("Sec-Fetch-Site", "same-origin")
	}
	for name, value := range s.cookies {
		r.AddCookie(&http.Cookie{Name: name, Value: value})
	}
	response, err := s.http.Do(r)
	require.NoError(s.t, err)
	data, err := io.ReadAll(response.Body)
	require.NoError(s.t, err)
	require.NoError(s.t, response.Body.Close())
	for _, c := range response.Cookies() {
		if s.cookies[c.Name] = c.Value; c.MaxAge < 0 {
			delete(s.cookies, c.Name)
		}
	}
	return response.StatusCode, response.Header.Get("Location"), string(data)
}

func (s *screen) get(path string) (int, string, string) { return s.send("GET", path, "", "") }

func (s *screen) post(path string, fields ...string) (int, string, string) {
	v := url.Values{}
	for i := 0; i < len(fields); i += 2 {
		v.Set(fields[i], fields[i+1])
	}
	return s.send("POST", path, v.Encode(), "application/x-www-form-urlencoded")
}

// firstScreen opens the link of the first run, and gives the administrator's screen.
func firstScreen(t *testing.T, d *running) *screen {
	t.Helper()
	_, token, ok := strings.Cut(d.firstLink(), "#")
	require.True(t, ok)
	s := newScreen(t, d)
	status, where, said := s.post("/set-up", "token", token, "staff", "admin.falk", "pin", "730416", "again", "730416", "station", "desk-1")
	require.Equal(t, 303, status, said)
	require.Equal(t, "/set-up/done", where)
	return s
}

// enrolled is another screen, with somebody on the list who may sign in there.
func enrolled(t *testing.T, d *running, station, staff, pin string) *screen {
	t.Helper()
	_, err := d.service.AddStaff(t.Context(), ask.StaffRequest{Key: staff, PIN: ask.Secret(pin), By: "admin.falk", Station: "desk-1"})
	require.NoError(t, err)
	link, err := d.service.EnrolStation(t.Context(), ask.EnrolStationRequest{Key: station, Shared: true, By: "admin.falk", Station: "desk-1"})
	require.NoError(t, err)
	_, token, _ := strings.Cut(link.Link, "#")
	s := newScreen(t, d)
	status, where, said := s.post("/enrol", "token", token)
	require.Equal(t, 303, status, said)
	require.Equal(t, "/sign-in", where)
	return s
}

func TestFromTheFirstRunToAnotherScreen(t *testing.T) {
	d := atWork(t, 0)
	stranger := newScreen(t, d)
	status, _, _ := stranger.get("/")
	require.Equal(t, 200, status, "before anybody is set up this machine is served")
	admin := firstScreen(t, d)
	_, _, said := admin.get("/set-up/done")
	require.Contains(t, said, "admin.falk")
	status, where, _ := stranger.get("/")
	require.Equal(t, 303, status, "now it is not")
	require.Equal(t, "/sign-in", where)
	status, _, _ = stranger.get("/v1/flags")
	require.Equal(t, 401, status)
	status, _, said = stranger.get("/healthz")
	require.Equal(t, 200, status)
	require.Equal(t, "{\"ok\":true}\n", said)

	room := enrolled(t, d, "room-2", "nurse.osei", "528163")
	status, _, said = room.post("/sign-in", "badge", "B:nurse.osei")
	require.Equal(t, 200, status)
	require.Contains(t, said, "And your PIN")
	status, _, _ = room.post("/sign-in", "badge", "B:nurse.osei", "pin", "528163")
	require.Equal(t, 303, status)
	_, _, said = room.get("/set-up/done")
	require.Contains(t, said, "nurse.osei")

	before := room.cookies["__Host-pottrail-session"]
	status, _, _ = room.post("/sign-out")
	require.Equal(t, 303, status)
	room.cookies["__Host-pottrail-session"] = before
	status, _, _ = room.get("/")
	require.Equal(t, 303, status, "a session that was signed out is none")
	status, _, _ = admin.get("/set-up/done")
	require.Equal(t, 200, status, "nor is anybody else's ended")
}

// Ten thousand guesses at one screen: next to none reaches the PIN, and nobody elsewhere is slowed down or shut out.
func TestTenThousandGuesses(t *testing.T) {
	guesses := 10_000
	d := atWork(t, 0)
	admin := firstScreen(t, d)
	room := enrolled(t, d, "room-2", "nurse.osei", "528163")
	_, err := d.service.AddStaff(t.Context(), ask.StaffRequest{Key: "porter.lund", PIN: "918273", By: "admin.falk", Station: "desk-1"})
	require.NoError(t, err)
	refused, looked, began := 0, 0, time.Now()
	for i := range guesses {
		status, _, said := room.post("/sign-in", "badge", "nurse.osei", "pin", fmt.Sprintf("%06d", i))
		switch status {
		case 429:
			refused++
		case 401:
			looked++
		default:
			t.Fatalf("guess %d: %d %.500s", i, status, said)
		}
	}
	took := time.Since(began)
	t.Logf("%d guesses in %s: %d were looked at, %d not", guesses, took.Round(time.Millisecond), looked, refused)
	require.LessOrEqual(t, looked, 12+int(took/(6*time.Second)))
	status, _, said := admin.post("/sign-in", "badge", "porter.lund", "pin", "918273")
	require.Equal(t, 303, status, "somebody else at another screen: %s", said)
	status, _, said = admin.post("/sign-in", "badge", "nurse.osei", "pin", "528163")
	require.Equal(t, 303, status, "and whose badge it was, at another screen: %s", said)
}
