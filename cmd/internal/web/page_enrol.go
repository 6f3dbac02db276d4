package web

import (
	"net/http"
	"strings"

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
	who := from(r.RemoteAddr)
	if wait := s.knock.try(who); wait > 0 {
		again(tooMany(wait))
		return
	}
	enrolled, err := s.o.SignIn.Enrol(r.Context(), ask.EnrolRequest{Token: ask.Secret(page.Token)})
	if err != nil {
		again(err)
		return
	}
	s.knock.giveBack(who)
	keep(w, r, cookieStation, enrolled.Key, stationKept)
	keep(w, r, cookieSession, "", 0) // it was of what this screen was before
	http.Redirect(w, r, pathSignIn, http.StatusSeeOther)
}
