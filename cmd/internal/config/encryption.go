package config

import (
	"errors"
	"fmt"
	"net"
	"strings"

	"github.com/pottrail/pottrail/cmd/internal/certificates"
)

// TLS says under which certificate pages and NATS are served, if under one.
type TLS struct {
	Certificate string // a PEM file, with what stands between it and its root
	Key         string // the PEM file of its key, readable by its owner alone
	Mode        string // "local": a certificate of this daemon's own small authority; empty otherwise
	Plain       bool   // pages may be served beyond this machine without encryption
}

// Local is the mode of [TLS] in which the daemon makes its certificate itself.
const Local = "local"

// On reports whether pages are served under a certificate.
func (t TLS) On() bool { return t.Mode != "" || t.Certificate != "" }

// ErrBeyondLoopback is returned by [Options.Validate] for an address that others than this machine could reach, with nothing
// that says how.
var ErrBeyondLoopback = errors.New("others than this machine could reach it")

// HostOf is the name or address in "host:port"; "" where all addresses of the machine are meant.
func HostOf(address string) string {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return ""
	}
	if ip := net.ParseIP(host); ip != nil && ip.IsUnspecified() {
		return ""
	}
	return strings.ToLower(host)
}

// OnLoopback reports whether an address is a numeric loopback address or "localhost". Any other name may mean anything.
func OnLoopback(address string) bool {
	host := HostOf(address)
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// Beyond reports whether the pages can be reached by others than this machine.
func (o *Options) Beyond() bool { return !OnLoopback(o.Web.Listen) }

// ServedNames are the names and addresses by which the options say that others reach the pages: those of --http-hosts, and the
// one of --http.
func (o *Options) ServedNames() []string {
	names := o.Web.Hosts
	if host := HostOf(o.Web.Listen); host != "" && o.Beyond() {
		names = append([]string{host}, names...)
	}
	return names
}

// validateServing says what cannot work about where pages and NATS are served.
func (o *Options) validateServing() error {
	t := o.TLS
	switch {
	case (t.Certificate == "") != (t.Key == ""):
		return errors.New("--tls-certificate and --tls-key go together: name both files, or --tls local for a certificate made here")
	case t.Mode != "" && t.Mode != Local:
		return fmt.Errorf("--tls %q: write --tls local for a certificate made here, or --tls-certificate FILE --tls-key FILE for one of your own", t.Mode)
	case t.Mode != "" && t.Certificate != "":
		return errors.New("--tls local makes a certificate here, and --tls-certificate names another one: use one or the other")
	case t.Plain && t.On():
		return errors.New("--http-plain serves without encryption, and a certificate is given: use one or the other")
	}
	for _, at := range []struct{ option, address string }{{"--http", o.Web.Listen}, {"--nats-listen", o.NATS.Listen}} {
		if at.address == "" && at.option != "--http" {
			continue
		}
		if _, _, err := net.SplitHostPort(at.address); err != nil {
			return fmt.Errorf("%s %q: write an address and a port, as in 127.0.0.1:4460", at.option, at.address)
		}
		if OnLoopback(at.address) || t.On() {
			continue
		}
		switch {
		case at.option == "--nats-listen":
			return fmt.Errorf("%s %s: %w, and NATS is never served to them without encryption: give --tls-certificate FILE --tls-key FILE, or --tls local "+
				"for a certificate made here, or use 127.0.0.1 and a tunnel that ends there", at.option, at.address, ErrBeyondLoopback)
		case !t.Plain:
			return fmt.Errorf("%s %s: %w: give --tls-certificate FILE --tls-key FILE; or --tls local for a certificate made here; or say --http-plain "+
				"if it really is to be served without encryption, to whoever listens on the network. For this machine alone use 127.0.0.1", at.option, at.address, ErrBeyondLoopback)
		}
	}
	if t.Mode == Local {
		if _, err := certificates.ParseNames(o.ServedNames()); err != nil {
			return fmt.Errorf("--http-hosts: %w", err)
		}
	}
	if (t.Mode == Local || t.Plain) && o.Beyond() && len(o.ServedNames()) == 0 {
		return fmt.Errorf("--http %s: say with --http-hosts by which names or addresses others reach this machine, as in --http-hosts station.clinic.example,192.0.2.7: "+
			"under any other nothing is served", o.Web.Listen)
	}
	return nil
}
