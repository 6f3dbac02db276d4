package certificates

import (
	"bytes"
	"crypto"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/xml"
	"errors"
	"io"
	"io/fs"
	"log/slog"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/testdata/outside"
)

var noon = time.Date(2026, 3, 6, 12, 0, 0, 0, time.UTC)

const day = 24 * time.Hour

func names(t testing.TB, texts ...string) Names {
	t.Helper()
	n, err := ParseNames(texts)
	require.NoError(t, err)
	return n
}

// logged is a log and what was written to it.
func logged() (*slog.Logger, *bytes.Buffer) {
	var out bytes.Buffer
	return slog.New(slog.NewTextHandler(&out, nil)), &out
}

func authority(t testing.TB, texts ...string) *Authority {
	t.Helper()
	a, err := OpenAuthority(filepath.Join(t.TempDir(), "authority"), names(t, texts...), noon)
	require.NoError(t, err)
	return a
}

// forged is a certificate that whoever stole the authority's key makes for any name.
func forged(t testing.TB, a *Authority, dns string, ip net.IP) *x509.Certificate {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	template := &x509.Certificate{SerialNumber: serial(), Subject: pkix.Name{CommonName: "forged"}, NotBefore: noon.Add(-time.Hour), NotAfter: noon.Add(300 * day),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}}
	if dns != "" {
		template.DNSNames = []string{dns}
	}
	if ip != nil {
		template.IPAddresses = []net.IP{ip}
	}
	der, err := x509.CreateCertificate(rand.Reader, template, a.pair.Leaf, key.Public(), a.pair.PrivateKey.(crypto.Signer))
	require.NoError(t, err)
	made, err := x509.ParseCertificate(der)
	require.NoError(t, err)
	return made
}

// believed is what a device that trusts the authority says of a certificate.
func believed(a *Authority, leaf *x509.Certificate, name string, at time.Time) error {
	roots := x509.NewCertPool()
	roots.AddCert(a.pair.Leaf)
	_, err := leaf.Verify(x509.VerifyOptions{Roots: roots, DNSName: name, CurrentTime: at})
	return err
}

func TestTheAuthorityIsAsTheRecipeHasIt(t *testing.T) {
	a := authority(t, "station.clinic.example", "198.51.100.7")
	ca := a.pair.Leaf
	require.True(t, ca.IsCA)
	require.True(t, ca.MaxPathLenZero)
	require.Equal(t, elliptic.P256(), ca.PublicKey.(*ecdsa.PublicKey).Curve)
	require.Equal(t, noon.AddDate(10, 0, 0), ca.NotAfter)
	require.True(t, ca.PermittedDNSDomainsCritical)
	require.Equal(t, []string{"station.clinic.example", "localhost"}, ca.PermittedDNSDomains)
	require.Contains(t, a.Permitted(), "192.168.0.0/16")
	require.Contains(t, a.Permitted(), "198.51.100.7/32", "an address in no private range stands there by itself")
	for _, e := range ca.Extensions {
		if e.Id.String() == "2.5.29.30" { // RFC 5280, section 4.2.1.10: name constraints must be critical
			require.True(t, e.Critical)
		}
	}

	leaf, err := a.issue(names(t, "station.clinic.example", "198.51.100.7", "192.168.7.20").with(thisMachine), noon)
	require.NoError(t, err)
	require.Equal(t, 396*day, leaf.Leaf.NotAfter.Sub(leaf.Leaf.NotBefore))
	for _, name := range []string{"station.clinic.example", "198.51.100.7", "192.168.7.20", "localhost", "127.0.0.1", "::1"} {
		require.NoError(t, believed(a, leaf.Leaf, name, noon.Add(395*day)), name)
	}
	require.Error(t, believed(a, leaf.Leaf, "other.clinic.example", noon))
	require.Error(t, believed(a, leaf.Leaf, "station.clinic.example", noon.Add(397*day)))
}

func TestWhoeverStealsTheKeyIsNoBank(t *testing.T) {
	a := authority(t, "station.clinic.example")
	for name, leaf := range map[string]*x509.Certificate{
		"bank.example":                forged(t, a, "bank.example", nil),
		"clinic.example":              forged(t, a, "clinic.example", nil),
		"station.clinic.example.evil": forged(t, a, "station.clinic.example.evil", nil),
		"evilstation.clinic.example":  forged(t, a, "evilstation.clinic.example", nil),
		"203.0.113.80":                forged(t, a, "", net.IPv4(203, 0, 113, 80)),
		"2001:db8::80":                forged(t, a, "", net.ParseIP("2001:db8::80")),
	} {
		var bad x509.CertificateInvalidError
		require.ErrorAs(t, believed(a, leaf, name, noon), &bad, name)
		require.Equal(t, x509.CANotAuthorizedForThisName, bad.Reason, name)
	}
	require.NoError(t, believed(a, forged(t, a, "station.clinic.example", nil), "station.clinic.example", noon), "for what it may vouch for, it does")
}

// Without the limits the same forgery is believed: it is they that stand in the way.
func TestWhoeverStealsTheKeyIsNoBankCanFail(t *testing.T) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	template := &x509.Certificate{SerialNumber: serial(), NotBefore: noon.Add(-time.Hour), NotAfter: noon.AddDate(10, 0, 0), IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign}
	der, err := x509.CreateCertificate(rand.Reader, template, template, key.Public(), key)
	require.NoError(t, err)
	data, err := both(der, key)
	require.NoError(t, err)
	dir := t.TempDir()
	require.NoError(t, writeWhole(filepath.Join(dir, fileAuthority), data, 0o600))
	a, err := ReadAuthority(dir)
	require.NoError(t, err)
	require.NoError(t, believed(a, forged(t, a, "bank.example", nil), "bank.example", noon))
}

// openssl says of a certificate whether it is to be believed; we did not write it.
func opensslSays(t *testing.T, a *Authority, leaf *x509.Certificate, args ...string) (string, error) {
	t.Helper()
	program := outside.Need(t, "openssl")
	file := filepath.Join(t.TempDir(), "leaf.pem")
	require.NoError(t, os.WriteFile(file, public(leaf.Raw), 0o600))
	args = append([]string{"verify", "-x509_strict", "-purpose", "sslserver", "-attime", "1772798400", "-CAfile", a.File()}, args...)
	out, err := exec.CommandContext(t.Context(), program, append(args, file)...).CombinedOutput()
	return string(out), err
}

func TestAnotherProgramHoldsTheAuthorityToItsLimits(t *testing.T) {
	a := authority(t, "station.clinic.example")
	leaf, err := a.issue(names(t, "station.clinic.example", "192.168.7.20").with(thisMachine), noon)
	require.NoError(t, err)
	for _, args := range [][]string{{"-verify_hostname", "station.clinic.example"}, {"-verify_ip", "192.168.7.20"}, {"-verify_hostname", "localhost"}} {
		said, err := opensslSays(t, a, leaf.Leaf, args...)
		require.NoError(t, err, said)
		require.Contains(t, said, ": OK")
	}
	said, err := opensslSays(t, a, leaf.Leaf, "-verify_hostname", "bank.example")
	require.Error(t, err, said)
	for _, bad := range []*x509.Certificate{forged(t, a, "bank.example", nil), forged(t, a, "", net.IPv4(203, 0, 113, 80))} {
		said, err := opensslSays(t, a, bad)
		require.Error(t, err)
		require.Contains(t, said, "permitted subtree violation")
	}
}

func TestWhereKeysLie(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "authority")
	_, err := OpenLocal(dir, names(t, "station.clinic.example"), noon, slog.New(slog.DiscardHandler))
	require.NoError(t, err)
	info, err := os.Stat(dir)
	require.NoError(t, err)
	require.Equal(t, fs.FileMode(0o700), info.Mode().Perm())
	for file, mode := range map[string]fs.FileMode{fileAuthority: 0o600, fileServer: 0o600, filePublic: 0o644} {
		info, err := os.Stat(filepath.Join(dir, file))
		require.NoError(t, err)
		require.Equal(t, mode, info.Mode().Perm(), file)
	}
	given, err := os.ReadFile(filepath.Join(dir, filePublic))
	require.NoError(t, err)
	require.NotContains(t, string(given), "PRIVATE", "what is given out holds no key")
	parts, err := filepath.Glob(filepath.Join(dir, "*.part"))
	require.NoError(t, err)
	require.Empty(t, parts)

	for _, file := range []string{fileServer, fileAuthority} {
		require.NoError(t, os.Chmod(filepath.Join(dir, file), 0o640))
		_, err = OpenLocal(dir, names(t, "station.clinic.example"), noon, slog.New(slog.DiscardHandler))
		require.ErrorIs(t, err, ErrKeyMode)
		require.ErrorContains(t, err, "chmod 600")
	}
}

func TestADamagedAuthorityIsNotReplaced(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "authority")
	open := func() (*Source, error) {
		return OpenLocal(dir, names(t, "station.clinic.example"), noon, slog.New(slog.DiscardHandler))
	}
	first, err := open()
	require.NoError(t, err)
	server := filepath.Join(dir, fileServer)
	require.NoError(t, os.WriteFile(server, []byte("half a certif"), 0o600))
	second, err := open()
	require.NoError(t, err, "a damaged certificate of the server is made anew")
	require.NotEqual(t, first.current.Leaf.SerialNumber, second.current.Leaf.SerialNumber)
	require.Equal(t, first.Authority().DER(), second.Authority().DER())

	file := filepath.Join(dir, fileAuthority)
	good, err := os.ReadFile(file)
	require.NoError(t, err)
	for _, bad := range []string{"", "half", string(good[:len(good)/2]), string(good[len(good)/2:])} {
		require.NoError(t, os.WriteFile(file, []byte(bad), 0o600))
		_, err = open()
		require.ErrorIs(t, err, ErrCertificate)
		left, err := os.ReadFile(file)
		require.NoError(t, err)
		require.Equal(t, bad, string(left), "phones trust the one that was there")
	}
	leaf, err := os.ReadFile(server)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(file, leaf, 0o600))
	_, err = open()
	require.ErrorContains(t, err, "not the certificate of an authority")
}

func TestRenewedAfterTwoThirdsOfItsLife(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "authority")
	log, said := logged()
	s, err := OpenLocal(dir, names(t, "station.clinic.example"), noon, log)
	require.NoError(t, err)
	first := s.current.Leaf
	due := first.NotBefore.Add(264 * day)
	require.Equal(t, due, s.Status(noon).Renewal)
	require.Equal(t, first, s.At(due.Add(-time.Second)).Leaf)

	again, err := OpenLocal(dir, names(t, "station.clinic.example"), due.Add(-time.Second), log)
	require.NoError(t, err)
	require.Equal(t, first.SerialNumber, again.current.Leaf.SerialNumber, "a restart is no reason for a new one")

	second := s.At(due).Leaf // while it runs
	require.NotEqual(t, first.SerialNumber, second.SerialNumber)
	require.Equal(t, due.Add(-time.Hour).Add(396*day), second.NotAfter)
	require.NoError(t, believed(s.Authority(), second, "station.clinic.example", due))
	require.Contains(t, said.String(), "another certificate is in use")

	later, err := OpenLocal(dir, names(t, "station.clinic.example"), due, log)
	require.NoError(t, err)
	require.Equal(t, second.SerialNumber, later.current.Leaf.SerialNumber, "it was kept")
	at := due.Add(200 * 24 * time.Hour).Add(200 * day)
	third, err := OpenLocal(dir, names(t, "station.clinic.example"), at, log)
	require.NoError(t, err)
	require.NoError(t, third.Err(at), "after a year without a start")
}

func TestTheLastOneEndsWithTheAuthority(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "authority")
	log, said := logged()
	_, err := OpenLocal(dir, names(t, "station.clinic.example"), noon, log)
	require.NoError(t, err)
	near := noon.AddDate(10, 0, -20)
	s, err := OpenLocal(dir, names(t, "station.clinic.example"), near, log)
	require.NoError(t, err)
	last := s.At(near).Leaf
	require.Equal(t, noon.AddDate(10, 0, 0), last.NotAfter)
	require.Equal(t, last, s.At(near.Add(19*day)).Leaf, "it is not made anew again and again")
	require.NoError(t, s.Err(near.Add(19*day)))
	require.ErrorIs(t, s.Err(near.Add(21*day)), ErrEnded)
	require.Contains(t, said.String(), "the certificate is not valid: it ended on 2036-03-06 12:00 UTC")
	require.Contains(t, said.String(), "the local authority ends on 2036-03-06")
	_, err = OpenLocal(dir, names(t, "station.clinic.example", "10.1.2.3"), near.Add(21*day), log)
	require.ErrorContains(t, err, "for a new one, which every phone must then be told to trust")
}

func TestOtherNamesAnotherCertificate(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "authority")
	log, _ := logged()
	first, err := OpenLocal(dir, names(t, "station.clinic.example", "192.168.7.20"), noon, log)
	require.NoError(t, err)
	require.True(t, first.Covers("192.168.7.20"))
	require.False(t, first.Covers("192.168.9.21"))
	same, err := OpenLocal(dir, names(t, "192.168.7.20", "STATION.clinic.example"), noon, log)
	require.NoError(t, err)
	require.Equal(t, first.current.Leaf.SerialNumber, same.current.Leaf.SerialNumber)
	moved, err := OpenLocal(dir, names(t, "station.clinic.example", "192.168.9.21"), noon, log)
	require.NoError(t, err, "another private address needs no new authority")
	require.True(t, moved.Covers("192.168.9.21"))
	require.False(t, moved.Covers("192.168.7.20"))
	require.Equal(t, "station.clinic.example", moved.FirstName())

	for _, name := range []string{"bank.example", "203.0.113.80"} {
		_, err = OpenLocal(dir, names(t, "station.clinic.example", name), noon, log)
		require.ErrorIs(t, err, ErrNotPermitted)
		require.ErrorContains(t, err, name+": ")
		require.ErrorContains(t, err, "every phone must then be told to trust")
	}
}

// A disk that takes nothing keeps what works, and is tried again after an hour.
func TestARenewalThatCannotBeKept(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "authority")
	log, said := logged()
	s, err := OpenLocal(dir, names(t, "station.clinic.example"), noon, log)
	require.NoError(t, err)
	first := s.current.Leaf
	block := filepath.Join(dir, fileServer+".part")
	require.NoError(t, os.Mkdir(block, 0o700))
	due := s.Status(noon).Renewal
	for i := range 10 {
		require.Equal(t, first, s.At(due.Add(time.Duration(i)*time.Minute)).Leaf)
	}
	require.Equal(t, 1, strings.Count(said.String(), "a new certificate cannot be kept"), said)
	require.Contains(t, s.Status(due.Add(11*time.Minute)).Trouble, "a new certificate cannot be kept")
	require.NoError(t, s.Err(due.Add(12*time.Minute)), "the one before is still valid")
	require.NoError(t, os.Remove(block))
	require.Equal(t, first, s.At(due.Add(59*time.Minute)).Leaf)
	require.NotEqual(t, first, s.At(due.Add(time.Hour)).Leaf)
	require.Empty(t, s.Status(due.Add(time.Hour)).Trouble)
}

func TestNames(t *testing.T) {
	n := names(t, "Station.clinic.example", "192.0.2.7", "station.clinic.example", "[2001:db8::7]", "::ffff:192.0.2.7", "desk")
	require.Equal(t, []string{"station.clinic.example", "desk", "192.0.2.7", "2001:db8::7"}, n.Strings())
	for _, bad := range []string{"", "*.clinic.example", "a_b.example", "192.0.2", "192.0.2.0/24", "https://desk", "desk:4460", "-a.example", "a..b", "desk.", "0.0.0.0", "::",
		"fe80::1%eth0", "224.0.0.1", strings.Repeat("a", 64), strings.Repeat("a.", 127) + "example", "bücher.example", "1.2.3.4.5"} {
		_, err := ParseNames([]string{"desk", bad})
		require.ErrorIs(t, err, ErrName, bad)
	}
}

func FuzzParseNames(f *testing.F) {
	for _, seed := range []string{"station.clinic.example", "192.0.2.7,desk", "[2001:db8::7]", "::ffff:10.0.0.1", "a_b", "1.2.3", "*.x", "xn--bcher-kva.example", "0x7f.1"} {
		f.Add(seed)
	}
	a := authority(f, "desk")
	f.Fuzz(func(t *testing.T, text string) {
		n, err := ParseNames(strings.Split(text, ","))
		if err != nil {
			require.ErrorIs(t, err, ErrName)
			return
		}
		back, err := ParseNames(n.Strings())
		require.NoError(t, err)
		require.Equal(t, n.Strings(), back.Strings(), "it reads what it writes")
		if len(n.Strings()) > 3 {
			return
		}
		wide := &Authority{dir: a.dir, pair: a.pair}
		der, key, err := makeAuthority(n.with(thisMachine), noon)
		require.NoError(t, err)
		data, err := both(der, key)
		require.NoError(t, err)
		wide.pair, err = pair(data, data, "made")
		require.NoError(t, err)
		require.NoError(t, wide.permits(n))
		for _, dns := range n.DNS {
			require.NoError(t, believed(wide, forged(t, wide, dns, nil), dns, noon), "%q", dns)
		}
		for _, ip := range n.IP {
			require.NoError(t, believed(wide, forged(t, wide, "", ip.AsSlice()), ip.String(), noon), "%q", ip)
		}
	})
}

func TestAProfileHoldsTheCertificateAndNoKey(t *testing.T) {
	a := authority(t, "station.clinic.example")
	profile := a.Profile()
	require.Equal(t, profile, a.Profile(), "the same each time, so that it never stands there twice")
	d := xml.NewDecoder(bytes.NewReader(profile))
	d.Strict = true
	var data string
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		if start, ok := token.(xml.StartElement); ok && start.Name.Local == "data" {
			require.NoError(t, d.DecodeElement(&data, &start))
		}
	}
	der, err := x509.ParseCertificate(decoded(t, data))
	require.NoError(t, err)
	require.Equal(t, a.DER(), der.Raw)
	require.NotContains(t, string(profile), "PRIVATE")
	require.Regexp(t, `<key>PayloadUUID</key><string>[0-9A-F]{8}-[0-9A-F]{4}-8[0-9A-F]{3}-[89AB][0-9A-F]{3}-[0-9A-F]{12}</string>`, string(profile))
}

func TestAFingerprintIsReadOutInGroups(t *testing.T) {
	// SHA-256 of "abc". Source: FIPS 180-4, example of the NIST page on secure hashing.
	require.Equal(t, "BA:78:16:BF:8F:01:CF:EA 41:41:40:DE:5D:AE:22:23 B0:03:61:A3:96:17:7A:9C B4:10:FF:61:F2:00:15:AD", Fingerprint([]byte("abc")))
}
