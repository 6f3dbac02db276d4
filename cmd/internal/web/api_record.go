package web

import (
	"net/http"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/events"
)

// record takes one event, an array of them or lines of them. Verdicts go back in the same form. One refused event alone
// is a 4xx; several are a 200, each with its own verdict.
func (s *Server) record(w http.ResponseWriter, r *http.Request) {
	sent, err := sentAt(r.Header.Get(events.HeaderXSentAt))
	if err != nil {
		s.fail(w, err, 0)
		return
	}
	data, err := body(w, r, events.MaxRequest, "a request is at most 1 MiB: send fewer events at once")
	if err != nil {
		s.fail(w, err, 0)
		return
	}
	recorded, err := s.o.Service.Record(r.Context(), ask.Recording{Data: data, SentAt: sent})
	if err != nil {
		s.fail(w, err, 0)
		return
	}
	s.verdicts(w, recorded)
}

func (s *Server) verdicts(w http.ResponseWriter, recorded ask.Recorded) {
	status, kind := batchStatus(recorded.Verdicts), "application/json"
	switch recorded.Shape {
	case events.ShapeArray:
	case events.ShapeLines:
		kind = "application/x-ndjson"
	default:
		status = verdictStatus(recorded.Verdicts[0])
	}
	body := events.AppendAnswer(nil, recorded.Shape, recorded.Verdicts)
	if recorded.Shape != events.ShapeLines {
		body = append(body, '\n')
	}
	w.Header().Set("Content-Type", kind)
	w.WriteHeader(status)
	_, _ = w.Write(body) // the client has gone: nobody to tell
}

// verdictStatus is the status of one event's verdict alone.
func verdictStatus(v events.Verdict) int {
	if v.OK {
		return http.StatusOK
	}
	switch v.Error.Code {
	case events.CodeNoSpace:
		return http.StatusInsufficientStorage
	case events.CodeDifferentContent:
		return http.StatusConflict
	case events.CodeTooLarge:
		return http.StatusRequestEntityTooLarge
	case events.CodeRightMissing, events.CodeNotSignedIn:
		return http.StatusForbidden
	}
	return http.StatusBadRequest
}

// batchStatus is 200, but 507 when there was no space for any of it: then all of it must be sent again.
func batchStatus(verdicts []events.Verdict) int {
	for _, v := range verdicts {
		if v.OK || v.Error.Code != events.CodeNoSpace {
			return http.StatusOK
		}
	}
	if len(verdicts) == 0 {
		return http.StatusOK
	}
	return http.StatusInsufficientStorage
}

// sentAt reads the sender's clock from a header; "" is no time.
func sentAt(header string) (time.Time, error) {
	if header == "" {
		return time.Time{}, nil
	}
	at, err := time.Parse(time.RFC3339, header)
	if err != nil {
		return time.Time{}, &ask.Error{Kind: ask.Invalid, Code: "bad-time", Field: events.HeaderXSentAt,
			Text: "X-Sent-At is the sender's clock in RFC 3339 with offset, as in 2026-03-06T15:42:10+00:00"}
	}
	return at, nil
}
