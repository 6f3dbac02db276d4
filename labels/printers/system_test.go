//go:build linux

package printers

import (
	"net"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// pair is the two ends of a connection on loopback.
func pair(t *testing.T) (near, far *net.TCPConn) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer l.Close()
	a, err := net.Dial("tcp", l.Addr().String())
	require.NoError(t, err)
	b, err := l.Accept()
	require.NoError(t, err)
	t.Cleanup(func() { _, _ = a.Close(), b.Close() })
	return a.(*net.TCPConn), b.(*net.TCPConn)
}

// becomes waits until the system says something of a connection.
func becomes(t *testing.T, conn *net.TCPConn, want func(n int, err error) bool) {
	t.Helper()
	require.Eventually(t, func() bool { return want(unacknowledged(conn)) }, 5*time.Second, time.Millisecond)
}

func TestWhatTheSystemSaysOfAConnection(t *testing.T) {
	near, far := pair(t)
	n, err := unacknowledged(near)
	require.NoError(t, err)
	require.Zero(t, n)

	require.NoError(t, near.SetWriteDeadline(time.Now().Add(200*time.Millisecond)))
	_, _ = near.Write(make([]byte, 8<<20)) // more than the other side has room for
	n, err = unacknowledged(near)
	require.NoError(t, err)
	require.Positive(t, n)

	require.NoError(t, far.SetLinger(0))
	require.NoError(t, far.Close())
	becomes(t, near, func(_ int, err error) bool { return broken(err) })

	require.NoError(t, near.Close())
	_, err = unacknowledged(near)
	require.Error(t, err)
}
