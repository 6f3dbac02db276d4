package daemon

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"sync"
	"time"
)

// Limits of the HTTP service. Source: the project's notes on reliability, section on threats (slow clients, large
// headers, many connections).
const (
	headerTimeout  = 5 * time.Second
	readTimeout    = 15 * time.Second
	writeTimeout   = 60 * time.Second
	idleTimeout    = 60 * time.Second
	maxHeaderBytes = 16 << 10
	maxConnections = 256
)

func newHTTP(handler http.Handler, log *slog.Logger) *http.Server {
	return &http.Server{Handler: handler, ReadHeaderTimeout: headerTimeout, ReadTimeout: readTimeout, WriteTimeout: writeTimeout,
		IdleTimeout: idleTimeout, MaxHeaderBytes: maxHeaderBytes, ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelDebug)}
}

// serveHTTP serves until the server is shut down.
func serveHTTP(server *http.Server, l net.Listener) error {
	if err := server.Serve(l); !errors.Is(err, http.ErrServerClosed) {
		return fmt.Errorf("serving on %s: %w", l.Addr(), err)
	}
	return nil
}

// stopHTTP lets requests under way end, and ends those that take too long.
func stopHTTP(ctx context.Context, servers ...*http.Server) error {
	var all sync.WaitGroup
	errs := make([]error, len(servers))
	for i, server := range servers {
		all.Go(func() {
			if err := server.Shutdown(ctx); err != nil {
				errs[i] = errors.Join(err, server.Close())
			}
		})
	}
	all.Wait()
	return errors.Join(errs...)
}

// limited takes at most so many connections at once; more wait in the system's queue.
func limited(l net.Listener, most int) net.Listener {
	return &limitedListener{Listener: l, slots: make(chan struct{}, most), closed: make(chan struct{})}
}

type limitedListener struct {
	net.Listener
	slots  chan struct{}
	once   sync.Once
	closed chan struct{}
}

// Accept waits for a place, then for a connection.
func (l *limitedListener) Accept() (net.Conn, error) {
	select {
	case l.slots <- struct{}{}:
	case <-l.closed:
		return nil, net.ErrClosed
	}
	conn, err := l.Listener.Accept()
	if err != nil {
		<-l.slots
		return nil, err
	}
	return &limitedConn{Conn: conn, release: sync.OnceFunc(func() { <-l.slots })}, nil
}

// Close ends the waiting too.
func (l *limitedListener) Close() error {
	l.once.Do(func() { close(l.closed) })
	return l.Listener.Close()
}

type limitedConn struct {
	net.Conn
	release func()
}

// Close gives the place back.
func (c *limitedConn) Close() error {
	defer c.release()
	return c.Conn.Close()
}
