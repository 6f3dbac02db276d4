package web

import (
	"errors"
	"net"
	"net/http"
	"strings"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/events"
)

// NewClosed makes a server for when the ledger cannot be read safely: all it has is the sentence that says so, and its
// health. Of the options only Health, Log, Hosts, Demo, Version and Damaged count.
func NewClosed(o Options) (*Server, error) {
	if o.Health == nil || o.Log == nil || o.Damaged == nil {
		return nil, errors.New("web: something it stands on is missing")
	}
	s, err := newServer(o)
	if err == nil {
		s.closed = true
	}
	return s, err
}

// errNotTaken is what whoever sends something is told while the ledger is damaged. Reading goes on.
var errNotTaken = &ask.Error{Kind: ask.Unavailable, Code: string(events.CodeLedgerDamaged),
	Text: "nothing of this was recorded, printed or changed: the ledger is damaged and can only be read. Write it down on paper with its time; keep what was sent, and send it again with the same id when the ledger is mended"}

// errNotRead is what whoever asks something is told while the ledger cannot even be read.
var errNotRead = &ask.Error{Kind: ask.Unavailable, Code: string(events.CodeLedgerDamaged),
	Text: "the ledger is damaged and cannot be read, so nothing can be answered and nothing was recorded. Write each step down on paper with its time, and ring whoever runs pottrail"}

// takesIn refuses what would change anything while the ledger is damaged. People still sign in: nothing of that is in it.
func (s *Server) takesIn(route Route) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		reads := r.Method == http.MethodGet || r.Method == http.MethodHead || r.Method == http.MethodOptions
		if !reads && route.Access != AccessDoor && s.o.Damaged() != "" {
			s.fail(w, errNotTaken, 0)
			return
		}
		route.handle(w, r)
	}
}

// addClosed answers everything by saying that the ledger cannot be read.
func (s *Server) addClosed(mux *http.ServeMux) {
	for pattern, handle := range map[string]http.HandlerFunc{"GET /healthz": s.healthz, "GET /readyz": s.healthz, "GET /static/{file}": s.static, "/": s.notRead} {
		mux.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) {
			if s.fromHere(r) { // who has a name and a right cannot be told without the files
				r = r.WithContext(ask.WithActor(r.Context(), ask.Actor{Way: ask.WayOpen}))
			}
			handle(w, r)
		})
	}
}

// fromHere reports whether a request came from this machine: over the socket, or over the loopback address where that is not also
// where a proxy for others would come from.
func (s *Server) fromHere(r *http.Request) bool {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	ip := net.ParseIP(host)
	return err != nil || !s.o.Beyond && ip != nil && ip.IsLoopback()
}

func (s *Server) notRead(w http.ResponseWriter, r *http.Request) {
	if r.Method == http.MethodGet && !strings.HasPrefix(r.URL.Path, "/v1/") && !strings.HasPrefix(r.URL.Path, "/local/") {
		s.problem(w, r, errNotRead)
		return
	}
	s.fail(w, errNotRead, 0)
}
