package web

import (
	"net/http"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/say"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// trailPage is everything that happened to one case or bag.
type trailPage struct {
	frame
	Code  string
	Step  tracker.Step
	At    string
	Zone  string
	Flags []flagRow
	Held  []heldRow
	Pots  []potRow
	Days  []trailDay
	Drawn *drawing // nil when no pot was used
	// Signed and Made are the latest checkpoint of the record, for whoever prints the page; empty when there is none.
	Signed string
	Made   string
}

type heldRow struct {
	Text string
	By   string
}

type potRow struct {
	Letter    string
	Medium    string
	Studies   []string
	Pieces    string
	Place     string
	Since     string
	Holder    string
	Accession string
}

// trailDay is one day of the trail.
type trailDay struct {
	Name   string
	Events []trailRow
}

type trailRow struct {
	Clock   string
	Item    string
	Text    string
	By      string
	Station string
	Struck  bool
	Late    string // when it was recorded, if long after it happened
}

// lateAfter is how long after it happened an event counts as written down late. All of the demo's history is, so there
// nothing is said of it.
const lateAfter = 10 * time.Minute

// caseShow shows the trail of a case, a bag, or of the case of a pot or piece.
func (s *Server) caseShow(w http.ResponseWriter, r *http.Request) {
	answer, err := s.o.Service.Case(r.Context(), ask.Request{Name: r.PathValue("name")})
	if err != nil {
		s.problem(w, r, err)
		return
	}
	page, err := s.trailPage(r, answer)
	if err != nil {
		s.problem(w, r, err)
		return
	}
	s.show(w, http.StatusOK, s.pages.trail, wholePage, page)
}

func (s *Server) trailPage(r *http.Request, a *ask.CaseAnswer) (trailPage, error) {
	name := a.Summary.Name
	zone := s.o.Board.Zone(name.Clinic())
	page := trailPage{frame: s.frame(r, name.Printed()+" · Pottrail", ""), Code: name.Printed(), Step: a.Summary.Step,
		At: say.Instant(a.At, zone, time.Time{}), Zone: a.Zone}
	if s.o.Signed != nil {
		if short, made, ok := s.o.Signed(); ok {
			page.Signed, page.Made = short, say.Instant(made, zone, time.Time{})
		}
	}
	for _, f := range a.Flags {
		page.Flags = append(page.Flags, s.flagRow(f, a.At))
	}
	for _, h := range a.Held {
		page.Held = append(page.Held, heldRow{Text: h.Text, By: h.By})
	}
	for _, p := range a.Summary.Pots {
		row := potRow{Letter: p.Name.Letter(), Medium: p.Medium, Studies: p.Studies, Holder: p.Holder, Accession: p.Accession,
			Pieces: say.Count(p.Potted, "piece") + " in", Since: say.Instant(p.Since, zone, a.At)}
		if p.Taken > p.Potted {
			row.Pieces += ", " + say.Count(p.Taken-p.Potted, "piece") + " out"
		}
		if p.Place != "" {
			row.Place = s.o.Board.PlaceName(name.Clinic(), p.Place)
		}
		page.Pots = append(page.Pots, row)
	}
	all := make([]*tracker.Event, 0, len(a.Trail))
	for _, t := range a.Trail {
		e, err := events.DecodeRecorded(t.Event)
		if err != nil {
			return trailPage{}, err
		}
		all = append(all, e)
		page.add(e, t.Struck, zone)
	}
	if name.Thing() == tracker.ThingCase {
		page.Drawn = s.draw(name, all, zone, a.At)
	}
	return page, nil
}

func (p *trailPage) add(e *tracker.Event, struck bool, zone *time.Location) {
	when := e.When()
	day := say.Day(when, zone)
	if n := len(p.Days); n == 0 || p.Days[n-1].Name != day {
		p.Days = append(p.Days, trailDay{Name: day})
	}
	row := trailRow{Clock: say.Clock(when, zone), Text: say.Event(e, zone), By: e.By, Station: e.Station, Struck: struck}
	if len(e.Items) > 0 {
		row.Item = e.Items[0].Name.Printed()
		if n := len(e.Items) - 1; n > 0 {
			row.Item += " and " + say.Count(n, "other")
		}
	}
	if recorded := e.Record.Recorded; !p.Demo && !recorded.IsZero() && recorded.Sub(e.At) > lateAfter {
		row.Late = say.Instant(recorded, zone, when)
	}
	last := &p.Days[len(p.Days)-1]
	last.Events = append(last.Events, row)
}

// problemPage says what went wrong, in the same frame.
type problemPage struct {
	frame
	Text  string
	Right bool // somebody is signed in, and a right is missing: not all is lost
}

func (s *Server) problem(w http.ResponseWriter, r *http.Request, err error) {
	e := ask.As(err)
	if e.Kind == ask.Internal {
		s.o.Log.Error("a page failed", "error", err.Error())
	}
	f := s.frame(r, "Pottrail", "")
	if f.Here = "/"; f.Who != nil { // what was asked for may be no code of ours, and is not repeated
		f.Who.Here = "/"
	}
	f.Door = f.Who == nil && (s.inForce() || s.o.Beyond) // a stranger is told of no other page, nor which release this is
	s.show(w, refusedStatus(w, err), s.pages.problem, wholePage, problemPage{f, e.Text, f.Who != nil && e.Kind == ask.Forbidden})
}
