package web_test

import (
	"crypto/tls"
	"crypto/x509"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/certificates"
	"github.com/pottrail/pottrail/cmd/internal/web"
)

// local is a source whose authority is made here.
func local(t *testing.T, names ...string) *certificates.Source {
	t.Helper()
	parsed, err := certificates.ParseNames(names)
	require.NoError(t, err)
	s, err := certificates.OpenLocal(filepath.Join(t.TempDir(), "authority"), parsed, time.Now(), slog.New(slog.DiscardHandler))
	require.NoError(t, err)
	return s
}

// beyond are the pages of a daemon that others reach, in which nobody is set up unless said.
func beyond(t *testing.T, c *certificates.Source, inForce bool) (*web.Server, *fake, *house) {
	t.Helper()
	f, in := newFake(), newHouse()
	f.board, in.inForce = board(), inForce
	s, err := web.New(web.Options{Service: f, Local: &office{}, SignIn: in, Board: f, Live: f, Health: f, Log: slog.New(slog.DiscardHandler), Hosts: []string{"desk"},
		Beyond: true, Certificates: c, Metrics: http.NotFoundHandler(), Version: "v9.9.9"})
	require.NoError(t, err)
	return s, f, in
}

// over asks as a browser does of an address, under TLS where that says https.
func over(h http.Handler, method, address string, headers ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, address, nil)
	r.TLS = nil
	if strings.HasPrefix(address, "https:") {
		r.TLS = &tls.ConnectionState{}
	}
	for i := 0; i < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func TestBeyondThisMachineNothingIsServedBeforeSomebodyIsSetUp(t *testing.T) {
	s, f, _ := beyond(t, nil, false)
	h := s.Pages()
	for _, route := range s.AllRoutes() {
		method, path := full(route.Pattern)
		w := over(h, method, "http://127.0.0.1:4460"+path) // wherever it comes from: a proxy at the door is on this machine too
		require.NotContains(t, w.Body.String(), "fixative", "nothing of the board: %s", route.Pattern)
		require.NotContains(t, w.Body.String(), "v9.9.9", "nor which release this is: %s", route.Pattern)
		if open[route.Pattern] != "" {
			require.NotContains(t, w.Body.String(), "nobody can sign in here yet", route.Pattern)
			continue
		}
		require.Equal(t, 401, w.Code, route.Pattern)
		require.Contains(t, w.Body.String(), "nobody can sign in here yet: open the one-time link", route.Pattern)
	}
	require.Nil(t, f.got.Data)
	require.Equal(t, 200, over(h, "GET", "http://desk:4460/set-up").Code, "but for the way in")
	require.Equal(t, "{\"ok\":true}\n", over(h, "GET", "http://desk:4460/healthz").Body.String())

	_, err := web.New(web.Options{Service: f, Board: f, Live: f, Health: f, Log: slog.New(slog.DiscardHandler), Beyond: true})
	require.ErrorContains(t, err, "nobody can sign in here")
}

func TestBeyondThisMachineCanFail(t *testing.T) {
	_, _, in, h := guarded(t)
	in.inForce = false
	require.Contains(t, over(h, "GET", "http://127.0.0.1:4460/").Body.String(), "fixative", "to this machine alone it is served")
}

func TestAPageThatIsNotEncryptedSaysSo(t *testing.T) {
	s, _, _ := beyond(t, nil, true)
	h := s.Pages()
	const banner = "This page is not encrypted: whoever is on the same network can read it"
	for _, path := range []string{"/sign-in", "/set-up", "/enrol", "/trust"} {
		require.Contains(t, over(h, "GET", "http://desk:4460"+path).Body.String(), banner, path)
		require.NotContains(t, over(h, "GET", "http://127.0.0.1:4460"+path).Body.String(), banner, "no network is between: %s", path)
		require.NotContains(t, over(h, "GET", "https://desk:4460"+path).Body.String(), banner, path)
	}
	w := over(h, "GET", "http://desk:4460/case/MBY-26-00417", "Cookie", "pottrail-station=key-of-room-2; pottrail-session=token-0")
	require.NotContains(t, w.Body.String(), "Strict-Transport")
}

func TestNamesOfTheCertificateAreServed(t *testing.T) {
	s, _, _ := beyond(t, local(t, "station.clinic.example", "192.168.7.20"), true)
	h := s.Pages()
	for host, served := range map[string]bool{"station.clinic.example": true, "STATION.clinic.example": true, "192.168.7.20": true, "desk": true, "localhost": true, "[::1]": true,
		"evil.example": false, "clinic.example": false, "192.168.7.21": false, "station.clinic.example.evil.example": false} {
		w := over(h, "GET", "https://"+host+":4460/sign-in")
		require.Equal(t, served, w.Code == 200, host)
		require.Equal(t, served, w.Code != 403, host)
	}
}

func TestAPhoneIsToldHowToTrustTheAuthority(t *testing.T) {
	c := local(t, "station.clinic.example")
	s, _, _ := beyond(t, c, true)
	h := s.Pages()
	w := over(h, "GET", "https://station.clinic.example:4460/trust")
	require.Equal(t, 200, w.Code)
	body := w.Body.String()
	for group := range strings.FieldsSeq(certificates.Fingerprint(c.Authority().DER())) {
		require.Contains(t, body, "<code>"+group+"</code>")
	}
	for _, says := range []string{"iPhone, iPad", "Android", "Windows", "macOS", "Linux", "Is it working?", "station.clinic.example", "192.168.0.0/16", "Not yet: this browser", `data-check="yes" hidden`} {
		require.Contains(t, body, says)
	}
	require.NotContains(t, body, "://", "under the certificate the page leads nowhere else")

	w = over(h, "GET", "https://station.clinic.example:4460/trust/pottrail.crt")
	require.Equal(t, "application/x-x509-ca-cert", w.Header().Get("Content-Type"))
	given, err := x509.ParseCertificate(w.Body.Bytes())
	require.NoError(t, err)
	require.Equal(t, c.Authority().DER(), given.Raw)
	require.True(t, given.IsCA)
	w = over(h, "GET", "https://station.clinic.example:4460/trust/pottrail.mobileconfig")
	require.Equal(t, "application/x-apple-aspen-config", w.Header().Get("Content-Type"))
	require.Contains(t, w.Body.String(), "com.apple.security.root")
	for _, none := range []string{"authority.pem", "server.pem", "..%2fauthority.pem", "x"} {
		require.Equal(t, 404, over(h, "GET", "https://station.clinic.example:4460/trust/"+none).Code, none)
	}

	s, _, _ = beyond(t, nil, true)
	require.Contains(t, over(s.Pages(), "GET", "http://desk:4460/trust").Body.String(), "pottrail serve --tls local")
	require.Equal(t, 404, over(s.Pages(), "GET", "http://desk:4460/trust/pottrail.crt").Code)
}

func TestWhoeverComesWithoutEncryptionIsToldWhere(t *testing.T) {
	s, f, _ := beyond(t, local(t, "station.clinic.example", "fd00::7"), true)
	h := s.Plain()
	for address, where := range map[string]string{
		"http://station.clinic.example:4460/":                  "Open https://station.clinic.example:4460/\n",
		"http://Station.clinic.example/case/MBY-26-00417":      "Open https://station.clinic.example/\n",
		"http://[fd00::7]:4460/v1/flags":                       "Open https://[fd00::7]:4460/\n",
		"http://station.clinic.example:443/sign-in?badge=none": "Open https://station.clinic.example/\n",
	} {
		w := over(h, "GET", address)
		require.Equal(t, 400, w.Code, address)
		require.Equal(t, "text/plain; charset=utf-8", w.Header().Get("Content-Type"))
		require.Contains(t, w.Body.String(), where)
		require.NotContains(t, w.Body.String(), "MBY")
	}
	for _, route := range s.AllRoutes() {
		method, path := full(route.Pattern)
		w := over(h, method, "http://station.clinic.example:4460"+path)
		require.NotContains(t, w.Body.String(), "fixative")
		if path != "/trust" && !strings.HasPrefix(path, "/static/") && !strings.HasPrefix(path, "/trust/") {
			require.Equal(t, 400, w.Code, route.Pattern)
		}
	}
	require.Nil(t, f.got.Data)
	require.Equal(t, 403, over(h, "GET", "http://evil.example/").Code)
	require.NotContains(t, over(h, "GET", "http://evil.example/").Body.String(), "evil.example")
	w := over(h, "GET", "http://station.clinic.example:4460/trust")
	require.Contains(t, w.Body.String(), `<a href="https://station.clinic.example:4460/trust">`)
	require.Contains(t, w.Body.String(), "This page came without encryption, so it cannot tell.")
	require.Equal(t, 200, over(h, "GET", "http://station.clinic.example:4460/trust/pottrail.crt").Code)
	require.Empty(t, w.Header().Get("Strict-Transport-Security"))
	require.Equal(t, "max-age=31536000", over(s.Pages(), "GET", "https://station.clinic.example:4460/trust").Header().Get("Strict-Transport-Security"))
}
