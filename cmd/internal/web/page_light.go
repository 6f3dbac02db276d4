package web

import (
	"net/http"
	"time"
)

const (
	pathLight   = "/light"
	cookieLight = "pottrail-light"
	// lightDim is the one way to be set besides what the system asks for: amber on black, for a room in which a picture is read.
	lightDim = "dim"
)

// lightOf is what this browser asked for. It is no secret, and whatever else stands there is nothing.
func lightOf(r *http.Request) string {
	if c, err := r.Cookie(cookieLight); err == nil && c.Value == lightDim {
		return lightDim
	}
	return ""
}

// light makes the pages dark or ends it, at this browser.
func (s *Server) light(w http.ResponseWriter, r *http.Request) {
	fields, err := form(w, r)
	if err != nil {
		s.problem(w, r, err)
		return
	}
	c := &http.Cookie{Name: cookieLight, Value: lightDim, Path: "/", MaxAge: int(stationKept / time.Second), Secure: r.TLS != nil, HttpOnly: true, SameSite: http.SameSiteStrictMode}
	if fields.Get("light") != lightDim {
		c.MaxAge = -1
	}
	http.SetCookie(w, c)
	to := fields.Get(toField)
	if to != pathSignIn {
		to = ownPath(to)
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}
