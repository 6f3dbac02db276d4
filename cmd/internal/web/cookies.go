package web

import (
	"net"
	"net/http"
	"strings"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
)

// Names of the two cookies. With the prefix a browser takes them over TLS alone (or from its own machine), for this host
// alone, and no other host of the same domain can plant one. Over plain HTTP beyond this machine it would drop them, so
// that there they go without.
const (
	cookieSession = "pottrail-session"
	cookieStation = "pottrail-station"
	hostPrefix    = "__Host-"
)

// stationKept is how long a browser is asked to keep a station's key: as long as Chromium keeps any, and it begins anew at
// each sign-in. How long a session lasts is for the store to say; its cookie goes with the browser.
const stationKept = 400 * 24 * time.Hour

// guarded reports whether a browser will keep a cookie with the prefix. Tried with Chromium on 2026-11-25: it does for
// 127.0.0.1, [::1] and localhost over plain HTTP, and does not for another name.
func guarded(r *http.Request) bool {
	if r.TLS != nil {
		return true
	}
	host := strings.ToLower(hostOf(r))
	if host == "localhost" {
		return true
	}
	ip := net.ParseIP(host)
	return ip != nil && ip.IsLoopback()
}

// hostOf is the name or address in the Host header, without port and brackets.
func hostOf(r *http.Request) string {
	host := r.Host
	if name, _, err := net.SplitHostPort(host); err == nil {
		host = name
	}
	return strings.Trim(host, "[]")
}

func cookieName(r *http.Request, name string) string {
	if guarded(r) {
		return hostPrefix + name
	}
	return name
}

// secretIn is what a cookie holds. A cookie that comes twice is none: one of them was planted.
func secretIn(r *http.Request, name string) ask.Secret {
	all := r.CookiesNamed(cookieName(r, name))
	if len(all) != 1 {
		return ""
	}
	return ask.Secret(all[0].Value)
}

// keep asks the browser to keep a secret; "" to forget it. A lasting of 0 is until the browser ends.
func keep(w http.ResponseWriter, r *http.Request, name string, secret ask.Secret, lasting time.Duration) {
	c := &http.Cookie{Name: cookieName(r, name), Value: string(secret), Path: "/", MaxAge: int(lasting / time.Second),
		Secure: guarded(r), HttpOnly: true, SameSite: http.SameSiteStrictMode}
	if secret == "" {
		c.MaxAge = -1
	}
	http.SetCookie(w, c)
}
