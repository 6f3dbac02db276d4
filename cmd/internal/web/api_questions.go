package web

import (
	_ "embed" // the description of the API
	"net/http"

	"github.com/pottrail/pottrail/cmd/internal/ask"
)

// question answers a GET with one function of the service.
func (s *Server) question(q ask.Question) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		request, err := q.ReadQuery(r.PathValue("name"), r.URL.Query())
		if err != nil {
			s.fail(w, err, 0)
			return
		}
		answer, err := q.Ask(s.o.Service, r.Context(), request)
		if err != nil {
			s.fail(w, err, 0)
			return
		}
		s.write(w, http.StatusOK, answer)
	}
}

//go:embed openapi.json
var description []byte

// openAPI describes the API to machines.
func (s *Server) openAPI(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(description)
}
