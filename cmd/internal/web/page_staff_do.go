package web

import (
	"context"
	"net/http"
	"regexp"
	"strconv"
	"strings"

	"github.com/pottrail/pottrail/cmd/internal/ask"
)

// confirmPage asks for the PIN before what a passer-by must not do at a screen that somebody left.
type confirmPage struct {
	frame
	Ask    string // the question, "End the session of porter.lund at hatch?"
	Button string
	Fields []hidden
	Wrong  wrong
	// Link is what came of it, when a link did; Until is when it ends.
	Link, Until, Name string
	Again, Only       bool
}

// hidden is a field that is sent again with the PIN.
type hidden struct{ Name, Value string }

// deed is something that is done on the page of people and screens.
type deed struct {
	ask    func(of deedOf) string
	button string
	do     func(s *Server, ctx context.Context, of deedOf) (*ask.LinkAnswer, error)
}

// deedOf is whom or what a deed is about, and who does it.
type deedOf struct {
	key, at, clinic, place string
	shared                 bool
	by, station            string
}

// deeds are by the value of the field "do".
var deeds = map[string]deed{
	"end": {func(of deedOf) string { return "End this session of " + of.at + "?" }, "End it",
		func(s *Server, ctx context.Context, of deedOf) (*ask.LinkAnswer, error) {
			number, err := strconv.ParseUint(of.key, 10, 64)
			if err != nil {
				return nil, &ask.Error{Kind: ask.Invalid, Code: "bad-request", Text: "there is no such session"}
			}
			_, err = s.o.Local.EndSession(ctx, ask.EndSessionRequest{Number: number, By: of.by, Station: of.station})
			return nil, err
		}},
	"unlock": {func(of deedOf) string { return "Let " + of.key + " try a PIN again?" }, "Unlock",
		func(s *Server, ctx context.Context, of deedOf) (*ask.LinkAnswer, error) {
			_, err := s.o.Local.UnlockStaff(ctx, ask.StaffRequest{Key: of.key, By: of.by, Station: of.station})
			return nil, err
		}},
	"enrol": {func(of deedOf) string { return "Make a link that enrols a screen as " + of.key + "?" }, "Make the link",
		func(s *Server, ctx context.Context, of deedOf) (*ask.LinkAnswer, error) {
			return s.o.Local.EnrolStation(ctx, ask.EnrolStationRequest{Key: of.key, Clinic: of.clinic, Place: of.place, Shared: of.shared, By: of.by, Station: of.station})
		}},
}

// staffDo asks for the PIN, and with it does what was asked.
func (s *Server) staffDo(w http.ResponseWriter, r *http.Request) {
	v := visitorOf(r)
	if !s.inForce() {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	if v.session == nil {
		s.problem(w, r, errSignIn)
		return
	}
	fields, err := form(w, r)
	if err != nil {
		s.problem(w, r, err)
		return
	}
	field := func(name string) string { return strings.TrimSpace(fields.Get(name)) }
	d, ok := deeds[field("do")]
	of := deedOf{key: field("key"), at: field("at"), clinic: strings.ToUpper(field("clinic")), place: field("place"), shared: field("shared") != "",
		by: v.session.Staff, station: v.session.Station}
	if !ok || !named(of.key) || of.at != "" && !named(of.at) {
		s.problem(w, r, &ask.Error{Kind: ask.Invalid, Code: "bad-request", Text: "Say whom or what this is about: a key is made of letters, digits, dots and hyphens."})
		return
	}
	page := confirmPage{frame: s.frame(r, "Your PIN · Pottrail", ""), Ask: d.ask(of), Button: d.button}
	for _, name := range []string{"do", "key", "at", "clinic", "place", "shared"} {
		if value := field(name); value != "" {
			page.Fields = append(page.Fields, hidden{name, value})
		}
	}
	again := func(err error, at string) {
		page.Wrong = wrong{ask.As(err).Text, at}
		s.show(w, refusedStatus(w, err), s.pages.confirm, wholePage, page)
	}
	pin := ask.Secret(fields.Get("pin"))
	if pin == "" {
		s.show(w, http.StatusOK, s.pages.confirm, wholePage, page)
		return
	}
	if err := s.confirm(w, r, pin); err != nil {
		again(err, "pin")
		return
	}
	link, err := d.do(s, r.Context(), of)
	if err != nil {
		again(err, "")
		return
	}
	if link == nil {
		http.Redirect(w, r, pathStaff, http.StatusSeeOther)
		return
	}
	page.Link, page.Until, page.Name, page.Again, page.Only = link.Link, s.when(link.Until), link.Name, link.Again, link.Only
	s.show(w, http.StatusOK, s.pages.confirm, wholePage, page)
}

// confirm checks the PIN of whoever is signed in once more, with the limit on tries of the station.
func (s *Server) confirm(w http.ResponseWriter, r *http.Request, pin ask.Secret) error {
	v := visitorOf(r)
	counted := "station " + v.session.Station
	if wait := s.tries.try(counted); wait > 0 {
		return tooMany(wait)
	}
	if err := s.o.SignIn.Confirm(r.Context(), v.token, pin); err != nil {
		return err
	}
	s.tries.giveBack(counted)
	return nil
}

// keyShape is what every key looks like. What exactly a key may be the store judges; this keeps what is none off the page.
var keyShape = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9.-]{0,63}$`)

func named(key string) bool { return keyShape.MatchString(key) }
