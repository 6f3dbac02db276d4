package web

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/certificates"
	"github.com/pottrail/pottrail/store/backup"
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
	// Backup says that the nightly backup failed; empty while all is well.
	Backup string
}

// Live tells when something has changed, for server-sent events.
type Live interface {
	// Signal gives a channel that is closed at the next change.
	Signal() <-chan struct{}
	// Changes lists flag changes with positions from `from` on, at most limit, and the position that follows. What is not for
	// whoever asks has no JSON.
	Changes(ctx context.Context, from uint64, limit int) (changes []Change, next uint64, err error)
	// Last is the position of the next flag change to come, and of the last event.
	Last() (nextChange, lastSeq uint64)
}

// Change is one flag raised, changed or cleared, as it goes out: the JSON of the FLAGS stream.
type Change struct {
	Seq    uint64
	Clinic string
	JSON   []byte // empty: it is not for whoever asks
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
	Backup  func(ctx context.Context, w io.Writer, progress backup.Progress) error // over the socket only
	Health  Health
	Metrics http.Handler
	Log     *slog.Logger
	Hosts   []string // besides localhost, 127.0.0.1, [::1] and the certificate's names; in small letters
	Beyond  bool     // others than this machine reach the pages: nothing is served to whoever is not signed in
	// Certificates is what the pages are served under; nil without encryption.
	Certificates *certificates.Source
	Demo         bool // a banner on each page
	// Signed gives the latest signed checkpoint of the record as it is printed on paper; ok is false when there is none. Nil
	// says nothing of it.
	Signed  func() (short string, made time.Time, ok bool)
	Version string
	// Damaged says what is wrong with the ledger, "" while all is well: then each page says so, and nothing is taken in.
	Damaged func() string
}

// Server makes handlers; it is safe for concurrent use.
type Server struct {
	o     Options
	pages *pages
	live  *liveClients
	tries *attempts // by station
	knock *attempts // by address, of those without one
	// closed says that the ledger cannot even be read.
	closed bool
}

// New parses the pages; a template with a mistake is an error now and never on a request.
func New(o Options) (*Server, error) {
	if o.Service == nil || o.Board == nil || o.Live == nil || o.Health == nil || o.Log == nil {
		return nil, errors.New("web: something it stands on is missing")
	}
	if o.Beyond && o.SignIn == nil {
		return nil, errors.New("web: beyond this machine nothing is served without signing in, and nobody can sign in here")
	}
	return newServer(o)
}

func newServer(o Options) (*Server, error) {
	pages, err := parsePages()
	if err != nil {
		return nil, err
	}
	if o.Damaged == nil {
		o.Damaged = func() string { return "" }
	}
	return &Server{o: o, pages: pages, live: newLiveClients(), tries: newAttempts(), knock: newAttempts()}, nil
}

// Stop ends the streams of server-sent events, which would otherwise hold up the end of serving.
func (s *Server) Stop() { s.live.stop() }
