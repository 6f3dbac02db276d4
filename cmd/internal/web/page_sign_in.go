package web

import (
	"fmt"
	"net/http"
	"strings"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
)

// Paths and fields of the pages on the way in.
const (
	pathSignIn  = "/sign-in"
	pathSignOut = "/sign-out"
	toField     = "to"
)

// signInPage asks who is there: the badge, then its PIN.
type signInPage struct {
	frame
	Station string // "" for a screen that is not enrolled
	Shared  bool   // several people use it: its browser should keep nothing that they type
	Badge   string
	To      string
	Note    string // why somebody is here
	Wrong   wrong
}

// wrong is what is wrong with a form, said at the field where it can be put right.
type wrong struct {
	Text string
	At   string // name of the field, "" for the whole form
}

// wrongOf is an error as a form says it. A field that the form does not have is none.
func wrongOf(err error, fields ...string) wrong {
	e := ask.As(err)
	w := wrong{Text: e.Text}
	for _, f := range fields {
		if e.Field == f {
			w.At = f
		}
	}
	return w
}

func (s *Server) signInPage(r *http.Request, to string) signInPage {
	v := visitorOf(r)
	page := signInPage{frame: s.frame(r, "Sign in · Pottrail", ""), To: ownPath(to), Note: v.ended}
	page.Door, page.Who = true, nil
	if v.station != nil {
		page.Station, page.Shared = v.station.Key, v.station.Shared
	}
	return page
}

// signInShow asks who is there.
func (s *Server) signInShow(w http.ResponseWriter, r *http.Request) {
	if !s.inForce() {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	s.show(w, http.StatusOK, s.pages.signIn, wholePage, s.signInPage(r, r.URL.Query().Get(toField)))
}

// signIn takes a badge with its PIN. A badge alone brings somebody to the front whose session at this station is open;
// whoever else it is, is asked for the PIN.
func (s *Server) signIn(w http.ResponseWriter, r *http.Request) {
	if !s.inForce() {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	fields, err := form(w, r)
	if err != nil {
		s.problem(w, r, err)
		return
	}
	page := s.signInPage(r, fields.Get(toField))
	page.Note = ""
	station := visitorOf(r).stationKey
	badge, pin := strings.TrimSpace(fields.Get("badge")), ask.Secret(fields.Get("pin"))
	if strings.HasPrefix(strings.ToUpper(string(pin)), "B:") { // scanned while the other field had the focus
		badge, pin = strings.TrimSpace(string(pin)), ""
	}
	page.Badge = badge
	switch {
	case page.Station == "":
		s.show(w, http.StatusUnauthorized, s.pages.signIn, wholePage, page)
		return
	case badge == "":
		page.Wrong = wrong{"Scan your badge, or type your staff key.", "badge"}
		s.show(w, http.StatusBadRequest, s.pages.signIn, wholePage, page)
		return
	case pin == "":
		signed, err := s.o.SignIn.Switch(r.Context(), ask.SwitchRequest{Station: station, Badge: badge})
		if err != nil {
			s.signInAgain(w, page, err, ask.KindOf(err) == ask.Unknown)
			return
		}
		s.welcome(w, r, signed, page.To)
		return
	}
	counted := "station " + page.Station
	if wait := s.tries.try(counted); wait > 0 {
		s.signInAgain(w, page, tooMany(wait), false)
		return
	}
	signed, err := s.o.SignIn.SignIn(r.Context(), ask.SignInRequest{Station: station, Badge: badge, PIN: pin})
	if err != nil {
		s.signInAgain(w, page, err, false)
		return
	}
	s.tries.giveBack(counted)
	s.welcome(w, r, signed, page.To)
}

// signInAgain shows the form with what was wrong, or asks for the PIN. What is said is the store's, which says the same
// whatever was wrong.
func (s *Server) signInAgain(w http.ResponseWriter, page signInPage, err error, askPIN bool) {
	if askPIN {
		s.show(w, http.StatusOK, s.pages.signIn, wholePage, page)
		return
	}
	page.Wrong = wrong{ask.As(err).Text, "pin"}
	s.show(w, refusedStatus(w, err), s.pages.signIn, wholePage, page)
}

// welcome hands the browser its session, under a new token each time, and leads on.
func (s *Server) welcome(w http.ResponseWriter, r *http.Request, signed *ask.SignedIn, to string) {
	keep(w, r, cookieSession, signed.Token, 0)
	key := visitorOf(r).stationKey
	if signed.StationKey != "" {
		key = signed.StationKey
	}
	keep(w, r, cookieStation, key, stationKept)
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// signOut ends the session of whoever is at the front. The others' stay open until they are idle for too long.
func (s *Server) signOut(w http.ResponseWriter, r *http.Request) {
	if v := visitorOf(r); v.token != "" {
		if err := s.o.SignIn.SignOut(r.Context(), v.token); err != nil && ask.KindOf(err) != ask.Unknown {
			s.problem(w, r, err)
			return
		}
	}
	keep(w, r, cookieSession, "", 0)
	http.Redirect(w, r, pathSignIn, http.StatusSeeOther)
}

// tooMany says how long to wait.
func tooMany(wait time.Duration) error {
	seconds := int((wait + time.Second - 1) / time.Second)
	return &ask.Error{Kind: ask.TooMany, Code: "too-many-tries", Wait: wait, Text: fmt.Sprintf("too many tries from here: wait %d seconds, then try again", seconds)}
}
