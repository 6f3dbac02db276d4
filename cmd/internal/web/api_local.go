package web

import (
	"context"
	"net/http"

	"github.com/go-json-experiment/json"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/events"
)

// Paths of what commands ask for over the socket.
const (
	PathOpen     = "/local/v1/open"
	PathLabels   = "/local/v1/labels"
	PathReserve  = "/local/v1/reserve"
	PathBind     = "/local/v1/bind"
	PathRefused  = "/local/v1/refused"
	PathProtocol = "/local/v1/protocol"
	PathPrint    = "/local/v1/print"
	PathPrinters = "/local/v1/printers"
	PathTest     = "/local/v1/printers/test"
	PathJobs     = "/local/v1/jobs"
	PathSettle   = "/local/v1/jobs/settle"
	PathCallOff  = "/local/v1/jobs/call-off"
	PathFind     = "/local/v1/people/find"
	PathForget   = "/local/v1/people/forget"
	PathReads    = "/local/v1/people/reads"
	PathRotate   = "/local/v1/people/rotate-key"
	PathBackup   = "/local/v1/backup"

	PathCheckpoint = "/local/v1/checkpoint"

	PathCertificates = "/local/v1/certificates"

	PathStaff         = "/local/v1/staff"
	PathStaffAdd      = "/local/v1/staff/add"
	PathStaffPIN      = "/local/v1/staff/pin"
	PathStaffRemove   = "/local/v1/staff/remove"
	PathStaffUnlock   = "/local/v1/staff/unlock"
	PathSetUpLink     = "/local/v1/staff/set-up-link"
	PathStations      = "/local/v1/stations"
	PathStationEnrol  = "/local/v1/stations/enrol"
	PathStationRemove = "/local/v1/stations/remove"
	PathSessions      = "/local/v1/sessions"
	PathSessionEnd    = "/local/v1/sessions/end"
	PathDoubts        = "/local/v1/doubts"

	PathClients      = "/local/v1/clients"
	PathAddClient    = "/local/v1/clients/add"
	PathRemoveClient = "/local/v1/clients/remove"
)

// addLocal serves what carries patient identifiers. These routes are on the socket only.
func (s *Server) addLocal(mux *http.ServeMux) {
	mux.HandleFunc("POST "+PathOpen, local(s, s.o.Local.Open))
	mux.HandleFunc("POST "+PathLabels, local(s, s.o.Local.Labels))
	mux.HandleFunc("POST "+PathReserve, local(s, s.o.Local.Reserve))
	mux.HandleFunc("POST "+PathBind, local(s, s.o.Local.Bind))
	mux.HandleFunc("POST "+PathProtocol, local(s, s.o.Local.Protocol))
	mux.HandleFunc("POST "+PathPrint, local(s, s.o.Local.Print))
	mux.HandleFunc("POST "+PathPrinters, local(s, s.o.Local.Printers))
	mux.HandleFunc("POST "+PathTest, local(s, s.o.Local.TestPrinter))
	mux.HandleFunc("POST "+PathJobs, local(s, s.o.Local.Jobs))
	mux.HandleFunc("POST "+PathSettle, local(s, s.o.Local.Settle))
	mux.HandleFunc("POST "+PathCallOff, local(s, s.o.Local.CallOff))
	mux.HandleFunc("POST "+PathCheckpoint, local(s, s.o.Local.Checkpoint))
	mux.HandleFunc("POST "+PathRefused, local(s, s.o.Local.Refused))
	mux.HandleFunc("POST "+PathFind, local(s, s.o.Local.FindPeople))
	mux.HandleFunc("POST "+PathForget, local(s, s.o.Local.Forget))
	mux.HandleFunc("POST "+PathReads, local(s, s.o.Local.Reads))
	mux.HandleFunc("POST "+PathRotate, local(s, s.o.Local.RotateKey))
	mux.HandleFunc("POST "+PathClients, local(s, s.o.Local.ListClients))
	mux.HandleFunc("POST "+PathAddClient, local(s, s.o.Local.AddClient))
	mux.HandleFunc("POST "+PathRemoveClient, local(s, s.o.Local.RemoveClient))
	mux.HandleFunc("POST "+PathBackup, s.backup)
	mux.HandleFunc("POST "+PathCertificates, s.certificates)
	mux.HandleFunc("POST "+PathStaff, local(s, s.o.Local.Staff))
	mux.HandleFunc("POST "+PathStaffAdd, local(s, s.o.Local.AddStaff))
	mux.HandleFunc("POST "+PathStaffPIN, local(s, s.o.Local.SetPIN))
	mux.HandleFunc("POST "+PathStaffRemove, local(s, s.o.Local.RemoveStaff))
	mux.HandleFunc("POST "+PathStaffUnlock, local(s, s.o.Local.UnlockStaff))
	mux.HandleFunc("POST "+PathSetUpLink, local(s, s.o.Local.SetUpLink))
	mux.HandleFunc("POST "+PathStations, local(s, s.o.Local.Stations))
	mux.HandleFunc("POST "+PathStationEnrol, local(s, s.o.Local.EnrolStation))
	mux.HandleFunc("POST "+PathStationRemove, local(s, s.o.Local.RemoveStation))
	mux.HandleFunc("POST "+PathSessions, local(s, s.o.Local.Sessions))
	mux.HandleFunc("POST "+PathSessionEnd, local(s, s.o.Local.EndSession))
	mux.HandleFunc("POST "+PathDoubts, local(s, s.o.Local.Doubts))
}

// local reads a request of one shape strictly and answers it.
func local[Q, A any](s *Server, do func(context.Context, Q) (*A, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		var request Q
		data, err := body(w, r, events.MaxRequest, "a request is at most 1 MiB")
		if err != nil {
			s.fail(w, err, 0)
			return
		}
		if err := json.Unmarshal(data, &request, json.RejectUnknownMembers(true)); err != nil {
			s.fail(w, &ask.Error{Kind: ask.Invalid, Code: "bad-request", Text: "the request cannot be read: " + ask.Unreadable(err)}, 0)
			return
		}
		answer, err := do(r.Context(), request)
		if err != nil {
			s.fail(w, err, 0)
			return
		}
		s.write(w, http.StatusOK, answer)
	}
}
