package printers_test

import (
	"context"
	"io"
	"log"
	"math/rand/v2"
	"net"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels/printers"
)

// label is a job of n bytes that look like anything.
func label(n int) printers.Job {
	body := make([]byte, n)
	r := rand.NewChaCha8([32]byte{byte(n)})
	_, _ = r.Read(body)
	return printers.Job{Token: "k3v9xq7w2m", MediaType: "image/pwg-raster", Extension: "pwg", Body: body, WidthMM: 50.8, HeightMM: 25.4}
}

// open opens a printer and holds it to leaving nothing behind.
func open(t testing.TB, way printers.Way, to string) printers.Sender {
	t.Helper()
	s, err := printers.Open(way, to)
	require.NoError(t, err)
	return s
}

// within is a context that ends by itself; a test that runs into it much later has hung.
func within(t testing.TB, d time.Duration) context.Context {
	ctx, cancel := context.WithTimeout(t.Context(), d)
	t.Cleanup(cancel)
	return ctx
}

// nothingRuns holds a test to ending every goroutine that it made the package start. Tests that use it run one at a time.
func nothingRuns(t *testing.T) {
	t.Cleanup(func() {
		var stacks string
		require.Eventually(t, func() bool {
			buf := make([]byte, 1<<20)
			stacks = string(buf[:runtime.Stack(buf, true)])
			return !strings.Contains(stacks, "labels/printers.")
		}, 5*time.Second, 10*time.Millisecond, "a goroutine of the package has not ended:\n%s", &stacks)
	})
}

// listener is a printer's port on loopback; each connection is handed to serve.
func listener(t testing.TB, serve func(*net.TCPConn)) (address string) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		for {
			conn, err := l.Accept()
			if err != nil {
				return
			}
			serve(conn.(*net.TCPConn))
		}
	}()
	t.Cleanup(func() {
		_ = l.Close()
		<-ended
	})
	return l.Addr().String()
}

// nobody is an address on loopback where nothing listens.
func nobody(t testing.TB) string {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	require.NoError(t, l.Close())
	return l.Addr().String()
}

// oneOutcome holds an error to saying exactly one thing about the label, in a sentence.
func oneOutcome(t testing.TB, err, want error) {
	t.Helper()
	require.Error(t, err)
	n := 0
	for _, known := range []error{printers.ErrNotSent, printers.ErrRefused, printers.ErrUnknown} {
		if is(err, known) {
			n++
		}
	}
	require.Equal(t, 1, n, "one outcome: %v", err)
	if want != nil {
		require.ErrorIs(t, err, want)
	}
	require.NotContains(t, err.Error(), "\n")
}

// quietLog is for servers whose complaints are part of a test.
func quietLog() *log.Logger { return log.New(io.Discard, "", 0) }
