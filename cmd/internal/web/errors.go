package web

import (
	"fmt"
	"net/http"
	"strconv"
	"time"

	"github.com/go-json-experiment/json"

	"github.com/pottrail/pottrail/cmd/internal/ask"
)

// statusOf is the HTTP status of each kind of error.
var statusOf = [...]int{
	ask.Internal:    http.StatusInternalServerError,
	ask.Invalid:     http.StatusBadRequest,
	ask.NotFound:    http.StatusNotFound,
	ask.Conflict:    http.StatusConflict,
	ask.Unavailable: http.StatusServiceUnavailable,
	ask.NoSpace:     http.StatusInsufficientStorage,
	ask.Unknown:     http.StatusUnauthorized,
	ask.Forbidden:   http.StatusForbidden,
	ask.TooMany:     http.StatusTooManyRequests,
}

// statusFor is an error's status: its kind's, but for bodies that were not read.
func statusFor(e *ask.Error) int {
	switch e.Code {
	case codeTooLarge:
		return http.StatusRequestEntityTooLarge
	case codeEncoded, codeNoForm:
		return http.StatusUnsupportedMediaType
	}
	return statusOf[e.Kind]
}

// refusedStatus is an error's status, after saying how long to wait if waiting helps.
func refusedStatus(w http.ResponseWriter, err error) int {
	e := ask.As(err)
	if e.Wait > 0 {
		w.Header().Set("Retry-After", strconv.Itoa(int((e.Wait+time.Second-1)/time.Second)))
	}
	return statusFor(e)
}

type errorBody struct {
	Error *ask.Error `json:"error"`
}

// fail answers with an error's word and sentence; a status of 0 is the one of its kind.
func (s *Server) fail(w http.ResponseWriter, err error, status int) {
	e := ask.As(err)
	if status == 0 {
		status = refusedStatus(w, err)
	}
	if e.Kind == ask.Internal {
		s.o.Log.Error("a question failed", "error", err.Error())
	}
	s.write(w, status, errorBody{e})
}

// write answers with JSON.
func (s *Server) write(w http.ResponseWriter, status int, body any) {
	data, err := json.Marshal(body, json.Deterministic(true))
	if err != nil {
		s.o.Log.Error("an answer could not be written as JSON", "error", err.Error())
		status, data = http.StatusInternalServerError, []byte(`{"error":{"code":"internal","text":"pottrail failed at this; its log says more"}}`)
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	_, _ = w.Write(append(data, '\n')) // the client has gone: nobody to tell
}

// faultText is what may be logged of a panic: its type and text, which for run-time faults hold no content.
func faultText(fault any) string {
	if err, ok := fault.(error); ok {
		return err.Error()
	}
	return fmt.Sprintf("%T", fault)
}
