package web_test

import (
	"crypto"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"log/slog"
	"math/big"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/certificates"
	"github.com/pottrail/pottrail/testdata/outside"
)

// underTLS serves a handler under a configuration, on a port of 127.0.0.1.
func underTLS(t *testing.T, h http.Handler, config *tls.Config) (port string) {
	t.Helper()
	l, err := tls.Listen("tcp", "127.0.0.1:0", config)
	require.NoError(t, err)
	server := &http.Server{Handler: h, ReadHeaderTimeout: time.Minute, ErrorLog: slog.NewLogLogger(slog.DiscardHandler, slog.LevelDebug)}
	done := make(chan error, 1)
	go func() { done <- server.Serve(l) }()
	t.Cleanup(func() {
		require.NoError(t, server.Close())
		require.ErrorIs(t, <-done, http.ErrServerClosed)
	})
	_, port, err = net.SplitHostPort(l.Addr().String())
	require.NoError(t, err)
	return port
}

// tellBrowsers tells the browsers of a home folder to trust an authority, as the steps of the page do by hand.
func tellBrowsers(t *testing.T, program, home, authority string) {
	t.Helper()
	store := filepath.Join(home, ".pki", "nssdb")
	require.NoError(t, os.MkdirAll(store, 0o700))
	for _, args := range [][]string{{"-N", "--empty-password"}, {"-A", "-t", "C,,", "-n", "pottrail", "-i", authority}} {
		out, err := exec.CommandContext(t.Context(), program, append([]string{"-d", "sql:" + store}, args...)...).CombinedOutput()
		require.NoError(t, err, string(out))
	}
}

// goes opens an address and says what kept the browser from it, or "".
func (c *chromium) goes(address string) string {
	c.t.Helper()
	text, _ := c.ask("Page.navigate", fmt.Sprintf(`{"url":%q}`, address))["errorText"].(string)
	if text == "" {
		c.until("Page.loadEventFired")
	}
	return text
}

// A browser that we did not write holds the authority to what it may vouch for, and the page to its word.
func TestABrowserTrustsTheAuthorityForOurNamesAlone(t *testing.T) {
	certutil := outside.Need(t, "certutil")
	dir := filepath.Join(t.TempDir(), "authority")
	names, err := certificates.ParseNames([]string{"station.clinic.example"})
	require.NoError(t, err)
	source, err := certificates.OpenLocal(dir, names, time.Now(), slog.New(slog.DiscardHandler))
	require.NoError(t, err)
	s, _, _ := beyond(t, source, true)
	t.Cleanup(s.Stop)
	port := underTLS(t, s.Pages(), source.TLS())
	stolen := underTLS(t, s.Pages(), forgedFor(t, filepath.Join(dir, "authority.pem"), "bank.example"))
	map1 := "--host-resolver-rules=MAP station.clinic.example 127.0.0.1, MAP bank.example 127.0.0.1"

	home, err := os.MkdirTemp("", "browser") // a browser writes there for a while after it was told to end
	require.NoError(t, err)
	t.Cleanup(func() { _ = os.RemoveAll(home) })
	t.Setenv("HOME", home)
	page := "https://station.clinic.example:" + port + "/trust"
	untrusting := newChromium(t, map1)
	require.Equal(t, "net::ERR_CERT_AUTHORITY_INVALID", untrusting.goes(page))

	tellBrowsers(t, certutil, home, source.Authority().File())
	c := newChromium(t, map1)
	require.Empty(t, c.goes(page))
	require.Equal(t, true, c.see("isSecureContext"))
	require.Equal(t, "object", c.see("typeof navigator.mediaDevices"), "a camera can be asked for")
	require.Equal(t, "yes", c.see(`new Promise((done) => { const look = () => { const p = document.querySelector('[data-check]:not([hidden])');
		p.dataset.check === 'ask' ? setTimeout(look, 20) : done(p.dataset.check); }; look(); })`), "the page says that it works")
	require.Equal(t, 0.0, c.see("navigator.serviceWorker.getRegistrations().then((all) => all.length)"), "and leaves nothing behind")
	require.Empty(t, c.goes("https://127.0.0.1:"+port+"/trust"))
	require.Contains(t, []string{"net::ERR_CERT_INVALID", "net::ERR_CERT_AUTHORITY_INVALID"}, c.goes("https://bank.example:"+stolen+"/trust"), "a stolen key is no bank's")
}

// Whoever was only talked past the warning is not told that it works.
func TestABrowserThatWasTalkedPastTheWarningIsToldSo(t *testing.T) {
	source := local(t, "station.clinic.example")
	s, _, _ := beyond(t, source, true)
	t.Cleanup(s.Stop)
	port := underTLS(t, s.Pages(), source.TLS())
	c := newChromium(t, "--host-resolver-rules=MAP station.clinic.example 127.0.0.1")
	c.ask("Security.enable", `{}`)
	c.ask("Security.setIgnoreCertificateErrors", `{"ignore":true}`)
	require.Empty(t, c.goes("https://station.clinic.example:"+port+"/trust"))
	require.NotEqual(t, "yes", c.see(`new Promise((done) => setTimeout(() => done(document.querySelector('[data-check]:not([hidden])').dataset.check), 1500))`))
}

// forgedFor is what whoever stole the authority's key serves under another's name.
func forgedFor(t *testing.T, authority, name string) *tls.Config {
	t.Helper()
	ca, err := tls.LoadX509KeyPair(authority, authority)
	require.NoError(t, err)
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	template := &x509.Certificate{SerialNumber: big.NewInt(7), NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(24 * time.Hour), DNSNames: []string{name},
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}}
	der, err := x509.CreateCertificate(rand.Reader, template, ca.Leaf, key.Public(), ca.PrivateKey.(crypto.Signer))
	require.NoError(t, err)
	return &tls.Config{Certificates: []tls.Certificate{{Certificate: [][]byte{der}, PrivateKey: key}}, MinVersion: tls.VersionTLS13}
}
