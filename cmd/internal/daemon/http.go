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
