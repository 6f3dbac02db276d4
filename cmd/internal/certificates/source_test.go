package certificates

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/base64"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
)

func decoded(t *testing.T, text string) []byte {
	t.Helper()
	data, err := base64.StdEncoding.DecodeString(text)
	require.NoError(t, err)
	return data
}

// own writes a pair of files as the clinic's own authority would give them, valid for so many days.
func own(t *testing.T, dir string, from time.Time, days int, dns ...string) (certificate, key string) {
	t.Helper()
	secret, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	template := &x509.Certificate{SerialNumber: serial(), NotBefore: from, NotAfter: from.Add(time.Duration(days) * day), DNSNames: dns}
	der, err := x509.CreateCertificate(rand.Reader, template, template, secret.Public(), secret)
	require.NoError(t, err)
	data, err := both(der, secret)
	require.NoError(t, err)
	certificate, key = filepath.Join(dir, "own.crt"), filepath.Join(dir, "own.key")
	require.NoError(t, os.WriteFile(certificate, public(der), 0o644))
	require.NoError(t, os.WriteFile(key, data[len(public(der)):], 0o600))
	return certificate, key
}

func TestFilesAreReadAgainWhenTheyChange(t *testing.T) {
	dir := t.TempDir()
	certificate, key := own(t, dir, noon, 90, "desk.clinic.example")
	log, said := logged()
	s, err := OpenFiles(certificate, key, noon, log)
	require.NoError(t, err)
	first := s.At(noon).Leaf
	require.Equal(t, first, s.At(noon.Add(time.Hour)).Leaf)

	own(t, dir, noon, 91, "hatch.clinic.example")
	at := noon.Add(time.Hour)
	require.Equal(t, first, s.At(at.Add(999*time.Millisecond)).Leaf, "a look holds for a second")
	second := s.At(at.Add(time.Second)).Leaf
	require.NotEqual(t, first, second)
	require.True(t, s.Covers("hatch.clinic.example"), "its names count at once")
	require.False(t, s.Covers("desk.clinic.example"))
	require.Contains(t, said.String(), "hatch.clinic.example")
}

func TestABadPairKeepsTheOneBefore(t *testing.T) {
	dir := t.TempDir()
	certificate, key := own(t, dir, noon, 90, "desk.clinic.example")
	goodKey, err := os.ReadFile(key)
	require.NoError(t, err)
	for name, spoil := range map[string]func(){
		"nothing in it": func() { require.NoError(t, os.WriteFile(certificate, nil, 0o600)) },
		"half of it":    func() { require.NoError(t, os.Truncate(certificate, 100)) },
		"gone":          func() { require.NoError(t, os.Remove(key)) },
		"of another key": func() {
			own(t, dir, noon, 90, "desk.clinic.example")
			require.NoError(t, os.WriteFile(key, goodKey, 0o600))
		},
		"a key that all can read":  func() { require.NoError(t, os.Chmod(key, 0o644)) },
		"for no name":              func() { own(t, dir, noon, 90) },
		"a folder":                 func() { require.NoError(t, os.Remove(key)); require.NoError(t, os.Mkdir(key, 0o700)) },
		"the key where it belongs": func() { require.NoError(t, os.WriteFile(certificate, goodKey, 0o600)) },
		"longer than any":          func() { require.NoError(t, os.WriteFile(certificate, make([]byte, longestFile+1), 0o600)) },
	} {
		require.NoError(t, os.RemoveAll(key))
		own(t, dir, noon, 90, "desk.clinic.example")
		log, said := logged()
		s, err := OpenFiles(certificate, key, noon, log)
		require.NoError(t, err, name)
		first := s.current.Leaf
		spoil()
		for i := range 30 {
			require.Equal(t, first, s.At(noon.Add(time.Duration(i+1)*time.Second)).Leaf, name)
		}
		require.Equal(t, 1, strings.Count(said.String(), "there is another certificate and it is not used"), "%s: %s", name, said)
		require.NotEmpty(t, s.Status(noon.Add(time.Minute)).Trouble, name)
		require.NoError(t, s.Err(noon.Add(time.Minute)), name)
		_, err = OpenFiles(certificate, key, noon, log)
		require.Error(t, err, "at a start there is none before: %s", name)
		require.NoError(t, os.RemoveAll(key))
		own(t, dir, noon, 92, "desk.clinic.example")
		require.NotEqual(t, first, s.At(noon.Add(2*time.Minute)).Leaf, "%s: and mended it is taken", name)
		require.Empty(t, s.Status(noon.Add(3*time.Minute)).Trouble, name)
	}
}

func TestAKeyThatOthersCanReadIsRefused(t *testing.T) {
	certificate, key := own(t, t.TempDir(), noon, 90, "desk.clinic.example")
	for mode, refused := range map[os.FileMode]bool{0o600: false, 0o400: false, 0o640: true, 0o604: true, 0o660: true, 0o777: true} {
		require.NoError(t, os.Chmod(key, mode))
		_, err := OpenFiles(certificate, key, noon, slog.New(slog.DiscardHandler))
		if !refused {
			require.NoError(t, err, "%o", mode)
			continue
		}
		require.ErrorIs(t, err, ErrKeyMode, "%o", mode)
		require.ErrorContains(t, err, "chmod 600")
	}
}

func TestAnEndedCertificateIsSaid(t *testing.T) {
	certificate, key := own(t, t.TempDir(), noon, 30, "desk.clinic.example")
	log, said := logged()
	s, err := OpenFiles(certificate, key, noon, log)
	require.NoError(t, err)
	require.Empty(t, said)
	s.At(noon.Add(16*day + time.Second))
	s.At(noon.Add(17 * day))
	require.Equal(t, 1, strings.Count(said.String(), "put a new one there, it is taken without a restart"), said)
	require.NoError(t, s.Err(noon.Add(30*day)))
	err = s.Err(noon.Add(30*day + time.Second))
	require.ErrorIs(t, err, ErrEnded)
	require.ErrorContains(t, err, "it ended on 2026-04-05 12:00 UTC")
	require.Contains(t, said.String(), "ERROR")
	require.ErrorContains(t, s.Err(noon.Add(-time.Hour)), "is that clock right?")
	require.NotNil(t, s.At(noon.Add(31*day)), "it is shown all the same: whoever looks at it sees what is wrong")
	late, err := OpenFiles(certificate, key, noon.Add(40*day), log)
	require.NoError(t, err, "nor is it a reason not to start, and not to record")
	require.ErrorIs(t, late.Err(noon.Add(40*day)), ErrEnded)
}

// handshake is what a client gets that speaks these versions.
func handshake(t *testing.T, s *Source, client *tls.Config) (*x509.Certificate, error) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer func() { require.NoError(t, l.Close()) }()
	done := make(chan struct{})
	go func() {
		defer close(done)
		conn, err := l.Accept()
		if err != nil {
			return
		}
		defer func() { _ = conn.Close() }()
		_ = tls.Server(conn, s.TLS()).Handshake()
	}()
	defer func() { <-done }()
	conn, err := tls.Dial("tcp", l.Addr().String(), client)
	if err != nil {
		return nil, err
	}
	defer func() { _ = conn.Close() }()
	return conn.ConnectionState().PeerCertificates[0], nil
}

func TestOnlyTheLatestTLSIsSpoken(t *testing.T) {
	s, err := OpenLocal(filepath.Join(t.TempDir(), "authority"), names(t, "station.clinic.example"), time.Now(), slog.New(slog.DiscardHandler))
	require.NoError(t, err)
	roots := x509.NewCertPool()
	roots.AddCert(s.Authority().pair.Leaf)
	got, err := handshake(t, s, &tls.Config{RootCAs: roots, ServerName: "station.clinic.example"})
	require.NoError(t, err)
	require.Equal(t, s.current.Leaf.Raw, got.Raw)
	_, err = handshake(t, s, &tls.Config{RootCAs: roots, ServerName: "station.clinic.example", MaxVersion: tls.VersionTLS12})
	require.ErrorContains(t, err, "protocol version")
	_, err = handshake(t, s, &tls.Config{ServerName: "station.clinic.example"})
	require.ErrorAs(t, err, new(*tls.CertificateVerificationError), "who does not trust the authority does not come in")
}

// The clock of a bubble goes on by itself, so the renewal that a handshake a year later brings is seen as it would be.
func TestAHandshakeAYearLaterRenews(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "authority")
	synctest.Test(t, func(t *testing.T) {
		s, err := OpenLocal(dir, names(t, "station.clinic.example"), time.Now(), slog.New(slog.DiscardHandler))
		require.NoError(t, err)
		shown := func() *x509.Certificate {
			c, err := s.TLS().GetCertificate(&tls.ClientHelloInfo{})
			require.NoError(t, err)
			return c.Leaf
		}
		first := shown()
		<-time.After(263 * day)
		require.Equal(t, first, shown())
		<-time.After(day)
		second := shown()
		require.NotEqual(t, first, second)
		require.NoError(t, second.CheckSignatureFrom(s.Authority().pair.Leaf))
		<-time.After(300 * day)
		require.NoError(t, s.Err(time.Now()))
	})
}

func TestHowItStandsIsToldWithoutADaemon(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "authority")
	_, err := LookAt(dir, noon)
	require.ErrorIs(t, err, os.ErrNotExist)
	require.NoDirExists(t, dir)
	s, err := OpenLocal(dir, names(t, "station.clinic.example"), noon, slog.New(slog.DiscardHandler))
	require.NoError(t, err)
	at, err := LookAt(dir, noon)
	require.NoError(t, err)
	require.Equal(t, s.Status(noon), at)
	require.NoError(t, os.Remove(filepath.Join(dir, fileServer)))
	at, err = LookAt(dir, noon)
	require.NoError(t, err)
	require.Contains(t, at.Trouble, "the next start makes a certificate")
	require.NoFileExists(t, filepath.Join(dir, fileServer), "looking changes nothing")
}
