package web

import (
	"net/http"
	"strings"

	"github.com/pottrail/pottrail/cmd/internal/ask"
)

// Paths of the first run.
const (
	pathSetUp     = "/set-up"
	pathSetUpDone = "/set-up/done"
)

// setUpPage is the first run's form, opened by the one-time link.
type setUpPage struct {
	frame
	Done    bool // set up already: there is nothing left to do here
	Token   string
	Staff   string
	Station string
	Wrong   wrong
}

func (s *Server) setUpPage(r *http.Request) setUpPage {
	page := setUpPage{frame: s.frame(r, "Set up · Pottrail", linkURL), Done: s.inForce()}
	page.Door, page.Who = true, nil
	return page
}

// setUpShow asks for the first administrator and the name of this station. The link's token stands behind "#", so that it
// is in no address that is sent, logged or kept; a script puts it into its field, and without script it is pasted there.
func (s *Server) setUpShow(w http.ResponseWriter, r *http.Request) {
	if s.o.SignIn == nil {
		s.nothingHere(w, r)
		return
	}
	s.show(w, http.StatusOK, s.pages.setUp, wholePage, s.setUpPage(r))
}

// setUp uses the link.
func (s *Server) setUp(w http.ResponseWriter, r *http.Request) {
	if s.o.SignIn == nil {
		s.nothingHere(w, r)
		return
	}
	fields, err := form(w, r)
	if err != nil {
		s.problem(w, r, err)
		return
	}
	page := s.setUpPage(r)
	page.Token, page.Staff, page.Station = strings.TrimSpace(fields.Get("token")), strings.TrimSpace(fields.Get("staff")), strings.TrimSpace(fields.Get("station"))
	again := func(err error) {
		page.Wrong = wrongOf(err, "token", "staff", "pin", "again", "station")
		s.show(w, refusedStatus(w, err), s.pages.setUp, wholePage, page)
	}
	pin := fields.Get("pin")
	switch {
	case page.Token == "":
		again(&ask.Error{Kind: ask.Invalid, Field: "token", Text: "Paste the part behind # of the link that the daemon printed when it started."})
		return
	case page.Staff == "":
		again(&ask.Error{Kind: ask.Invalid, Field: "staff", Text: "Say who you are: your staff key, as in nurse.osei."})
		return
	case pin == "":
		again(&ask.Error{Kind: ask.Invalid, Field: "pin", Text: "Choose a PIN."})
		return
	case pin != fields.Get("again"):
		again(&ask.Error{Kind: ask.Invalid, Field: "again", Text: "The two PINs are not the same: type both again."})
		return
	case page.Station == "":
		again(&ask.Error{Kind: ask.Invalid, Field: "station", Text: "Name this screen, as in desk-1."})
		return
	}
	who := from(r.RemoteAddr)
	if wait := s.knock.try(who); wait > 0 {
		again(tooMany(wait))
		return
	}
	signed, err := s.o.SignIn.SetUp(r.Context(), ask.SetUpRequest{Token: ask.Secret(page.Token), Staff: page.Staff, PIN: ask.Secret(pin), Station: page.Station})
	if err == nil || ask.KindOf(err) == ask.Invalid { // a link that is good, with a PIN or a key that will not do
		s.knock.giveBack(who)
	}
	if err != nil {
		again(err)
		return
	}
	s.welcome(w, r, signed, pathSetUpDone)
}

// setUpDone says what is set up and what comes next.
func (s *Server) setUpDone(w http.ResponseWriter, r *http.Request) {
	s.show(w, http.StatusOK, s.pages.setUpDone, wholePage, setUpPage{frame: s.frame(r, "Set up · Pottrail", "")})
}
