package daemon

import (
	"context"
	"net"
	"sync"
	"time"
)

// tlsHello is the first byte of every client that speaks TLS: a record of the handshake. Source: RFC 8446, section 5.1.
const tlsHello = 0x16

// sorter gives each connection of a listener to one of two doors by its first byte: who begins with TLS, and who does not, and
// is to be told where the encrypted pages are. A connection that says nothing for as long as headers may take is closed.
type sorter struct {
	from          net.Listener
	secure, plain *door
	ctx           context.Context // ends with the sorter
	cancel        context.CancelFunc
	work          sync.WaitGroup
	close         func() error // once for both doors
}

// door is a listener for the connections of one kind.
type door struct {
	of   *sorter
	next chan arrived
}

// arrived is a connection, or why there is none.
type arrived struct {
	conn net.Conn
	err  error
}

func sortByFirstByte(from net.Listener) *sorter {
	s := &sorter{from: from}
	s.close = sync.OnceValue(func() error {
		s.cancel()
		err := from.Close()
		s.work.Wait()
		return err
	})
	s.ctx, s.cancel = context.WithCancel(context.Background())
	s.secure, s.plain = &door{s, make(chan arrived)}, &door{s, make(chan arrived)}
	s.work.Go(s.run)
	return s
}

func (s *sorter) run() {
	for s.ctx.Err() == nil {
		conn, err := s.from.Accept()
		if err != nil {
			s.secure.give(arrived{nil, err}) // the server behind it knows whether to go on
			continue
		}
		s.work.Go(func() { s.sort(conn) })
	}
}

// sort waits for a connection's first byte.
func (s *sorter) sort(conn net.Conn) {
	_ = conn.SetReadDeadline(time.Now().Add(headerTimeout)) // a connection without deadlines is closed with the sorter all the same
	end := context.AfterFunc(s.ctx, func() { _ = conn.SetReadDeadline(time.Unix(1, 0)) })
	first := make([]byte, 1)
	_, err := conn.Read(first)
	if !end() || err != nil || conn.SetReadDeadline(time.Time{}) != nil {
		_ = conn.Close()
		return
	}
	to := s.plain
	if first[0] == tlsHello {
		to = s.secure
	}
	to.give(arrived{conn: &begun{Conn: conn, first: first}})
}

// give hands over a connection, or closes it when nobody takes any more.
func (d *door) give(a arrived) {
	select {
	case d.next <- a:
	case <-d.of.ctx.Done():
		if a.conn != nil {
			_ = a.conn.Close()
		}
	}
}

// Accept waits for a connection of the door's kind.
func (d *door) Accept() (net.Conn, error) {
	select {
	case a := <-d.next:
		return a.conn, a.err
	case <-d.of.ctx.Done():
		return nil, net.ErrClosed
	}
}

// Close closes both doors.
func (d *door) Close() error {
	return d.of.close()
}

// Addr is where the doors are.
func (d *door) Addr() net.Addr { return d.of.from.Addr() }

// begun is a connection whose first byte was looked at.
type begun struct {
	net.Conn
	first []byte
}

// Read gives the first byte too.
func (b *begun) Read(p []byte) (int, error) {
	if len(b.first) > 0 && len(p) > 0 {
		n := copy(p, b.first)
		b.first = b.first[n:]
		return n, nil
	}
	return b.Conn.Read(p)
}

// NetConn is the connection beneath.
func (b *begun) NetConn() net.Conn { return b.Conn }
