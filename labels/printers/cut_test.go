package printers_test

import (
	"bytes"
	"io"
	"net"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels/ipp"
)

// cutter stands between a sender and a printer. It lets everything through, but of the requests to print only the first
// bytes, and then lets go of both sides.
type cutter struct {
	to      string
	n       atomic.Int64 // bytes of a request to print that come through, its HTTP head included; below 0: all
	reset   atomic.Bool  // lets go with a reset
	swallow atomic.Bool  // reads all of the request, and only lets go then
	size    atomic.Int64 // of the last request to print that came whole
	whole   atomic.Pointer[[]byte]
	came    chan struct{} // closed when the first one has
	once    sync.Once
	address string
}

func newCutter(t testing.TB, to string) *cutter {
	c := &cutter{to: to, came: make(chan struct{})}
	c.n.Store(-1)
	c.address = listener(t, c.serve)
	return c
}

func (c *cutter) serve(from *net.TCPConn) {
	defer from.Close()
	conn, err := net.Dial("tcp", c.to)
	if err != nil {
		return
	}
	to := conn.(*net.TCPConn)
	defer to.Close()

	head := c.head(from)
	n := c.n.Load()
	body := bytes.Index(head, []byte("\r\n\r\n")) + 4
	printing := body >= 4 && len(head) >= body+4 && head[body+3] == byte(ipp.PrintJob)
	if !printing || n < 0 {
		back := make(chan struct{})
		go func() {
			defer close(back)
			_, _ = io.Copy(from, to)
			_ = from.CloseWrite()
			_ = from.CloseRead()
		}()
		all := bytes.NewBuffer(head)
		_, _ = to.Write(head)
		_, _ = io.Copy(io.MultiWriter(to, all), from)
		_ = to.CloseWrite()
		if printing {
			b := all.Bytes()
			c.whole.Store(&b)
			c.size.Store(int64(len(b)))
			c.once.Do(func() { close(c.came) })
		}
		<-back
		return
	}
	m, _ := to.Write(head[:min(n, int64(len(head)))])
	if left := n - int64(m); left > 0 {
		_, _ = io.CopyN(to, from, left)
	}
	if c.swallow.Load() {
		_, _ = io.CopyN(io.Discard, from, c.size.Load()-max(n, int64(len(head))))
	}
	if c.reset.Load() {
		_ = from.SetLinger(0)
		_ = to.SetLinger(0)
	}
}

// last returns the last request to print that came whole, and waits for the first: a sender may be back before its
// connection has ended here.
func (c *cutter) last(t testing.TB) []byte {
	t.Helper()
	select {
	case <-c.came:
	case <-time.After(10 * time.Second):
		require.Fail(t, "no request to print came whole")
	}
	return *c.whole.Load()
}

// head reads until it is known what the request asks for.
func (c *cutter) head(from net.Conn) (head []byte) {
	buf := make([]byte, 512)
	for {
		n, err := from.Read(buf)
		head = append(head, buf[:n]...)
		if at := bytes.Index(head, []byte("\r\n\r\n")); err != nil || at >= 0 && len(head) >= at+8 {
			return head
		}
	}
}
