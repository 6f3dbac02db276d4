package daemon

import (
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// crowded is a server with so many places. Its handler answers when answer lets it.
func crowded(t *testing.T, places int) (address string, begun chan string, answer chan struct{}) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	begun, answer = make(chan string, 10), make(chan struct{}, 10)
	server := newHTTP(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, err := io.ReadAll(r.Body)
		if err != nil {
			return
		}
		begun <- r.URL.Path
		<-answer
		fmt.Fprintf(w, "%s %s", r.URL.Path, body)
	}), slog.New(slog.DiscardHandler))
	c := newCrowd(places)
	c.serve(server)
	ended := make(chan error)
	go func() { ended <- serveHTTP(server, c.listener(l)) }()
	t.Cleanup(func() {
		require.NoError(t, server.Close())
		require.NoError(t, <-ended)
		require.Empty(t, c.guests)
	})
	return l.Addr().String(), begun, answer
}

// says opens a connection and says something on it.
func says(t *testing.T, address, text string) net.Conn {
	t.Helper()
	conn, err := net.Dial("tcp", address)
	require.NoError(t, err)
	t.Cleanup(func() { _ = conn.Close() })
	require.NoError(t, conn.SetDeadline(time.Now().Add(time.Minute)))
	_, err = io.WriteString(conn, text)
	require.NoError(t, err)
	return conn
}

func request(path, body string) string {
	return fmt.Sprintf("POST %s HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\nContent-Length: %d\r\n\r\n%s", path, len(body), body)
}

// hears reads what comes back until the other side closes.
func hears(t *testing.T, conn net.Conn) string {
	t.Helper()
	all, err := io.ReadAll(conn)
	if err != nil {
		require.ErrorContains(t, err, "reset")
	}
	return string(all)
}

func TestWhoSaysNothingMakesWayForWhoDoes(t *testing.T) {
	address, begun, answer := crowded(t, 3)
	slow := []net.Conn{says(t, address, ""), says(t, address, "GET / HTTP/1.1\r\nHost: loc"), says(t, address, strings.TrimSuffix(request("/half", "0123456789"), "789"))}
	for n, path := range []string{"/a", "/b", "/c"} {
		scan := says(t, address, request(path, "scan"))
		require.Equal(t, path, <-begun)
		answer <- struct{}{}
		require.True(t, strings.HasSuffix(hears(t, scan), path+" scan"))
		if n == 0 {
			require.NotContains(t, hears(t, slow[0]), "200", "who came first is gone")
		}
	}
}

func TestWhoIsBeingAnsweredIsNeverCutOff(t *testing.T) {
	address, begun, answer := crowded(t, 2)
	first, second := says(t, address, request("/first", "x")), says(t, address, "GET /second HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n")
	require.ElementsMatch(t, []string{"/first", "/second"}, []string{<-begun, <-begun})
	third := says(t, address, request("/third", "x")) // waits for a place
	answer <- struct{}{}
	answer <- struct{}{}
	require.Contains(t, hears(t, first), "/first x")
	require.Contains(t, hears(t, second), "/second")
	require.Equal(t, "/third", <-begun)
	answer <- struct{}{}
	require.Contains(t, hears(t, third), "/third x")
}

func TestAFullHouseCanBeClosed(t *testing.T) {
	address, begun, answer := crowded(t, 1)
	says(t, address, request("/first", "x"))
	require.Equal(t, "/first", <-begun)
	says(t, address, request("/waits", "x"))
	answer <- struct{}{}
	answer <- struct{}{}
}
