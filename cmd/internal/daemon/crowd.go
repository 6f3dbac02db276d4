package daemon

import (
	"context"
	"io"
	"net"
	"net/http"
	"sync"
	"time"
)

// grace is how long every connection has to say what it wants, also when the house is full: a request on a slow radio link
// takes one round trip. Common practice, no source.
const grace = 100 * time.Millisecond

// crowd takes so many connections at once and no more. When it is full, the next one gets the place of the one that has
// waited longest without having said what it wants: one that sends its request a byte at a time, or a page that was left
// open and has been idle. So hundreds of slow clients keep nobody from scanning, and a request that is being answered is
// never cut off. With only such, and with those in their grace, the next one waits.
type crowd struct {
	most int

	mu     sync.Mutex
	free   *sync.Cond // a place was given back, or one may be taken from somebody
	guests map[*guest]struct{}
	closed bool
}

// guest is one connection.
type guest struct {
	net.Conn
	of    *crowd
	since time.Time // when it last did something; guarded by the crowd
	busy  bool      // its request is being answered
	gone  bool
}

func newCrowd(most int) *crowd {
	c := &crowd{most: most, guests: map[*guest]struct{}{}}
	c.free = sync.NewCond(&c.mu)
	return c
}

// listener takes connections for the crowd.
func (c *crowd) listener(l net.Listener) net.Listener { return &crowdListener{Listener: l, crowd: c} }

type crowdListener struct {
	net.Listener
	crowd *crowd
}

// Accept waits for a connection, then for a place for it.
func (l *crowdListener) Accept() (net.Conn, error) {
	conn, err := l.Listener.Accept()
	if err != nil {
		return nil, err
	}
	g := &guest{Conn: conn, of: l.crowd, since: time.Now()}
	if !l.crowd.enter(g) {
		_ = conn.Close()
		return nil, net.ErrClosed
	}
	return g, nil
}

// Close ends the waiting too.
func (l *crowdListener) Close() error {
	err := l.Listener.Close()
	l.crowd.mu.Lock()
	defer l.crowd.mu.Unlock()
	l.crowd.closed = true
	l.crowd.free.Broadcast()
	return err
}

// enter finds a place for a guest; false says that nobody is let in any more.
func (c *crowd) enter(g *guest) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	for !c.closed && len(c.guests) >= c.most {
		slowest := c.slowestLocked()
		if slowest == nil {
			c.free.Wait()
			continue
		}
		if left := grace - time.Since(slowest.since); left > 0 {
			ring := time.AfterFunc(left, c.look)
			c.free.Wait()
			ring.Stop()
			continue
		}
		slowest.leaveLocked()
		_ = slowest.Conn.Close() // whoever serves it notices
	}
	if c.closed {
		return false
	}
	c.guests[g] = struct{}{}
	return true
}

// look lets whoever waits for a place look again.
func (c *crowd) look() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.free.Broadcast()
}

// slowestLocked is who has waited longest without a request that is being answered; nil when all are being answered.
func (c *crowd) slowestLocked() (slowest *guest) {
	for g := range c.guests {
		if !g.busy && (slowest == nil || g.since.Before(slowest.since)) {
			slowest = g
		}
	}
	return slowest
}

// Close gives the place back.
func (g *guest) Close() error {
	g.of.mu.Lock()
	g.leaveLocked()
	g.of.mu.Unlock()
	return g.Conn.Close()
}

func (g *guest) leaveLocked() {
	if !g.gone {
		g.gone = true
		delete(g.of.guests, g)
		g.of.free.Signal()
	}
}

// turn notes that a guest is being answered, or not any more.
func (g *guest) turn(busy bool) {
	g.of.mu.Lock()
	defer g.of.mu.Unlock()
	g.busy, g.since = busy, time.Now()
	if !busy {
		g.of.free.Signal()
	}
}

// guestKey finds the guest in the context of a request.
type guestKey struct{}

// serve makes a server tell the crowd what becomes of its connections.
func (c *crowd) serve(s *http.Server) {
	s.ConnContext = func(ctx context.Context, conn net.Conn) context.Context {
		for over, ok := conn.(interface{ NetConn() net.Conn }); ok; over, ok = conn.(interface{ NetConn() net.Conn }) {
			conn = over.NetConn() // TLS, or a first byte that was looked at
		}
		if g, ok := conn.(*guest); ok {
			return context.WithValue(ctx, guestKey{}, g)
		}
		return ctx
	}
	inner := s.Handler
	s.Handler = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		g, ok := r.Context().Value(guestKey{}).(*guest)
		if !ok {
			inner.ServeHTTP(w, r)
			return
		}
		if r.Body == nil || r.Body == http.NoBody {
			g.turn(true)
		} else { // it is answered when it has said all
			g.turn(false)
			r.Body = &saying{ReadCloser: r.Body, guest: g}
		}
		defer g.turn(false)
		inner.ServeHTTP(w, r)
	})
}

// saying is a request's body on its way.
type saying struct {
	io.ReadCloser
	guest *guest
	said  bool
}

// Read notes when the body has come to its end.
func (s *saying) Read(p []byte) (int, error) {
	n, err := s.ReadCloser.Read(p)
	if err != nil && !s.said {
		s.said = true
		s.guest.turn(true)
	}
	return n, err
}
