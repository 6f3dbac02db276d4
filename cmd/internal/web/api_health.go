package web

import (
	"net/http"

	"github.com/pottrail/pottrail/cmd/internal/ask"
)

type healthBody struct {
	OK      bool   `json:"ok"`
	Text    string `json:"text,omitzero"`
	Demo    bool   `json:"demo,omitzero"`
	Version string `json:"version,omitzero"`
}

// healthz is 200 only when the socket and the pages serve and, in the demo, the history is in.
func (s *Server) healthz(w http.ResponseWriter, r *http.Request) {
	s.health(w, r, s.o.Health.Healthy())
}

// readyz is 200 only when events can be recorded and go out.
func (s *Server) readyz(w http.ResponseWriter, r *http.Request) { s.health(w, r, s.o.Health.Ready()) }

// health says how it is; to strangers no more than whether.
func (s *Server) health(w http.ResponseWriter, r *http.Request, err error) {
	body, status := healthBody{OK: err == nil, Demo: s.o.Demo, Version: s.o.Version}, http.StatusOK
	if err != nil {
		body.Text, status = ask.As(err).Text, http.StatusServiceUnavailable
	}
	if ask.ActorOf(r.Context()).Way == ask.WayNobody {
		body = healthBody{OK: err == nil}
	}
	s.write(w, status, body)
}
