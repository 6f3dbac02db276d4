package web

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"strconv"
	"sync"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
)

const (
	// mostLive is how many streams of server-sent events may be open at once.
	mostLive = 64
	// quietest is the longest that a stream says nothing, so that either side notices a dead one.
	quietest = 20 * time.Second
	// writeLimit is how long one write to a stream may take.
	writeLimit = 10 * time.Second
	// changesAtOnce bounds one read of flag changes.
	changesAtOnce = 200
)

// liveClients counts the open streams and ends them when serving ends.
type liveClients struct {
	slots chan struct{}
	done  context.Context
	end   context.CancelFunc
	once  sync.Once
}

func newLiveClients() *liveClients {
	done, end := context.WithCancel(context.Background())
	return &liveClients{slots: make(chan struct{}, mostLive), done: done, end: end}
}

func (l *liveClients) stop() { l.once.Do(l.end) }

// serveLive sends flag changes as they happen ("flag", with the position as id, so that a client that reconnects gets
// what it missed) and, after any change, "board" with the ledger's last position.
func (s *Server) serveLive(w http.ResponseWriter, r *http.Request) {
	if r.Method == http.MethodHead { // it would hold a stream that says nothing
		w.Header().Set("Content-Type", "text/event-stream")
		return
	}
	select {
	case s.live.slots <- struct{}{}:
		defer func() { <-s.live.slots }()
	default:
		s.fail(w, &ask.Error{Kind: ask.Unavailable, Code: "too-many-streams", Text: "too many live pages are open: close some, or reload later"}, 0)
		return
	}
	stream := http.NewResponseController(w)
	next, seq := s.o.Live.Last()
	if id := r.Header.Get("Last-Event-ID"); id != "" {
		if last, err := strconv.ParseUint(id, 10, 64); err == nil && last < next {
			next = last + 1
		}
	}
	if _, _, err := s.o.Live.Changes(r.Context(), next, 1); err != nil {
		s.fail(w, err, 0)
		return
	}
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("X-Accel-Buffering", "no")
	var out bytes.Buffer
	fmt.Fprintf(&out, "retry: 2000\nevent: board\ndata: {\"seq\":%d}\n\n", seq)
	quiet := time.NewTicker(quietest)
	defer quiet.Stop()
	for {
		if !s.stillHere(r) {
			out.WriteString("event: signed-out\ndata: {}\n\n")
			send(w, stream, &out)
			return
		}
		signal := s.o.Live.Signal() // before reading, so that a change in between is not missed
		for {
			changes, after, err := s.o.Live.Changes(r.Context(), next, changesAtOnce)
			if err != nil {
				s.o.Log.Error("a live page cannot be told of changes", "error", err.Error())
				return
			}
			for _, c := range changes {
				if len(c.JSON) == 0 {
					continue
				}
				fmt.Fprintf(&out, "id: %d\nevent: flag\ndata: %s\n\n", c.Seq, c.JSON)
				seq = 0 // the board has changed, whatever the ledger's position
			}
			if next = after; len(changes) < changesAtOnce {
				break
			}
		}
		if _, now := s.o.Live.Last(); now != seq {
			seq = now
			fmt.Fprintf(&out, "event: board\ndata: {\"seq\":%d}\n\n", seq)
		}
		if !send(w, stream, &out) {
			return
		}
		select {
		case <-signal:
		case <-quiet.C:
			out.WriteString(": still here\n\n")
		case <-r.Context().Done():
			return
		case <-s.live.done.Done():
			return
		}
	}
}

// stillHere reports whether whoever opened a stream may go on reading: not when the session or the station of it ended, or
// signing in came into force meanwhile.
func (s *Server) stillHere(r *http.Request) bool {
	v := visitorOf(r)
	switch {
	case !s.inForce():
		return true
	case v.session != nil:
		_, err := s.o.SignIn.Look(r.Context(), v.token)
		return err == nil
	case v.station != nil:
		_, err := s.o.SignIn.Station(r.Context(), v.stationKey)
		return err == nil
	}
	return ask.ActorOf(r.Context()).Way == ask.WayOwner
}

// send writes what has gathered, and reports whether the other side is still there.
func send(w http.ResponseWriter, stream *http.ResponseController, out *bytes.Buffer) bool {
	if out.Len() == 0 {
		return true
	}
	if err := stream.SetWriteDeadline(time.Now().Add(writeLimit)); err != nil {
		return false
	}
	if _, err := out.WriteTo(w); err != nil {
		return false
	}
	return stream.Flush() == nil
}
