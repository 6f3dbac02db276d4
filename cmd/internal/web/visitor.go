package web

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
)

// Access is who may come to a route while signing in is in force. What they may do there is for the service to say, which
// finds in the context who asks.
type Access int

// The kinds of access. The zero value is the narrowest, so that a route that says nothing is not open.
const (
	AccessKnown Access = iota // somebody who is signed in, or a program with a station's key
	AccessQueue               // these, and a station with nobody signed in: what waits there is sent late rather than lost
	AccessDoor                // everybody, on the way in: who comes is looked at, which is no use of a session
	AccessAll                 // everybody, and nobody is asked who they are
)

// visitor is what is known of who asks.
type visitor struct {
	actor      ask.Actor
	session    *ask.Session
	station    *ask.Station // whose key came with the request
	token      ask.Secret   // of the session
	stationKey ask.Secret
	ended      string // why the session that came with the request is none any more
}

type visitorKey struct{}

// visitorOf is who asks; the zero visitor where nobody was looked for.
func visitorOf(r *http.Request) *visitor {
	if v, ok := r.Context().Value(visitorKey{}).(*visitor); ok {
		return v
	}
	return &visitor{}
}

// inForce reports whether people sign in here.
func (s *Server) inForce() bool { return s.o.SignIn != nil && s.o.SignIn.InForce() }

// guard lets those in who may come to a route, and tells it who they are.
func (s *Server) guard(route Route) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if !s.inForce() {
			s.beforeSetUp(w, r, route)
			return
		}
		if route.Access == AccessAll {
			route.handle(w, r)
			return
		}
		v, err := s.visitor(r, route.Access == AccessDoor || byItself(r))
		if route.Access == AccessDoor {
			err = nil // a key that is not valid here is no reason to shut the door
		}
		if v.actor.Way == ask.WayNobody && route.Access == AccessQueue && v.station != nil {
			v.actor = ask.Actor{Way: ask.WayStation, Station: v.station.Key}
		}
		if err != nil || v.actor.Way == ask.WayNobody && route.Access != AccessDoor {
			s.turnAway(w, r, v, err)
			return
		}
		s.endWith(w, r, v)
		ctx := context.WithValue(ask.WithActor(r.Context(), v.actor), visitorKey{}, v)
		route.handle(w, r.WithContext(ctx))
	}
}

// errNobody is said beyond this machine while nobody is set up.
var errNobody = &ask.Error{Kind: ask.Unknown, Code: "sign-in", Text: "nobody can sign in here yet: open the one-time link that the daemon printed when it started, " +
	"or have a new one made at the machine with `pottrail staff set-up-link`"}

// beforeSetUp serves while nobody is set up: all to this machine alone, and beyond it nothing but the way in.
func (s *Server) beforeSetUp(w http.ResponseWriter, r *http.Request, route Route) {
	switch {
	case !s.o.Beyond:
		route.handle(w, r.WithContext(ask.WithActor(r.Context(), ask.Actor{Way: ask.WayOpen})))
	case route.Access == AccessDoor || route.Access == AccessAll:
		route.handle(w, r)
	case forPrograms(r):
		s.fail(w, errNobody, 0)
	default:
		s.problem(w, r, errNobody)
	}
}

// owner tells a route of the socket that its owner asks.
func owner(handle http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		handle(w, r.WithContext(ask.WithActor(r.Context(), ask.Actor{Way: ask.WayOwner})))
	}
}

// visitor finds out who asks. A program names its station in a header; a browser has the cookies of its station and of
// whoever is signed in there. A session counts at its own station alone, so that its cookie is no use to whoever took it
// elsewhere. An error says that what was shown is not valid, or that it cannot be told now.
func (s *Server) visitor(r *http.Request, look bool) (*visitor, error) {
	v := &visitor{}
	if header := r.Header.Get("Authorization"); header != "" {
		scheme, key, _ := strings.Cut(header, " ")
		if !strings.EqualFold(scheme, "Bearer") || key == "" {
			return v, &ask.Error{Kind: ask.Unknown, Code: "bad-authorization", Field: "Authorization", Text: "say Authorization: Bearer and the key of your station"}
		}
		station, err := s.o.SignIn.Station(r.Context(), ask.Secret(key))
		if err != nil {
			return v, err
		}
		v.station, v.stationKey = station, ask.Secret(key)
		v.actor = ask.Actor{Way: ask.WayStation, Station: station.Key}
		return v, nil
	}
	if v.stationKey = secretIn(r, cookieStation); v.stationKey == "" {
		return v, nil
	}
	station, err := s.o.SignIn.Station(r.Context(), v.stationKey)
	if known, err := told(err); !known {
		return v, err
	}
	v.station = station
	if v.token = secretIn(r, cookieSession); v.token == "" {
		return v, nil
	}
	find := s.o.SignIn.Session
	if look {
		find = s.o.SignIn.Look
	}
	session, err := find(r.Context(), v.token)
	if err != nil {
		v.ended = ask.As(err).Text
	}
	if known, err := told(err); !known {
		return v, err
	}
	if session.Station != station.Key {
		v.ended = "this screen is not where you signed in: sign in here"
		return v, nil
	}
	v.session = session
	v.actor = ask.Actor{Way: ask.WaySession, Staff: session.Staff, Station: session.Station}
	return v, nil
}

// endWith makes a page go when its session does, also without script: nothing stays on a screen that somebody left. What
// the browser then asks for is marked as asked by itself, or two pages would keep each other's session open.
func (s *Server) endWith(w http.ResponseWriter, r *http.Request, v *visitor) {
	if v.session == nil || r.Method != http.MethodGet || forPrograms(r) {
		return
	}
	end := v.session.Ends
	if !v.session.Idle.IsZero() && v.session.Idle.Before(end) {
		end = v.session.Idle
	}
	seconds := max(1, int(time.Until(end)/time.Second)+1)
	w.Header().Set("Refresh", fmt.Sprintf("%d; url=%s?%s", seconds, ownPath(r.URL.Path), itselfQuery))
}

// told sorts an error: a key that is none is not an error of the request, all else is.
func told(err error) (known bool, fault error) {
	switch {
	case err == nil:
		return true, nil
	case ask.KindOf(err) == ask.Unknown:
		return false, nil
	}
	return false, err
}

// itselfQuery marks what a page asks for by itself, which is no use of a session.
const itselfQuery = "itself"

// byItself reports whether a page asks, not a person.
func byItself(r *http.Request) bool {
	if r.URL.Path == "/v1/live" {
		return true
	}
	q := r.URL.Query()
	return q.Has(partQuery) || q.Has(itselfQuery)
}

// forPrograms reports whether an answer is for a program or a script rather than for somebody at a screen.
func forPrograms(r *http.Request) bool {
	return strings.HasPrefix(r.URL.Path, "/v1/") || r.URL.Path == "/metrics" || r.URL.Query().Has(partQuery) || r.Header.Get("Authorization") != ""
}

// errSignIn is said to whoever shows nothing.
var errSignIn = &ask.Error{Kind: ask.Unknown, Code: "sign-in", Text: "sign in first: people with badge and PIN at an enrolled station, programs with their station's key"}

// turnAway sends a person to the sign-in page and tells a program why it is not answered.
func (s *Server) turnAway(w http.ResponseWriter, r *http.Request, v *visitor, err error) {
	if err == nil {
		err = errSignIn
	}
	switch {
	case forPrograms(r):
		if ask.KindOf(err) == ask.Unknown {
			w.Header().Set("WWW-Authenticate", `Bearer realm="pottrail"`)
		}
		s.fail(w, err, 0)
	case ask.KindOf(err) != ask.Unknown:
		s.problem(w, r, err)
	default:
		http.Redirect(w, r, signInURL(r), http.StatusSeeOther)
	}
}

// signInURL is the sign-in page, which leads back to where somebody wanted to go.
func signInURL(r *http.Request) string {
	if r.Method != http.MethodGet {
		return pathSignIn
	}
	to := ownPath(r.URL.Path)
	if to == "/" {
		return pathSignIn
	}
	return pathSignIn + "?" + url.Values{toField: {to}}.Encode()
}

// ownPath is a path of ours that somebody may be led to after signing in, "/" for whatever else is asked for: another host,
// or what merely looks like a path to some browsers.
func ownPath(to string) string {
	if !pathShape.MatchString(to) || strings.HasPrefix(to, pathSignIn) {
		return "/"
	}
	if name, ok := strings.CutPrefix(to, "/case/"); ok { // what is no name of ours may be a patient's: it is not repeated
		if _, err := (ask.Request{Name: name}).Thing(); err != nil {
			return "/"
		}
	}
	return to
}

// pathShape is a path whose second character is a letter or digit, which leaves no way to name a host.
var pathShape = regexp.MustCompile(`^/([A-Za-z0-9][A-Za-z0-9/._-]{0,79})?$`)
