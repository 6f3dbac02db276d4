package printers

import (
	"crypto/sha256"
	"crypto/tls"
	"encoding/hex"
	"errors"
	"fmt"
	"net"
	"net/url"
	"strings"
)

// printServer is a printer, or a server with printers behind it, that speaks IPP.
type printServer struct {
	name    string      // as people see it: the address without the fingerprint
	uri     string      // as the protocol wants it: ipp or ipps
	url     string      // where requests are posted to: http or https
	address string      // host and port
	tls     *tls.Config // nil for a plain connection
}

// pinPrefix begins the part of an address that says which certificate the printer has.
const pinPrefix = "sha256="

// ports are those that are meant when none is given (RFC 8010, section 4; RFC 7472).
var ports = map[string]string{"ipp": "631", "ipps": "631", "http": "80", "https": "443"}

// openIPP reads an address. With ipps and https, the printer's certificate must be one that this machine trusts, or have the
// SHA-256 fingerprint that stands behind "#sha256=" in the address: most printers sign their own. Client certificates,
// user names and passwords are left out.
func openIPP(to string) (Sender, error) {
	u, err := url.Parse(to)
	if err != nil || u.Host == "" || ports[u.Scheme] == "" {
		return nil, fmt.Errorf("printer address %q does not begin with ipp://, ipps://, http:// or https:// and a host: %s", to, example(WayIPP))
	}
	switch {
	case u.User != nil:
		return nil, fmt.Errorf("printer address of %s holds a user: signing in at a printer is not done here; let the printer take labels from this machine without", u.Host)
	case u.RawQuery != "" || u.ForceQuery:
		return nil, fmt.Errorf("printer address %q holds a question mark: %s", to, example(WayIPP))
	case u.Hostname() == "":
		return nil, fmt.Errorf("printer address %q has no host: %s", to, example(WayIPP))
	}
	port := u.Port()
	if port == "" {
		port = ports[u.Scheme]
	}
	if _, err := portNumber(port); err != nil {
		return nil, fmt.Errorf("printer address %q: %w: %s", to, err, example(WayIPP))
	}
	p := &printServer{address: net.JoinHostPort(u.Hostname(), port)}
	secure := u.Scheme == "ipps" || u.Scheme == "https"
	if secure {
		if p.tls, err = trust(u.Hostname(), u.Fragment); err != nil {
			return nil, fmt.Errorf("printer address %q: %w", to, err)
		}
	} else if u.Fragment != "" {
		return nil, fmt.Errorf("printer address %q: what stands behind # is for ipps and https alone", to)
	}
	u.Fragment, u.RawFragment = "", ""
	if u.Path == "" {
		u.Path = "/"
	}
	p.name = u.String()
	if u.Port() == "" && (u.Scheme == "http" || u.Scheme == "https") {
		u.Host = p.address // as ipp it would mean another port
	}
	u.Scheme = map[bool]string{false: "ipp", true: "ipps"}[secure]
	p.uri = u.String()
	u.Scheme, u.Host = map[bool]string{false: "http", true: "https"}[secure], p.address
	p.url = u.String()
	return p, nil
}

// errCertificate is a certificate other than the one that the address names.
var errCertificate = errors.New("its certificate is not the one that the address names")

// trust is how a printer's certificate is judged: by the machine's own list, or by its fingerprint alone.
func trust(host, fragment string) (*tls.Config, error) {
	c := &tls.Config{ServerName: host, MinVersion: tls.VersionTLS12}
	if fragment == "" {
		return c, nil
	}
	digits, ok := strings.CutPrefix(fragment, pinPrefix)
	want, err := hex.DecodeString(strings.ReplaceAll(digits, ":", ""))
	if !ok || err != nil || len(want) != sha256.Size {
		return nil, fmt.Errorf("what stands behind # is not %s and the 64 hexadecimal digits of a certificate's fingerprint", pinPrefix)
	}
	c.InsecureSkipVerify = true // in favour of the stricter test below
	c.VerifyConnection = func(s tls.ConnectionState) error {
		if got := sha256.Sum256(s.PeerCertificates[0].Raw); [sha256.Size]byte(want) != got {
			return fmt.Errorf("%w: it has %x", errCertificate, got)
		}
		return nil
	}
	return c, nil
}

// distrusted says what to do about a certificate; ok is false if the error is about something else.
func (p *printServer) distrusted(err error) (what string, ok bool) {
	var verify *tls.CertificateVerificationError
	switch {
	case errors.Is(err, errCertificate):
		return p.name + " shows another certificate than its address names: was the printer exchanged or set up anew? If so, change the fingerprint in its address", true
	case errors.As(err, &verify) && len(verify.UnverifiedCertificates) > 0:
		return fmt.Sprintf("%s has a certificate that this machine does not trust: if the printer itself shows the fingerprint %x, add #%s%[2]x to its address",
			p.name, sha256.Sum256(verify.UnverifiedCertificates[0].Raw), pinPrefix), true
	}
	return "", false
}
