package printers_test

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels/ipp"
	"github.com/pottrail/pottrail/labels/printers"
)

// TestAConnectionThatBreaksOnTheWay cuts the request to print after each of several numbers of bytes. Three printers get
// it: one gives up what is not whole, one prints what it got and says that it is done, one keeps no list.
func TestAConnectionThatBreaksOnTheWay(t *testing.T) {
	kinds := []string{"gives up", "prints what it got", "keeps no list"}
	for _, kind := range kinds {
		t.Run(kind, func(t *testing.T) {
			f := newFake(t)
			f.instead[ipp.PrintJob] = func(w http.ResponseWriter, r request) {
				n := f.take(r)
				if !r.whole && kind == "gives up" {
					f.set(n, counted(0, ipp.JobAborted, "submission-interrupted"))
				}
				answer(w, r, ipp.OK, job(n, state(ipp.JobPending)))
			}
			if kind == "keeps no list" {
				f.instead[ipp.GetJobs] = says(ipp.OK)
			}
			c := newCutter(t, f.server.Listener.Addr().String())
			s := open(t, printers.WayIPP, "ipp://"+c.address+"/ipp/print")
			j := label(100_000)
			j.Token = "whole-and-uncut"
			require.NoError(t, s.Send(within(t, 10*time.Second), j))
			size := int64(len(c.last(t)))
			first := size - int64(len(j.Body)) // the place of the document's first byte
			for i, n := range []int64{0, 1, first / 2, first, first + 1, size / 2, size - 1, size} {
				for k, how := range []string{"orderly", "reset", "swallowed"} {
					if how == "swallowed" && kind == "prints what it got" && n >= first && n < size {
						continue // what was swallowed was acknowledged: from a printer that then says that it is done, nobody can tell
					}
					t.Run(fmt.Sprintf("%d of %d, %s", n, size, how), func(t *testing.T) {
						c.n.Store(n)
						c.reset.Store(how == "reset")
						c.swallow.Store(how == "swallowed")
						j.Token = fmt.Sprintf("cut-%02d-%d-abcdef", i, k) // as long as the one above
						err := s.Send(within(t, 10*time.Second), j)
						tries, printed := f.printed(j.Token)
						require.LessOrEqual(t, tries, 1, "a try asks once")
						switch {
						case err == nil:
							require.Equal(t, len(j.Body), printed, "sent means that the printer has all of it")
						case is(err, printers.ErrNotSent):
							require.Zero(t, printed, "not sent means that nothing was printed")
						}
						if err != nil {
							oneOutcome(t, err, nil)
							require.NotErrorIs(t, err, printers.ErrRefused, "a later try may do")
						}
					})
				}
			}
		})
	}
}

// byHand is a printer whose answers are written by hand: to the question what it is as it should be, and then to the label
// as the test says.
func byHand(t *testing.T, label func(conn *net.TCPConn, r request)) printers.Sender {
	f := newFake(t)
	at := listener(t, func(conn *net.TCPConn) {
		defer conn.Close()
		in := bufio.NewReader(conn)
		web, err := http.ReadRequest(in)
		if err != nil {
			return
		}
		head := make([]byte, 0, 4096)
		for { // the message, byte by byte, and none of the document
			one := make([]byte, 1)
			if _, err := io.ReadFull(web.Body, one); err != nil {
				return
			}
			head = append(head, one...)
			if m, _, err := ipp.Decode(head); err == nil {
				r := request{Message: m, web: web}
				if ipp.Operation(m.Code) == ipp.PrintJob {
					label(conn, r)
					return
				}
				w := httptest.NewRecorder()
				f.right(w, r)
				_, _ = fmt.Fprintf(conn, "HTTP/1.1 200 OK\r\nContent-Type: application/ipp\r\nContent-Length: %d\r\n\r\n%s", w.Body.Len(), w.Body)
				return
			}
		}
	})
	return open(t, printers.WayIPP, "ipp://"+at+"/ipp/print")
}

// TestAPrinterThatAnswersEarly says yes when it has read the head alone: the label still goes out whole.
func TestAPrinterThatAnswersEarly(t *testing.T) {
	j, got := label(8<<20), make(chan []byte, 1)
	s := byHand(t, func(conn *net.TCPConn, r request) {
		b := encoded(r, ipp.OK, job(1, state(ipp.JobCompleted)))
		_, _ = fmt.Fprintf(conn, "HTTP/1.1 100 Continue\r\n\r\nHTTP/1.1 200 OK\r\nContent-Type: application/ipp\r\nContent-Length: %d\r\n\r\n%s", len(b), b)
		document, _ := io.ReadAll(r.web.Body)
		got <- document
	})
	require.NoError(t, s.Send(within(t, 30*time.Second), j))
	require.True(t, bytes.Equal(j.Body, <-got))
}

// TestAPrinterThatAnswersEarlyAndGoes says yes and then takes nothing: that is not sent.
func TestAPrinterThatAnswersEarlyAndGoes(t *testing.T) {
	s := byHand(t, func(conn *net.TCPConn, r request) {
		b := encoded(r, ipp.OK, job(1, state(ipp.JobCompleted)))
		_, _ = fmt.Fprintf(conn, "HTTP/1.1 200 OK\r\nContent-Type: application/ipp\r\nContent-Length: %d\r\n\r\n%s", len(b), b)
	})
	err := s.Send(within(t, 10*time.Second), label(32<<20))
	oneOutcome(t, err, printers.ErrUnknown)
}

// TestAPrinterThatIsBusyAtOnce says so and reads nothing more: the sender does not wait to get rid of the rest.
func TestAPrinterThatIsBusyAtOnce(t *testing.T) {
	gone := make(chan struct{})
	s := byHand(t, func(conn *net.TCPConn, r request) {
		b := encoded(r, ipp.Busy)
		_, _ = fmt.Fprintf(conn, "HTTP/1.1 200 OK\r\nContent-Type: application/ipp\r\nContent-Length: %d\r\n\r\n%s", len(b), b)
		<-gone
	})
	begun := time.Now()
	err := s.Send(within(t, 30*time.Second), label(32<<20))
	close(gone)
	oneOutcome(t, err, printers.ErrNotSent)
	require.ErrorContains(t, err, "busy")
	require.Less(t, time.Since(begun), 10*time.Second)
}

// TestAPrinterThatWakesUp does so after the label has been given up: what had not left by then never does.
func TestAPrinterThatWakesUp(t *testing.T) {
	wake, got, j := make(chan struct{}), make(chan int64, 1), label(1<<20)
	s := byHand(t, func(_ *net.TCPConn, r request) {
		<-wake
		n, _ := io.Copy(io.Discard, r.web.Body)
		got <- n
	})
	oneOutcome(t, s.Send(within(t, 2*time.Second), j), printers.ErrUnknown)
	close(wake)
	require.Less(t, <-got, int64(len(j.Body)))
}

// TestAPrinterThatTakesItsTimeToRead is slower than its own memory.
func TestAPrinterThatTakesItsTimeToRead(t *testing.T) {
	j, got := label(4<<20), make(chan []byte, 1)
	s := byHand(t, func(conn *net.TCPConn, r request) {
		tick := time.NewTicker(2 * time.Millisecond)
		defer tick.Stop()
		var all []byte
		for buf := make([]byte, 32<<10); len(all) < len(j.Body); {
			<-tick.C
			n, err := r.web.Body.Read(buf)
			all = append(all, buf[:n]...)
			if err != nil {
				break
			}
		}
		b := encoded(r, ipp.OK, job(1, state(ipp.JobCompleted)))
		_, _ = fmt.Fprintf(conn, "HTTP/1.1 200 OK\r\nContent-Type: application/ipp\r\nContent-Length: %d\r\n\r\n%s", len(b), b)
		got <- all
	})
	require.NoError(t, s.Send(within(t, 30*time.Second), j))
	require.True(t, bytes.Equal(j.Body, <-got))
}

// TestAPrinterThatTalksWithoutEnd is not listened to for ever.
func TestAPrinterThatTalksWithoutEnd(t *testing.T) {
	for name, line := range map[string]string{
		"headers":  "X-Label: printed\r\n",
		"patience": "HTTP/1.1 100 Continue\r\n\r\n",
	} {
		t.Run(name, func(t *testing.T) {
			s := byHand(t, func(conn *net.TCPConn, _ request) {
				if name == "headers" {
					_, _ = io.WriteString(conn, "HTTP/1.1 200 OK\r\n")
				}
				for {
					if _, err := io.WriteString(conn, strings.Repeat(line, 100)); err != nil {
						return
					}
				}
			})
			oneOutcome(t, s.Send(within(t, 20*time.Second), label(100)), printers.ErrUnknown)
		})
	}
}

// TestASecurePrinter signs its own certificate, as most do.
func TestASecurePrinter(t *testing.T) {
	f := newFake(t)
	secure := httptest.NewUnstartedServer(f)
	secure.Config.ErrorLog = quietLog()
	secure.StartTLS()
	t.Cleanup(secure.Close)
	at := strings.Replace(secure.URL, "https", "ipps", 1) + "/ipp/print"
	print := fmt.Sprintf("%x", sha256.Sum256(secure.Certificate().Raw))

	err := open(t, printers.WayIPP, at).Send(within(t, 10*time.Second), label(100))
	oneOutcome(t, err, printers.ErrRefused)
	require.ErrorContains(t, err, "does not trust")
	require.ErrorContains(t, err, "add #sha256="+print+" to its address")
	_, err = open(t, printers.WayIPP, at).Look(within(t, 10*time.Second))
	require.ErrorContains(t, err, "does not trust")
	require.Empty(t, f.got)

	j := label(300_000)
	require.NoError(t, open(t, printers.WayIPP, at+"#sha256="+print).Send(within(t, 10*time.Second), j))
	_, r := f.asked(ipp.PrintJob)
	require.True(t, bytes.Equal(j.Body, r.document))
	require.Equal(t, at, r.First(ipp.OperationGroup).Get("printer-uri").Word(), "ipps, and no fingerprint")

	f.instead[ipp.PrintJob] = f.first(hangsUp)
	require.NoError(t, open(t, printers.WayIPP, at+"#sha256="+print).Send(within(t, 10*time.Second), j), "its list is asked over the same way")

	other := strings.Repeat("0a", 32)
	err = open(t, printers.WayIPP, at+"#sha256="+other).Send(within(t, 10*time.Second), j)
	oneOutcome(t, err, printers.ErrRefused)
	require.ErrorContains(t, err, "was the printer exchanged")
}

// TestALabelGoesNowhereElse: neither a redirect nor a proxy of the environment gets it.
func TestALabelGoesNowhereElse(t *testing.T) {
	elsewhere := listener(t, func(c *net.TCPConn) { _ = c.Close(); t.Error("a connection to elsewhere") })
	for _, name := range []string{"http_proxy", "HTTP_PROXY", "all_proxy", "ALL_PROXY"} {
		t.Setenv(name, "http://"+elsewhere)
	}
	f := newFake(t)
	require.NoError(t, f.sender().Send(within(t, 10*time.Second), label(100)))
	f.instead[ipp.PrintJob] = func(w http.ResponseWriter, _ request) {
		w.Header().Set("Location", "http://"+elsewhere+"/ipp/print")
		w.WriteHeader(http.StatusTemporaryRedirect)
	}
	err := f.sender().Send(within(t, 10*time.Second), label(100))
	oneOutcome(t, err, printers.ErrRefused)
	require.ErrorContains(t, err, "sends us to another address")
}

// TestATryThatIsCalledOff ends with its context, at whatever it is waiting for.
func TestATryThatIsCalledOff(t *testing.T) {
	f := newFake(t)
	ctx, cancel := context.WithCancel(t.Context())
	f.instead[ipp.PrintJob] = func(w http.ResponseWriter, r request) { cancel(); hangs(w, r) }
	begun := time.Now()
	oneOutcome(t, f.sender().Send(ctx, label(100)), printers.ErrUnknown)
	require.Less(t, time.Since(begun), 5*time.Second)
}
