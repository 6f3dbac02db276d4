package web

import (
	"errors"
	"net/http"
	"slices"
	"strings"

	"github.com/pottrail/pottrail/cmd/internal/ask"
)

// pagePolicy lets pages load what the binary holds and nothing else; no script stands in the HTML.
const pagePolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; " +
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// dataPolicy is for all that is no page: if a browser shows it, it is data that does nothing.
const dataPolicy = "default-src 'none'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'; sandbox"

// features are those of a browser that pages may use: the camera, for scanning. All others that could watch somebody are off.
const features = "camera=(self), microphone=(), geolocation=(), display-capture=(), hid=(), midi=(), serial=(), usb=(), payment=()"

// transport asks browsers that came over TLS to come over nothing else for a year.
const transport = "max-age=31536000"

// secured sets what holds for every answer; a page widens the policy for itself.
func secured(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", dataPolicy)
		h.Set("X-Frame-Options", "DENY") // for browsers that know no frame-ancestors
		h.Set("X-Content-Type-Options", "nosniff")
		// Not no-referrer: with that a browser sends "Origin: null" with our own forms, and over plain HTTP, where it sends no
		// Sec-Fetch-Site, they could not be told from another site's.
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Permissions-Policy", features)
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		if r.TLS != nil {
			h.Set("Strict-Transport-Security", transport)
		}
		next.ServeHTTP(w, r)
	})
}

// ownPages refuses what a page of another site makes a browser send.
func (s *Server) ownPages(next http.Handler) http.Handler {
	protection := http.NewCrossOriginProtection() // no bypass patterns: GO-2025-3955
	protection.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		s.fail(w, &ask.Error{Kind: ask.Invalid, Code: "cross-origin", Text: "a page of another site may not send this"}, http.StatusForbidden)
	}))
	return protection.Handler(next)
}

// allowedHost refuses names that a page of another site could have pointed at this address (DNS rebinding).
func (s *Server) allowedHost(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !s.hosts(hostOf(r)) {
			s.fail(w, &ask.Error{Kind: ask.Invalid, Code: "unknown-host", Field: "Host",
				Text: "this name is not served here: use 127.0.0.1 or localhost, or start the daemon with --http-hosts"}, http.StatusForbidden)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// hosts reports whether a name or address is ours: this machine's, one that the options name, or one of the certificate.
func (s *Server) hosts(host string) bool {
	host = strings.ToLower(host)
	return host == "localhost" || host == "127.0.0.1" || host == "::1" || slices.Contains(s.o.Hosts, host) ||
		s.o.Certificates != nil && s.o.Certificates.Covers(host)
}

// recovered keeps one request's fault from taking the daemon down; the fault is logged without the request's content.
func (s *Server) recovered(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			fault := recover()
			if fault == nil {
				return
			}
			if err, ok := fault.(error); ok && errors.Is(err, http.ErrAbortHandler) {
				panic(fault)
			}
			s.o.Log.Error("a request failed", "method", r.Method, "route", r.Pattern, "fault", faultText(fault))
			s.fail(w, errors.New("fault"), 0)
		}()
		next.ServeHTTP(w, r)
	})
}
