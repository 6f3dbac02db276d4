package certificates

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"strings"
	"sync"
	"time"
)

// Where certificates come from.
const (
	KindNone  = "none"  // there is none
	KindFiles = "files" // files of the clinic's own
	KindLocal = "local" // the authority of this daemon
)

const (
	// often is how long a look at what there is holds: a handshake in between costs nothing.
	often = time.Second
	// soon is how long before its end a certificate that is not made here is warned of. Common practice, no source.
	soon = 14 * 24 * time.Hour
)

// ErrEnded says that a certificate is not valid now, so that no browser takes it without a warning.
var ErrEnded = errors.New("the certificate is not valid")

// maker gives certificates from one place.
type maker interface {
	// look gives a certificate if there is another than the last time, else nil. After an error the one before is kept.
	look(at time.Time) (*tls.Certificate, error)
	kind() string
	file() string
}

// Source gives the certificate that is to be shown, and notices when there is another. It is safe for concurrent use.
type Source struct {
	log  *slog.Logger
	from maker

	mu      sync.Mutex
	current *tls.Certificate
	looked  time.Time
	trouble string // why the last look gave nothing new; logged once
	told    string // of its end; logged once
}

// open looks for the first time: without any certificate there is nothing to serve with.
func open(from maker, at time.Time, log *slog.Logger) (*Source, error) {
	s := &Source{log: log, from: from, looked: at}
	var err error
	if s.current, err = from.look(at); err != nil {
		return nil, err
	}
	s.tellLocked(at)
	return s, nil
}

// At is the certificate to be shown at an instant. It looks whether there is another, at most once a second.
func (s *Source) At(at time.Time) *tls.Certificate {
	s.mu.Lock()
	defer s.mu.Unlock()
	if since := at.Sub(s.looked); since >= 0 && since < often { // a clock that was set back makes it look
		return s.current
	}
	s.looked = at
	changed, err := s.from.look(at)
	switch {
	case err != nil:
		if s.trouble != err.Error() {
			s.log.Error("there is another certificate and it is not used; the one before is shown as long as it is valid", "error", err.Error())
		}
		s.trouble = err.Error()
	case changed != nil:
		s.current, s.trouble = changed, ""
		s.log.Info("another certificate is in use", "until", changed.Leaf.NotAfter.Format(time.RFC3339), "names", strings.Join(namesOf(changed), " "))
	default:
		s.trouble = ""
	}
	s.tellLocked(at)
	return s.current
}

// tellLocked logs, once each, that the certificate ends soon or is not valid.
func (s *Source) tellLocked(at time.Time) {
	text, level := "", slog.LevelWarn
	leaf := s.current.Leaf
	if err := s.errLocked(at); err != nil {
		text, level = err.Error(), slog.LevelError
	} else if s.from.kind() == KindFiles && at.Add(soon).After(leaf.NotAfter) {
		text = fmt.Sprintf("the certificate in %s ends on %s: put a new one there, it is taken without a restart", s.from.file(), leaf.NotAfter.UTC().Format(stamp))
	}
	if l, ok := s.from.(*local); ok && text == "" && at.Add(serverLife).After(l.authority.Until()) {
		text = fmt.Sprintf("the local authority ends on %s: before that, move the folder %s away for a new one, and tell every phone to trust that", l.authority.Until().UTC().Format(time.DateOnly), l.authority.dir)
	}
	if text != "" && text != s.told {
		s.log.Log(context.Background(), level, text)
	}
	s.told = text
}

// stamp is how instants are written in sentences here.
const stamp = "2006-01-02 15:04 UTC"

// Err is an [ErrEnded] when the certificate is not valid at an instant.
func (s *Source) Err(at time.Time) error {
	s.At(at)
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.errLocked(at)
}

func (s *Source) errLocked(at time.Time) error {
	leaf := s.current.Leaf
	remedy := "put a new one there, it is taken without a restart"
	if s.from.kind() == KindLocal {
		remedy = "look at `pottrail certificates`, and at this machine's clock"
	}
	switch {
	case at.After(leaf.NotAfter):
		return fmt.Errorf("%w: it ended on %s, so phones and browsers refuse the pages (%s): %s", ErrEnded, leaf.NotAfter.UTC().Format(stamp), s.from.file(), remedy)
	case at.Before(leaf.NotBefore):
		return fmt.Errorf("%w before %s, by this machine's clock (%s): is that clock right?", ErrEnded, leaf.NotBefore.UTC().Format(stamp), s.from.file())
	}
	return nil
}

// Covers reports whether a host name or address is among the certificate's names.
func (s *Source) Covers(host string) bool {
	s.mu.Lock()
	leaf := s.current.Leaf
	s.mu.Unlock()
	return leaf.VerifyHostname(strings.Trim(host, "[]")) == nil
}

// Names are what the certificate is for, host names first.
func (s *Source) Names() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return namesOf(s.current)
}

func namesOf(c *tls.Certificate) []string {
	var out []string
	out = append(out, c.Leaf.DNSNames...)
	for _, ip := range c.Leaf.IPAddresses {
		out = append(out, ip.String())
	}
	return out
}

// TLS is what a server speaks TLS with: 1.3 alone, which every system has that can show our pages and every client of the
// broker, and HTTP/1.1 alone, as the limits on connections count requests one after the other.
func (s *Source) TLS() *tls.Config {
	return &tls.Config{
		MinVersion: tls.VersionTLS13, NextProtos: []string{"http/1.1"},
		GetCertificate: func(*tls.ClientHelloInfo) (*tls.Certificate, error) { return s.At(time.Now()), nil },
	}
}

// Authority is the local authority behind the certificate, nil when there is none.
func (s *Source) Authority() *Authority {
	if l, ok := s.from.(*local); ok {
		return l.authority
	}
	return nil
}

// FirstName is the name or address by which other machines would ask, "" when there is only this machine.
func (s *Source) FirstName() string {
	for _, name := range s.Names() {
		ip := net.ParseIP(name)
		if name != "localhost" && !(ip != nil && ip.IsLoopback()) && !strings.Contains(name, "*") {
			return name
		}
	}
	return ""
}
