package web

import (
	"net/http"
	"strings"

	"github.com/go-json-experiment/json"

	"github.com/pottrail/pottrail/cmd/internal/ask"
)

// pathEnrol is where a station's one-time link leads.
const pathEnrol = "/enrol"

// enrolPage makes this screen a station.
type enrolPage struct {
	frame
	Station string // what this screen is already
	Token   string
	Wrong   wrong
}

func (s *Server) enrolPage(r *http.Request) enrolPage {
	page := enrolPage{frame: s.frame(r, "Enrol this screen · Pottrail", linkURL)}
	page.Door, page.Who = true, nil
	if v := visitorOf(r); v.station != nil {
		page.Station = v.station.Key
	}
	return page
}

// enrolShow asks whether this screen is to be the station of the link. Opening a link does nothing yet: it may have been
// opened on the wrong screen, or by a program that looks at links.
func (s *Server) enrolShow(w http.ResponseWriter, r *http.Request) {
	if !s.inForce() {
		s.nothingHere(w, r)
		return
	}
	s.show(w, http.StatusOK, s.pages.enrol, wholePage, s.enrolPage(r))
}

// enrol uses the link and gives this browser the station's key.
func (s *Server) enrol(w http.ResponseWriter, r *http.Request) {
	if !s.inForce() {
		s.nothingHere(w, r)
		return
	}
	fields, err := form(w, r)
	if err != nil {
		s.problem(w, r, err)
		return
	}
	page := s.enrolPage(r)
	page.Token = strings.TrimSpace(fields.Get("token"))
	again := func(err error) {
		page.Wrong = wrong{ask.As(err).Text, "token"}
		s.show(w, refusedStatus(w, err), s.pages.enrol, wholePage, page)
	}
	if page.Token == "" {
		again(&ask.Error{Kind: ask.Invalid, Text: "Paste the part behind # of the link that you were given."})
		return
	}
	enrolled, err := s.useLink(r, ask.EnrolRequest{Token: ask.Secret(page.Token)})
	if err != nil {
		again(err)
		return
	}
	keep(w, r, cookieStation, enrolled.Key, stationKept)
	keep(w, r, cookieSession, "", 0) // it was of what this screen was before
	http.Redirect(w, r, pathSignIn, http.StatusSeeOther)
}

// useLink uses a station's link, with the limit on tries of whoever knocks.
func (s *Server) useLink(r *http.Request, request ask.EnrolRequest) (*ask.Enrolled, error) {
	who := from(r.RemoteAddr)
	if wait := s.knock.try(who); wait > 0 {
		return nil, tooMany(wait)
	}
	enrolled, err := s.o.SignIn.Enrol(r.Context(), request)
	if err == nil {
		s.knock.giveBack(who)
	}
	return enrolled, err
}

// enrolProgram is enrol for a device without a browser, which keeps the key itself.
func (s *Server) enrolProgram(w http.ResponseWriter, r *http.Request) {
	if !s.inForce() {
		s.nothingHere(w, r)
		return
	}
	data, err := body(w, r, formMost, "this is longer than any token")
	if err != nil {
		s.fail(w, err, 0)
		return
	}
	var request ask.EnrolRequest
	if err := json.Unmarshal(data, &request, json.RejectUnknownMembers(true)); err != nil {
		s.fail(w, &ask.Error{Kind: ask.Invalid, Code: "bad-request", Text: "the request cannot be read: " + ask.Unreadable(err)}, 0)
		return
	}
	enrolled, err := s.useLink(r, request)
	if err != nil {
		s.fail(w, err, 0)
		return
	}
	s.write(w, http.StatusOK, enrolled)
}
