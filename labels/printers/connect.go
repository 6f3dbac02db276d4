package printers

import (
	"context"
	"errors"
	"net"
	"syscall"
	"time"
)

// Bounds in time. No source: a label is wanted in under a second, and a printer on the same network answers in
// milliseconds; what takes longer than these is out of order.
const (
	longest      = 2 * time.Minute      // of one try, if the context allows more
	dialLimit    = 5 * time.Second      // until a printer that is on has answered
	quiet        = time.Second          // see [raw]
	lookInterval = 5 * time.Millisecond // between looks at what cannot be waited for
)

// past is a deadline that has been: it ends what waits.
var past = time.Unix(1, 0)

// dial opens a connection. Nothing has been sent if it fails.
func dial(ctx context.Context, address string) (*net.TCPConn, string, error) {
	d := net.Dialer{Timeout: dialLimit}
	conn, err := d.DialContext(ctx, "tcp", address)
	if err != nil {
		var name *net.DNSError
		if errors.As(err, &name) {
			return nil, address + ": its name is not known here: is it written rightly, and does the network know it?", err
		}
		return nil, address + " does not answer: is the printer on, and on the network?", err
	}
	return conn.(*net.TCPConn), "", nil
}

// deadliner is a connection or file whose waiting can be ended.
type deadliner interface{ SetDeadline(time.Time) error }

// bind lets the end of a context end every read and write. What it returns must be called in the end.
func bind(ctx context.Context, c deadliner) (release func()) {
	stop := context.AfterFunc(ctx, func() { _ = c.SetDeadline(past) })
	return func() { stop() }
}

// broken reports whether the other side threw the connection away, with what may have been on its way.
func broken(err error) bool {
	return errors.Is(err, syscall.ECONNRESET) || errors.Is(err, syscall.EPIPE) || errors.Is(err, syscall.ECONNABORTED)
}
