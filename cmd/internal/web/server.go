package web

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/tracker"
)

// Board is what the live page shows: the judgement of everything that is open.
type Board interface {
	// Board gives the open cases and bags with what is wrong with them, judged at the instant it returns.
	Board(ctx context.Context) (BoardAnswer, error)
	// Zone is the time zone of a clinic's protocol in force.
	Zone(clinic string) *time.Location
	// PlaceName is what a clinic's protocol calls a place, or the key itself.
	PlaceName(clinic, place string) string
}

// BoardAnswer is the open things of the whole ledger.
type BoardAnswer struct {
	At    time.Time
	Open  []tracker.Judgement
	Total int // cases and bags ever seen
	// Printing says which label printers want somebody, a sentence each; none while all is well.
	Printing []string
}

// Live tells when something has changed, for server-sent events.
type Live interface {
	// Signal gives a channel that is closed at the next change.
	Signal() <-chan struct{}
	// Changes lists flag changes with positions from `from` on, at most limit, and the position that follows.
	Changes(from uint64, limit int) (changes []Change, next uint64, err error)
	// Last is the position of the next flag change to come, and of the last event.
	Last() (nextChange, lastSeq uint64)
}

// Change is one flag raised, changed or cleared, as it goes out: the JSON of the FLAGS stream.
type Change struct {
	Seq  uint64
	JSON []byte
}

// Health says whether the daemon does what it is for.
type Health interface {
	// Healthy is nil when the socket and the pages serve and, in the demo, the history is in.
	Healthy() error
	// Ready is nil when events can be recorded and go out.
	Ready() error
}

// Options is what the pages and the API stand on.
type Options struct {
	Service ask.Service
	Local   ask.Local
	// SignIn is how people say who they are. Nil, or not in force: this machine alone is served, and staff keys are believed.
	SignIn  ask.SignIn
	Board   Board
	Live    Live
	Health  Health
	Metrics http.Handler
	Log     *slog.Logger
	Hosts   []string // besides localhost, 127.0.0.1 and [::1]
	Demo    bool     // a banner on each page
	// Signed gives the latest signed checkpoint of the record as it is printed on paper; ok is false when there is none. Nil
	// says nothing of it.
	Signed  func() (short string, made time.Time, ok bool)
	Version string
}

// Server makes handlers; it is safe for concurrent use.
type Server struct {
	o     Options
	pages *pages
	live  *liveClients
}

// New parses the pages; a template with a mistake is an error now and never on a request.
func New(o Options) (*Server, error) {
	if o.Service == nil || o.Board == nil || o.Live == nil || o.Health == nil || o.Log == nil {
		return nil, errors.New("web: something it stands on is missing")
	}
	pages, err := parsePages()
	if err != nil {
		return nil, err
	}
	return &Server{o: o, pages: pages, live: newLiveClients()}, nil
}

// Stop ends the streams of server-sent events, which would otherwise hold up the end of serving.
func (s *Server) Stop() { s.live.stop() }

// Route is one line of the route table.
type Route struct {
	Pattern string
	handle  http.HandlerFunc
}

// Routes lists what both handlers serve.
func (s *Server) Routes() []Route {
	routes := []Route{{"POST /v1/events", s.record}}
	for _, q := range ask.Questions() {
		routes = append(routes, Route{"GET " + q.Path, s.question(q)})
	}
	return append(routes,
		Route{"GET /v1/live", s.serveLive},
		Route{"GET /v1/openapi.json", s.openAPI},
		Route{"GET /healthz", s.healthz},
		Route{"GET /readyz", s.readyz},
	)
}

// Pages is the handler for the loopback address.
func (s *Server) Pages() http.Handler {
	mux := http.NewServeMux()
	for _, r := range s.Routes() {
		mux.HandleFunc(r.Pattern, r.handle)
	}
	if s.o.Metrics != nil {
		mux.Handle("GET /metrics", s.o.Metrics)
	}
	mux.HandleFunc("GET /{$}", s.boardShow)
	mux.HandleFunc("GET /case/{name}", s.caseShow)
	mux.HandleFunc("GET /static/{file}", s.static)
	mux.HandleFunc("/", s.nothingHere)
	protection := http.NewCrossOriginProtection() // no bypass patterns: GO-2025-3955
	protection.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		s.fail(w, &ask.Error{Kind: ask.Invalid, Code: "cross-origin", Text: "a page of another site may not send this"}, http.StatusForbidden)
	}))
	return s.recovered(secured(s.allowedHost(protection.Handler(mux))))
}

// Socket is the handler for the Unix socket in the data folder, which only its owner can reach.
func (s *Server) Socket() http.Handler {
	mux := http.NewServeMux()
	for _, r := range s.Routes() {
		mux.HandleFunc(r.Pattern, r.handle)
	}
	s.addLocal(mux)
	mux.HandleFunc("/", s.nothingHere)
	return s.recovered(mux)
}

// policy lets pages load what the binary holds and nothing else; no script stands in the HTML.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; " +
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

func secured(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		next.ServeHTTP(w, r)
	})
}

// allowedHost refuses names that a page of another site could have pointed at this address (DNS rebinding).
func (s *Server) allowedHost(next http.Handler) http.Handler {
	allowed := append([]string{"localhost", "127.0.0.1", "::1"}, s.o.Hosts...)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		host := r.Host
		if name, _, err := net.SplitHostPort(host); err == nil {
			host = name
		}
		host = strings.ToLower(strings.Trim(host, "[]"))
		if !slices.Contains(allowed, host) {
			s.fail(w, &ask.Error{Kind: ask.Invalid, Code: "unknown-host", Field: "Host",
				Text: "this name is not served here: use 127.0.0.1 or localhost, or start the daemon with --http-hosts"}, http.StatusForbidden)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// recovered keeps one request's fault from taking the daemon down; the fault is logged without the request's content.
func (s *Server) recovered(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			fault := recover()
			if fault == nil {
				return
			}
			if err, ok := fault.(error); ok && errors.Is(err, http.ErrAbortHandler) {
				panic(fault)
			}
			s.o.Log.Error("a request failed", "method", r.Method, "route", r.Pattern, "fault", faultText(fault))
			s.fail(w, errors.New("fault"), 0)
		}()
		next.ServeHTTP(w, r)
	})
}

func (s *Server) nothingHere(w http.ResponseWriter, _ *http.Request) {
	s.fail(w, &ask.Error{Kind: ask.NotFound, Code: "no-such-page", Text: "there is nothing here; /v1/openapi.json lists what there is"}, 0)
}
