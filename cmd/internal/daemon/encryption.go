package daemon

import (
	"crypto/tls"
	"errors"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/certificates"
	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/cmd/internal/web"
)

// folderAuthority holds the local authority and its certificates, private to the daemon; in no backup.
const folderAuthority = "authority"

// ErrDemoBeyond says that a demo is for the machine it runs on.
var ErrDemoBeyond = errors.New("the demo has nobody who could sign in, so it is served to this machine only: leave out --http, or name 127.0.0.1")

// unencrypted is logged at each start of a daemon that others reach without encryption.
const unencrypted = "the pages are served to other machines without encryption: whoever is on the network can read them, PINs too; " +
	"--tls local or --tls-certificate puts an end to that"

// openCertificates finds out under what certificate pages and NATS are served, if under any.
func (d *running) openCertificates() error {
	o, at := d.o.TLS, time.Now()
	var err error
	switch {
	case o.Mode == config.Local:
		names, bad := certificates.ParseNames(d.o.ServedNames())
		if bad != nil {
			return bad
		}
		d.certificates, err = certificates.OpenLocal(d.folder.path(folderAuthority), names, at, d.o.Log)
	case o.On():
		d.certificates, err = certificates.OpenFiles(o.Certificate, o.Key, at, d.o.Log)
	case d.o.Beyond():
		d.o.Log.Warn(unencrypted)
	}
	if d.certificates != nil {
		d.health.certificate = func() error { return d.certificates.Err(time.Now()) }
	}
	return err
}

// natsTLS is how NATS is served to other machines; nil where it is served to none.
func (d *running) natsTLS() *tls.Config {
	if d.certificates == nil || d.o.NATS.Listen == "" || config.OnLoopback(d.o.NATS.Listen) {
		return nil
	}
	return d.certificates.TLS()
}

// hosts are the names, in small letters, by which the pages may be asked for beside those of the certificate.
func (d *running) hosts() []string {
	var out []string
	for _, name := range d.o.ServedNames() {
		out = append(out, strings.ToLower(strings.Trim(name, "[]")))
	}
	return out
}

// reachable is an address with a name or an address by which it can be reached in the place of "all of them".
func (d *running) reachable(address string) string {
	host, port, err := net.SplitHostPort(address)
	if err != nil {
		return address
	}
	if ip := net.ParseIP(host); ip == nil || !ip.IsUnspecified() {
		return address
	}
	if name, err := os.Hostname(); err == nil {
		host = name
	}
	if d.certificates != nil && d.certificates.FirstName() != "" {
		host = d.certificates.FirstName()
	}
	if len(d.o.Web.Hosts) > 0 && (d.certificates == nil || d.certificates.Covers(d.o.Web.Hosts[0])) {
		host = strings.Trim(d.o.Web.Hosts[0], "[]")
	}
	return net.JoinHostPort(host, port)
}

// pagesURL is where a browser finds a page.
func (d *running) pagesURL(page string) url.URL {
	u := url.URL{Scheme: "http", Host: d.o.Web.Listen, Path: page}
	if d.certificates != nil {
		u.Scheme = "https"
	}
	if d.pages != nil {
		u.Host = d.pages.Addr().String()
	}
	if named := config.HostOf(d.o.Web.Listen); d.o.Beyond() && named != "" && net.ParseIP(named) == nil { // the name that was given, not what it stands for
		if _, port, err := net.SplitHostPort(u.Host); err == nil {
			u.Host = net.JoinHostPort(named, port)
		}
	}
	u.Host = d.reachable(u.Host)
	return u
}

// serving is a server and what it serves.
type serving struct {
	*http.Server
	l net.Listener
}

// encrypted serves the pages under the certificate, and tells whoever comes without encryption where they are. Without a
// certificate the pages are served as they are.
func (d *running) encrypted(server *web.Server, l net.Listener) []serving {
	pages := newHTTP(server.Pages(), d.o.Log)
	crowd := newCrowd(maxConnections)
	crowd.serve(pages)
	l = crowd.listener(l)
	if d.certificates == nil {
		return []serving{{pages, l}}
	}
	// One request after the other on a connection, as the crowd counts them.
	pages.Protocols = new(http.Protocols)
	pages.Protocols.SetHTTP1(true)
	strays := newHTTP(server.Plain(), d.o.Log)
	crowd.serve(strays)
	doors := sortByFirstByte(l)
	return []serving{{pages, tls.NewListener(doors.secure, d.certificates.TLS())}, {strays, doors.plain}}
}

// servers are all of these, to be stopped together.
func servers(all []serving, more ...*http.Server) []*http.Server {
	for _, s := range all {
		more = append(more, s.Server)
	}
	return slices.Clone(more)
}

// LookAtCertificate says, where no daemon runs, how it stands with the certificate that the options name, or with that of the
// authority in the data folder. It changes nothing.
func LookAtCertificate(o config.Options, at time.Time) (certificates.Status, error) {
	if o.TLS.Certificate != "" {
		s, err := certificates.OpenFiles(o.TLS.Certificate, o.TLS.Key, at, slog.New(slog.DiscardHandler))
		if err != nil {
			return certificates.Status{}, err
		}
		return s.Status(at), nil
	}
	status, err := certificates.LookAt(folder{o.Folder.Dir}.path(folderAuthority), at)
	if errors.Is(err, fs.ErrNotExist) {
		return certificates.Status{Kind: certificates.KindNone}, nil
	}
	return status, err
}
