package web

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"net/http"
	"strings"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/say"
	"github.com/pottrail/pottrail/tracker"
)

//go:embed pages/*.html
var pageFiles embed.FS

// pages holds the parsed templates, one set a page over the common parts.
type pages struct {
	board, trail, problem, setUp, setUpDone, enrol, signIn, staff, confirm, trust *template.Template
}

func parsePages() (*pages, error) {
	one := func(name string) (*template.Template, error) {
		return template.New(name).ParseFS(pageFiles, "pages/frame.html", "pages/flag.html", "pages/"+name)
	}
	var p pages
	for name, to := range map[string]**template.Template{"board.html": &p.board, "trail.html": &p.trail, "problem.html": &p.problem,
		"set-up.html": &p.setUp, "set-up-done.html": &p.setUpDone, "enrol.html": &p.enrol, "sign-in.html": &p.signIn, "staff.html": &p.staff, "confirm.html": &p.confirm, "trust.html": &p.trust} {
		t, err := one(name)
		if err != nil {
			return nil, fmt.Errorf("page %s: %w", name, err)
		}
		*to = t
	}
	return &p, nil
}

// frame is what every page has around it.
type frame struct {
	Title   string
	Demo    bool
	Damaged bool   // the ledger can only be read
	Found   string // what is wrong with it, for those who may know
	Version string
	Style   string
	Script  string // "" for none
	Who     *who   // nil when nobody is signed in, or nobody needs to be
	Door    bool   // a page on the way in, which leads nowhere else
	Staffed bool   // there is a page of people and screens
	Light   string // of the room: "dim", or "" for as the system has it
	Here    string // the page's own path
	Plain   bool   // it goes over the network as anybody there can read it
	TLS     bool   // there is a certificate, of which a page tells
}

// who is the line that says who is signed in.
type who struct {
	Staff   string
	Station string
	Others  []string
	Here    string // the page to come back to
}

func (s *Server) frame(r *http.Request, title, script string) frame {
	f := frame{Title: title, Demo: s.o.Demo, Version: s.o.Version, Style: styleURL, Script: script, Light: lightOf(r), Here: ownPath(r.URL.Path),
		Plain: !guarded(r), TLS: s.o.Certificates != nil}
	if r.URL.Path == pathSignIn {
		f.Here = pathSignIn
	}
	if found := s.o.Damaged(); found != "" {
		f.Damaged = true
		if ask.ActorOf(r.Context()).Way != ask.WayNobody {
			f.Found = found
		}
	}
	if v := visitorOf(r); v.session != nil {
		f.Staffed = s.o.Local != nil
		f.Who = &who{Staff: v.session.Staff, Station: v.session.Station, Others: v.session.Others, Here: ownPath(r.URL.Path)}
	}
	return f
}

// show renders a whole page before anything is sent, so that a fault never leaves half a page.
func (s *Server) show(w http.ResponseWriter, status int, t *template.Template, part string, page any) {
	var out bytes.Buffer
	if err := t.ExecuteTemplate(&out, part, page); err != nil {
		s.fail(w, fmt.Errorf("page: %w", err), 0)
		return
	}
	w.Header().Set("Content-Security-Policy", pagePolicy)
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, _ = out.WriteTo(w)
}

// flagRow is one flag as a page shows it.
type flagRow struct {
	Severity tracker.Severity
	Word     string
	Code     string
	Href     string
	Text     string
	Remedy   string
	Who      string
	Since    string
	Age      string
	Due      string
	Basis    string
}

func (s *Server) flagRow(f tracker.Flag, now time.Time) flagRow {
	zone := s.o.Board.Zone(f.Item.Clinic())
	row := flagRow{Severity: f.Severity, Word: strings.ToUpper(string(f.Severity)), Code: f.Item.Printed(), Href: trailURL(f.Item),
		Text: withoutName(f), Remedy: f.Remedy, Who: f.Who, Since: say.Instant(f.Since, zone, now), Basis: f.Basis}
	if d := now.Sub(f.Since); !f.Since.IsZero() && d >= 0 {
		row.Age = say.Age(d)
	}
	if f.Due.After(now) {
		row.Due = say.Instant(f.Due, zone, now)
	}
	return row
}

// withoutName is a flag's text without the name that it may begin with, since the row shows the code first.
func withoutName(f tracker.Flag) string {
	for _, name := range []string{string(f.Item), f.Item.Printed()} {
		if rest, ok := strings.CutPrefix(f.Text, name+" "); ok {
			return rest
		}
	}
	return f.Text
}

// trailURL is the page of the watched thing that a name belongs to.
func trailURL(n tracker.Name) string { return "/case/" + string(tracker.Watched(n)) }
