package web

import (
	"net"
	"net/http"
	"strings"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/certificates"
)

// Paths by which a device is told to trust the daemon's own authority. Nothing there is secret, and whoever cannot come in yet
// needs it.
const (
	// PathTrust is the page.
	PathTrust     = "/trust"
	fileCrt       = "pottrail.crt"
	fileProfile   = "pottrail.mobileconfig"
	fileWorker    = "worker.js"
	typeCrt       = "application/x-x509-ca-cert"
	typeProfile   = "application/x-apple-aspen-config"
	trustWorkerJS = "// Nothing: that it can be registered shows that this browser trusts the certificate.\n"
)

// trustPage tells how to trust the certificate.
type trustPage struct {
	frame
	Local     *certificates.Authentic // nil for a certificate of the clinic's own
	Groups    []string                // of the authority's fingerprint
	Until     string
	Any       bool   // there is a certificate
	Encrypted bool   // this page came under it
	Secure    string // where the pages are under it, when this one is not
}

func (s *Server) trustShow(w http.ResponseWriter, r *http.Request) {
	page := trustPage{frame: s.frame(r, "Trust this Pottrail · Pottrail", trustURL), Encrypted: r.TLS != nil}
	page.Door, page.Who, page.TLS = true, nil, false // it is the page that the others lead to
	if c := s.o.Certificates; c != nil {
		status := c.Status(time.Now())
		page.Any, page.Local = true, status.Authority
		if page.Local != nil {
			page.Groups, page.Until = strings.Fields(page.Local.Fingerprint), page.Local.Until.Format("2 January 2006")
		}
		if !page.Encrypted {
			page.Secure = s.secureURL(r, PathTrust)
		}
	}
	s.show(w, http.StatusOK, s.pages.trust, wholePage, page)
}

// trustFile gives the authority's certificate, as a file or as a profile, or the script of the check.
func (s *Server) trustFile(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("file")
	if name == fileWorker {
		w.Header().Set("Content-Type", staticTypes[".js"])
		_, _ = w.Write([]byte(trustWorkerJS))
		return
	}
	var authority *certificates.Authority
	if s.o.Certificates != nil {
		authority = s.o.Certificates.Authority()
	}
	switch {
	case authority != nil && name == fileCrt:
		w.Header().Set("Content-Type", typeCrt)
		w.Header().Set("Content-Disposition", `attachment; filename="`+fileCrt+`"`)
		_, _ = w.Write(authority.DER())
	case authority != nil && name == fileProfile:
		w.Header().Set("Content-Type", typeProfile)
		_, _ = w.Write(authority.Profile())
	default:
		s.nothingHere(w, r)
	}
}

// secureURL is where a page is under the certificate, by the name and port that the browser asked for, if the name is ours;
// "" otherwise: what is no name of ours is not repeated.
func (s *Server) secureURL(r *http.Request, path string) string {
	host := hostOf(r)
	if s.o.Certificates == nil || !s.hosts(host) {
		return ""
	}
	if strings.Contains(host, ":") {
		host = "[" + host + "]"
	}
	if _, port, err := net.SplitHostPort(r.Host); err == nil && port != "443" {
		host += ":" + port
	}
	return "https://" + strings.ToLower(host) + path
}

// Plain is the handler for whoever comes to the port of the encrypted pages without encryption: it tells where they are, and
// how to trust the certificate, and answers nothing else.
func (s *Server) Plain() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET "+PathTrust, s.trustShow)
	mux.HandleFunc("GET "+PathTrust+"/{file}", s.trustFile)
	mux.HandleFunc("GET /static/{file}", s.static)
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		where := s.secureURL(r, "/")
		if where == "" {
			where = "the same address with https instead of http"
		}
		w.Header().Set("Content-Type", "text/plain; charset=utf-8")
		w.WriteHeader(http.StatusBadRequest)
		_, _ = w.Write([]byte("This is Pottrail, and it is served encrypted only. Nothing that was sent has been recorded.\nOpen " + where + "\n" +
			"If the browser warns there, open /trust at this address first: it tells how this device comes to trust the certificate.\n"))
	})
	return s.recovered(secured(s.allowedHost(mux)))
}

// certificates says over the socket how it stands with the certificate.
func (s *Server) certificates(w http.ResponseWriter, _ *http.Request) {
	status := certificates.Status{Kind: certificates.KindNone, Unencrypted: s.o.Beyond}
	if s.o.Certificates != nil {
		status = s.o.Certificates.Status(time.Now())
	}
	status.Served = true
	s.write(w, http.StatusOK, status)
}
