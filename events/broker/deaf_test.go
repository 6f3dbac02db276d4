package broker_test

import (
	"net"
	"sync/atomic"
)

// deafDialer gives connections that stop reading when told to.
type deafDialer struct {
	deaf atomic.Bool
	wake chan struct{} // closed when they may read again
}

func newDeaf() *deafDialer {
	return &deafDialer{wake: make(chan struct{})}
}

// Dial connects; nats.go calls it.
func (d *deafDialer) Dial(network, address string) (net.Conn, error) {
	conn, err := net.Dial(network, address)
	if err != nil {
		return nil, err
	}
	return &deafConn{Conn: conn, d: d}, nil
}

type deafConn struct {
	net.Conn
	d *deafDialer
}

// Read waits while nothing is to be heard.
func (c *deafConn) Read(p []byte) (int, error) {
	if c.d.deaf.Load() {
		<-c.d.wake
	}
	return c.Conn.Read(p)
}
