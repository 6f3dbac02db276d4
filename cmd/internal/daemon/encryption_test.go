package daemon

import (
	"bufio"
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/cmd/internal/certificates"
	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/events/broker"
)

// encryptedAt is a daemon at work with these options.
func encryptedAt(t testing.TB, log *slog.Logger, set func(o *config.Options)) *running {
	t.Helper()
	o := Options{Options: config.Defaults(func(string) string { return "" }), Log: log, Version: "v0.0.0"}
	o.Folder.Dir, o.Web.Listen = t.TempDir(), "127.0.0.1:0"
	set(&o.Options)
	require.NoError(t, o.Validate())
	d := &running{o: o, broken: make(chan error, 1), alarm: make(alarm, 1)}
	err := d.start()
	t.Cleanup(d.stop)
	require.NoError(t, err)
	return d
}

// trusting is TLS of a client that trusts the daemon's authority and nothing else, by a name.
func trusting(t testing.TB, d *running, name string) *tls.Config {
	t.Helper()
	ca, err := x509.ParseCertificate(d.certificates.Authority().DER())
	require.NoError(t, err)
	roots := x509.NewCertPool()
	roots.AddCert(ca)
	return &tls.Config{RootCAs: roots, ServerName: name}
}

// phone is a browser that finds every name at the daemon.
func phone(t testing.TB, d *running, secure *tls.Config) *http.Client {
	t.Helper()
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	_, port, err := net.SplitHostPort(d.pages.Addr().String())
	require.NoError(t, err)
	transport := &http.Transport{TLSClientConfig: secure, ForceAttemptHTTP2: true, DialContext: func(ctx context.Context, network, _ string) (net.Conn, error) {
		var dialer net.Dialer
		return dialer.DialContext(ctx, network, net.JoinHostPort("127.0.0.1", port))
	}}
	t.Cleanup(transport.CloseIdleConnections)
	return &http.Client{Transport: transport, Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

func get(t testing.TB, c *http.Client, address string) (int, string, http.Header) {
	t.Helper()
	request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, address, nil)
	require.NoError(t, err)
	response, err := c.Do(request)
	require.NoError(t, err)
	body, err := io.ReadAll(response.Body)
	require.NoError(t, err)
	require.NoError(t, response.Body.Close())
	return response.StatusCode, string(body), response.Header
}

var quiet = slog.New(slog.DiscardHandler)

func TestBeyondThisMachineUnderACertificateMadeHere(t *testing.T) {
	d := encryptedAt(t, quiet, func(o *config.Options) {
		o.Web.Listen, o.Web.Hosts, o.TLS.Mode = "0.0.0.0:0", []string{"station.clinic.example"}, config.Local
	})
	r := d.ready()
	require.True(t, strings.HasPrefix(r.URL, "https://station.clinic.example:"), r.URL)
	require.Equal(t, r.URL+"/trust", r.Trust)
	require.False(t, r.Plain)
	c := phone(t, d, trusting(t, d, ""))
	const at = "https://station.clinic.example"

	code, body, _ := get(t, c, at+"/")
	require.Equal(t, 401, code, "nobody is set up: nothing is served")
	require.Contains(t, body, "nobody can sign in here yet")
	code, _, header := get(t, c, at+"/trust")
	require.Equal(t, 200, code)
	require.Equal(t, "max-age=31536000", header.Get("Strict-Transport-Security"))

	link, err := url.Parse(r.SetUp)
	require.NoError(t, err)
	require.Equal(t, "https", link.Scheme)
	require.Equal(t, "station.clinic.example", link.Hostname())
	response, err := c.PostForm(at+"/set-up", url.Values{"token": {link.Fragment}, "staff": {"admin.berg"}, "pin": {"731905"}, "again": {"731905"}, "station": {"desk-1"}})
	require.NoError(t, err)
	require.NoError(t, response.Body.Close())
	require.Equal(t, 303, response.StatusCode)
	cookies := strings.Join(response.Header.Values("Set-Cookie"), "\n")
	require.Contains(t, cookies, "__Host-pottrail-session=")
	require.Contains(t, cookies, "Secure")
	code, _, _ = get(t, c, at+"/v1/protocol")
	require.NotEqual(t, 401, code, "signed in")
	stranger := phone(t, d, trusting(t, d, ""))
	for _, path := range []string{"/", "/case/MBY-26-00417", "/v1/flags", "/v1/events", "/metrics"} {
		code, _, _ := get(t, stranger, at+path)
		require.Contains(t, []int{303, 401}, code, path)
	}
}

func TestOnePortTwoWaysOfComing(t *testing.T) {
	d := encryptedAt(t, quiet, func(o *config.Options) { o.TLS.Mode = config.Local })
	address := d.pages.Addr().String()
	code, body, header := get(t, phone(t, d, nil), "http://"+address+"/v1/flags?name=HALVORSEN")
	require.Equal(t, 400, code)
	require.Contains(t, body, "served encrypted only. Nothing that was sent has been recorded.\nOpen https://"+address+"/\n")
	require.NotContains(t, body, "HALVORSEN")
	require.Empty(t, header.Get("Strict-Transport-Security"))
	code, body, _ = get(t, phone(t, d, nil), "http://"+address+"/trust/pottrail.crt")
	require.Equal(t, 200, code)
	require.Equal(t, string(d.certificates.Authority().DER()), body)
	said := spoken(t, d, request("/v1/events", hostileScan))
	require.Contains(t, said, "400 Bad Request")
	root, err := d.ledger.Root(d.ledger.Origin())
	require.NoError(t, err)
	require.Zero(t, root.Size)

	c := phone(t, d, trusting(t, d, ""))
	response, err := c.Post("https://"+address+"/v1/events", "application/json", strings.NewReader(hostileScan))
	require.NoError(t, err)
	require.NoError(t, response.Body.Close())
	require.Equal(t, 200, response.StatusCode)
	require.Equal(t, "HTTP/1.1", response.Proto)
	require.Equal(t, uint16(tls.VersionTLS13), response.TLS.Version)
	old := trusting(t, d, "")
	old.MaxVersion = tls.VersionTLS12
	_, err = phone(t, d, old).Get("https://" + address + "/")
	require.ErrorContains(t, err, "protocol version")
	_, err = phone(t, d, &tls.Config{}).Get("https://" + address + "/")
	require.ErrorAs(t, err, new(*tls.CertificateVerificationError), "who does not trust the authority")
	_, err = phone(t, d, trusting(t, d, "other.clinic.example")).Get("https://" + address + "/")
	require.ErrorAs(t, err, new(x509.HostnameError))
}

// Whoever says nothing, or half of a greeting, keeps nobody from coming in under TLS, and is gone when the daemon stops.
func TestSlowClientsKeepNobodyOutUnderTLS(t *testing.T) {
	d := encryptedAt(t, quiet, func(o *config.Options) { o.TLS.Mode = config.Local })
	for i := range maxConnections + 4 {
		conn, err := net.Dial("tcp", d.pages.Addr().String())
		require.NoError(t, err)
		t.Cleanup(func() { _ = conn.Close() })
		_, _ = conn.Write([][]byte{nil, {tlsHello}, {tlsHello, 3, 1}, []byte("GET")}[i%4])
	}
	c := phone(t, d, trusting(t, d, ""))
	code, _, _ := get(t, c, "https://"+d.pages.Addr().String()+"/healthz")
	require.Equal(t, 200, code)
	began := time.Now()
	d.stop()
	require.Less(t, time.Since(began), drainTime, "no silent connection holds up the end")
}

// own writes a certificate and its key, as a clinic's technician would put them there, out of an authority of its own.
func own(t *testing.T, dir string, names ...string) (certificate, key string, ca []byte) {
	t.Helper()
	parsed, err := certificates.ParseNames(names)
	require.NoError(t, err)
	made, err := certificates.OpenLocal(filepath.Join(t.TempDir(), "their-authority"), parsed, time.Now(), quiet)
	require.NoError(t, err)
	both, err := os.ReadFile(made.Status(time.Now()).File)
	require.NoError(t, err)
	certificate, key = filepath.Join(dir, "station.crt"), filepath.Join(dir, "station.key")
	require.NoError(t, os.WriteFile(certificate, both, 0o600))
	require.NoError(t, os.WriteFile(key, both, 0o600))
	return certificate, key, made.Authority().DER()
}

func TestACertificateIsChangedWhileTheDaemonRuns(t *testing.T) {
	dir := t.TempDir()
	certificate, key, ca := own(t, dir, "station.clinic.example")
	d := encryptedAt(t, quiet, func(o *config.Options) {
		o.Web.Listen, o.TLS, o.NATS.Listen = "0.0.0.0:0", config.TLS{Certificate: certificate, Key: key}, "0.0.0.0:0"
	})
	require.Empty(t, d.ready().Trust, "the clinic's own is not ours to hand out")
	trusts := func(der []byte) *tls.Config {
		root, err := x509.ParseCertificate(der)
		require.NoError(t, err)
		roots := x509.NewCertPool()
		roots.AddCert(root)
		return &tls.Config{RootCAs: roots, ServerName: "station.clinic.example"}
	}
	nats1 := func(der []byte) error {
		credentials, err := ReadCredentials(d.folder.dir)
		require.NoError(t, err)
		u, err := url.Parse(credentials.URL)
		require.NoError(t, err)
		require.Equal(t, "tls", u.Scheme)
		require.Equal(t, "station.clinic.example", u.Hostname(), "what is in the certificate")
		conn, err := nats.Connect("tls://127.0.0.1:"+u.Port(), nats.UserInfo(credentials.User, credentials.Password), nats.Secure(trusts(der)), nats.Timeout(time.Minute))
		if err != nil {
			return err
		}
		defer conn.Close()
		state, err := conn.TLSConnectionState()
		require.NoError(t, err)
		require.Equal(t, uint16(tls.VersionTLS13), state.Version)
		return nil
	}
	page := func(der []byte) error {
		response, err := phone(t, d, trusts(der)).Get("https://station.clinic.example/healthz")
		if err != nil {
			return err
		}
		require.Equal(t, 200, response.StatusCode)
		return response.Body.Close()
	}
	require.NoError(t, page(ca))
	require.NoError(t, nats1(ca))
	_, _, next := own(t, dir, "station.clinic.example")
	require.Eventually(t, func() bool { return page(next) == nil }, time.Minute, 50*time.Millisecond, "a second later at the latest")
	require.NoError(t, nats1(next))
	require.Error(t, page(ca))
	require.Error(t, nats1(ca))

	// A change of accounts while NATS is served under TLS: the port stays as it is.
	require.NoError(t, d.link.server.SetAccounts(nil))
	require.NoError(t, nats1(next))
	require.Nil(t, d.health.Ready())
}

// Without the certificate nobody beyond this machine is let at NATS, whatever the options say.
func TestNATSBeyondThisMachineIsNeverPlain(t *testing.T) {
	_, err := broker.Start(broker.Options{StoreDir: t.TempDir(), Listen: "0.0.0.0:0", User: "a", Password: "b"})
	require.ErrorIs(t, err, broker.ErrNotLoopback)
	d := encryptedAt(t, quiet, func(o *config.Options) {
		o.Web.Listen, o.Web.Hosts, o.TLS.Mode, o.NATS.Listen = "127.0.0.1:0", []string{"station.clinic.example"}, config.Local, "0.0.0.0:0"
	})
	u, err := url.Parse(d.link.address)
	require.NoError(t, err)
	conn, err := net.Dial("tcp", "127.0.0.1:"+u.Port())
	require.NoError(t, err)
	defer func() { _ = conn.Close() }()
	require.NoError(t, conn.SetDeadline(time.Now().Add(time.Minute)))
	_, err = fmt.Fprint(conn, "CONNECT {}\r\nPING\r\n")
	require.NoError(t, err)
	said, _ := bufio.NewReader(conn).ReadString('\n')
	require.Contains(t, said, `"tls_required":true`)
	rest, _ := io.ReadAll(conn)
	require.NotContains(t, string(rest), "PONG")
}

func TestPlainBeyondThisMachineIsSaid(t *testing.T) {
	var log strings.Builder
	d := encryptedAt(t, slog.New(slog.NewTextHandler(&log, nil)), func(o *config.Options) {
		o.Web.Listen, o.Web.Hosts, o.TLS.Plain = "0.0.0.0:0", []string{"Station.clinic.example"}, true
	})
	require.Contains(t, log.String(), "level=WARN")
	require.Contains(t, log.String(), "without encryption")
	r := d.ready()
	require.True(t, r.Plain)
	require.True(t, strings.HasPrefix(r.URL, "http://Station.clinic.example:"), r.URL)
	c := phone(t, d, nil)
	code, body, _ := get(t, c, "http://station.clinic.example/set-up")
	require.Equal(t, 200, code)
	require.Contains(t, body, "This page is not encrypted")
	code, _, _ = get(t, c, "http://station.clinic.example/v1/flags")
	require.Equal(t, 401, code)
	code, _, _ = get(t, c, "http://127.0.0.1/v1/flags")
	require.Equal(t, 401, code, "a door in front of it on this machine makes nobody known")
	code, _, _ = get(t, c, "http://192.168.7.20/")
	require.Equal(t, 403, code)
}

func TestAnEndedCertificateIsNotReady(t *testing.T) {
	d := encryptedAt(t, quiet, func(o *config.Options) { o.TLS.Mode = config.Local })
	require.NoError(t, d.health.Ready())
	ended := d.certificates.Status(time.Now()).Until.Add(time.Hour)
	d.health.certificate = func() error {
		return fmt.Errorf("%w: it ended on %s", certificates.ErrEnded, ended.Format(time.DateOnly))
	}
	require.ErrorContains(t, d.health.Ready(), "it ended on "+ended.Format(time.DateOnly))
	require.NoError(t, d.health.Healthy(), "it records all the same, over the socket and what trusts it still")
}

func TestTheDemoIsForItsMachineAlone(t *testing.T) {
	o := Options{Options: config.Defaults(func(string) string { return "" }), Log: quiet, Demo: &Demo{}}
	o.Folder.Dir, o.Web.Listen, o.TLS.Plain = filepath.Join(t.TempDir(), "demo"), "0.0.0.0:0", true
	require.ErrorIs(t, Run(t.Context(), o), ErrDemoBeyond)
}

// Over a damaged ledger too nobody is served what they were not before, and it is as encrypted.
func TestADamagedLedgerOpensNoDoor(t *testing.T) {
	folder := rotten(t, func(tx *bolt.Tx) error {
		b := tx.Bucket([]byte("entries"))
		key, leaf := b.Cursor().Last()
		return b.Put(bytes.Clone(key), bytes.Replace(leaf, []byte("nurse."), []byte("nursa."), 1))
	})
	d := encryptedAt(t, quiet, func(o *config.Options) {
		o.Folder.Dir, o.Web.Listen, o.Web.Hosts, o.TLS.Mode = folder, "0.0.0.0:0", []string{"station.clinic.example"}, config.Local
	})
	require.NotEmpty(t, d.damage.what())
	c := phone(t, d, trusting(t, d, ""))
	for _, path := range []string{"/", "/case/MBY-26-00001", "/v1/case/MBY-26-00001", "/v1/events", "/metrics"} {
		code, body, _ := get(t, c, "https://station.clinic.example"+path)
		require.Equal(t, 401, code, path)
		require.NotContains(t, body, d.damage.what(), "what was found is for those who may see it")
	}
	code, _, _ := get(t, phone(t, d, nil), "http://station.clinic.example/")
	require.Equal(t, 400, code)
}
