package web

import (
	"net/http"
	"strings"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/say"
)

// pathStaff is the page of people and screens.
const pathStaff = "/staff"

// shownAtOnce is how many doubts and reads of patients the page shows: as many as somebody looks through. Commands list all.
const shownAtOnce = 100

// staffPage is who may sign in and where, who is signed in, and what the record says of both. Each part is shown to those who
// may see it; others are told whom to ask.
type staffPage struct {
	frame
	Sessions []sessionRow
	People   []personRow
	Stations []stationRow
	Doubts   []doubtRow
	Reads    []readRow
	No       map[string]string // why a part is not shown, by its name
	Most     int
}

type sessionRow struct {
	Number                uint64
	Staff, Station, Since string
	Last, Until           string
	Own                   bool
}

type personRow struct {
	Key, Added, State string
	Locked            bool
}

type stationRow struct {
	Key, Where, Use, Enrolled, Seen string
}

type doubtRow struct {
	At, Kind, By, Station, Why string
}

type readRow struct {
	At, By, Station, How, Why string
}

// staffShow shows people and screens.
func (s *Server) staffShow(w http.ResponseWriter, r *http.Request) {
	if !s.inForce() {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	page := staffPage{frame: s.frame(r, "People and screens · Pottrail", ""), No: map[string]string{}, Most: shownAtOnce}
	for part, fill := range map[string]func(*http.Request, *staffPage) error{
		"sessions": s.sessionRows, "people": s.personRows, "stations": s.stationRows, "doubts": s.doubtRows, "reads": s.readRows,
	} {
		if err := fill(r, &page); err != nil {
			e := ask.As(err)
			if e.Kind == ask.Internal {
				s.o.Log.Error("a part of a page failed", "part", part, "error", err.Error())
			}
			page.No[part] = e.Text
		}
	}
	s.show(w, http.StatusOK, s.pages.staff, wholePage, page)
}

func (s *Server) sessionRows(r *http.Request, page *staffPage) error {
	answer, err := s.o.Local.Sessions(r.Context(), ask.SessionsRequest{})
	if err != nil {
		return err
	}
	own := visitorOf(r).session
	for _, a := range answer.Sessions {
		row := sessionRow{Number: a.Number, Staff: a.Staff, Station: a.Station, Since: s.when(a.Since), Last: s.when(a.Last), Until: s.when(a.Ends)}
		if !a.Idle.IsZero() && a.Idle.Before(a.Ends) {
			row.Until = s.when(a.Idle)
		}
		row.Own = own != nil && own.Staff == a.Staff && own.Station == a.Station
		page.Sessions = append(page.Sessions, row)
	}
	return nil
}

func (s *Server) personRows(r *http.Request, page *staffPage) error {
	answer, err := s.o.Local.Staff(r.Context(), ask.StaffListRequest{})
	if err != nil {
		return err
	}
	for _, a := range answer.Staff {
		row := personRow{Key: a.Key, Added: s.when(a.Added) + " by " + a.AddedBy, State: "may sign in", Locked: len(a.Locked) > 0}
		if a.NoPIN {
			row.State = "needs a new PIN: pottrail staff pin " + a.Key
		}
		var locks []string
		for _, l := range a.Locked {
			lock := "locked everywhere"
			if l.Station != "" {
				lock = "locked at " + l.Station
			}
			lock += " after " + say.Count(l.Wrong, "wrong PIN")
			if !l.Opens.IsZero() {
				lock += ", opens by itself " + s.when(l.Opens)
			}
			locks = append(locks, lock)
		}
		if len(locks) > 0 {
			row.State = strings.Join(locks, "; ")
		}
		page.People = append(page.People, row)
	}
	return nil
}

func (s *Server) stationRows(r *http.Request, page *staffPage) error {
	answer, err := s.o.Local.Stations(r.Context(), ask.StationsRequest{})
	if err != nil {
		return err
	}
	for _, a := range answer.Stations {
		row := stationRow{Key: a.Key, Where: a.Clinic, Use: "one person's", Enrolled: s.when(a.Enrolled) + " by " + a.By, Seen: s.when(a.Seen)}
		if a.Place != "" {
			row.Where = s.o.Board.PlaceName(a.Clinic, a.Place)
		}
		if a.Shared {
			row.Use = "shared"
		}
		page.Stations = append(page.Stations, row)
	}
	return nil
}

func (s *Server) doubtRows(r *http.Request, page *staffPage) error {
	answer, err := s.o.Local.Doubts(r.Context(), ask.DoubtsRequest{Limit: shownAtOnce})
	if err != nil {
		return err
	}
	for _, a := range answer.Doubts {
		page.Doubts = append(page.Doubts, doubtRow{At: s.when(a.At), Kind: a.Kind, By: a.By, Station: a.Station, Why: a.Why})
	}
	return nil
}

func (s *Server) readRows(r *http.Request, page *staffPage) error {
	answer, err := s.o.Local.Reads(r.Context(), ask.ReadsRequest{Limit: shownAtOnce})
	if err != nil {
		return err
	}
	for _, a := range answer.Reads {
		page.Reads = append(page.Reads, readRow{At: s.when(a.At), By: a.By, Station: a.Station, How: a.How, Why: a.Why})
	}
	return nil
}

// when is an instant as a row says it, "" for none.
func (s *Server) when(at time.Time) string {
	if at.IsZero() {
		return ""
	}
	return say.Instant(at, s.o.Board.Zone(""), time.Now())
}
