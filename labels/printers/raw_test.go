package printers_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"net"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels/printers"
)

func is(err, target error) bool { return errors.Is(err, target) }

func TestARawPrinterTakesEveryByte(t *testing.T) {
	for _, n := range []int{1, 2000, 300_000} {
		t.Run(fmt.Sprint(n), func(t *testing.T) {
			nothingRuns(t)
			job, got := label(n), make(chan []byte, 1)
			at := listener(t, func(c *net.TCPConn) {
				b, _ := io.ReadAll(c)
				_ = c.Close()
				got <- b
			})
			s := open(t, printers.WayRaw, at)
			require.NoError(t, s.Send(within(t, 10*time.Second), job))
			require.True(t, bytes.Equal(job.Body, <-got))
		})
	}
}

// TestARawPrinterThatVanishes takes n bytes and goes: the label is never called sent unless the printer had all of it.
func TestARawPrinterThatVanishes(t *testing.T) {
	for _, size := range []int{2000, 4 << 20} {
		for _, n := range []int{0, 1, size / 2, size - 1, size} {
			for _, reset := range []bool{false, true} {
				t.Run(fmt.Sprintf("%d of %d, reset %v", n, size, reset), func(t *testing.T) {
					nothingRuns(t)
					at := listener(t, func(c *net.TCPConn) {
						_, _ = io.CopyN(io.Discard, c, int64(n))
						if reset {
							_ = c.SetLinger(0)
						}
						_ = c.Close()
					})
					s := open(t, printers.WayRaw, at)
					for range 20 {
						err := s.Send(within(t, 10*time.Second), label(size))
						if n == size && !reset {
							require.NoError(t, err)
							continue
						}
						oneOutcome(t, err, nil)
						require.NotErrorIs(t, err, printers.ErrRefused)
						if n > 0 {
							require.ErrorIs(t, err, printers.ErrUnknown)
							require.ErrorContains(t, err, "look whether")
						}
					}
				})
			}
		}
	}
}

func TestARawPrinterThatIsOff(t *testing.T) {
	nothingRuns(t)
	at := nobody(t)
	s := open(t, printers.WayRaw, at)
	err := s.Send(within(t, 10*time.Second), label(2000))
	oneOutcome(t, err, printers.ErrNotSent)
	require.ErrorIs(t, err, syscall.ECONNREFUSED)
	require.EqualError(t, err, "nothing was printed; it will be tried again: "+at+" does not answer: is the printer on, and on the network? (connection refused)")
	_, err = s.Look(within(t, 10*time.Second))
	require.EqualError(t, err, at+" does not answer: is the printer on, and on the network? (connection refused)")
	require.ErrorIs(t, err, syscall.ECONNREFUSED)
}

// TestARawPrinterThatKeepsTheConnection never closes: after a second of quiet the label counts as sent.
func TestARawPrinterThatKeepsTheConnection(t *testing.T) {
	nothingRuns(t)
	job, got, leave := label(2000), make(chan []byte, 1), make(chan struct{})
	at := listener(t, func(c *net.TCPConn) {
		b, _ := io.ReadAll(c)
		got <- b
		<-leave
		_ = c.Close()
	})
	t.Cleanup(func() { close(leave) })
	begun := time.Now()
	require.NoError(t, open(t, printers.WayRaw, at).Send(within(t, 10*time.Second), job))
	require.GreaterOrEqual(t, time.Since(begun), time.Second)
	require.True(t, bytes.Equal(job.Body, <-got))
}

// TestARawPrinterThatHangs reads nothing. What its network code has no room for is never called sent; a label that fits is,
// since nothing tells this printer from one that is printing: the limit of this way, which the first scan makes good.
func TestARawPrinterThatHangs(t *testing.T) {
	hang := func(t *testing.T) string {
		nothingRuns(t)
		leave := make(chan struct{})
		at := listener(t, func(c *net.TCPConn) { <-leave; _ = c.Close() })
		t.Cleanup(func() { close(leave) })
		return at
	}
	t.Run("a label too large for its memory", func(t *testing.T) {
		s, j := open(t, printers.WayRaw, hang(t)), label(32<<20)
		begun := time.Now()
		err := s.Send(within(t, time.Second), j)
		oneOutcome(t, err, printers.ErrUnknown)
		require.ErrorContains(t, err, "its time was up")
		require.Less(t, time.Since(begun), 5*time.Second)
	})
	t.Run("a label that fits, given too little time", func(t *testing.T) {
		s := open(t, printers.WayRaw, hang(t))
		oneOutcome(t, s.Send(within(t, 700*time.Millisecond), label(2000)), printers.ErrUnknown)
	})
	t.Run("a label that fits", func(t *testing.T) {
		s := open(t, printers.WayRaw, hang(t))
		require.NoError(t, s.Send(within(t, 10*time.Second), label(2000)))
	})
}

// TestARawPrinterThatWakesUp reads nothing until the label has been given up. By then this machine's network code
// usually has all of it, the printer's a part: the label is not called sent, and what had not left by then never does.
func TestARawPrinterThatWakesUp(t *testing.T) {
	for name, end := range map[string]func(*net.TCPConn){"hangs": func(*net.TCPConn) {}, "ends its side and hangs": func(c *net.TCPConn) { _ = c.CloseWrite() }} {
		t.Run(name, func(t *testing.T) {
			nothingRuns(t)
			wake, got, j := make(chan struct{}), make(chan int64, 1), label(1<<20)
			at := listener(t, func(c *net.TCPConn) {
				end(c)
				<-wake
				n, _ := io.Copy(io.Discard, c)
				_ = c.Close()
				got <- n
			})
			err := open(t, printers.WayRaw, at).Send(within(t, 2*time.Second), j)
			close(wake)
			oneOutcome(t, err, printers.ErrUnknown)
			require.Less(t, <-got, int64(len(j.Body)))
		})
	}
}

func TestARawPrinterThatIsSlow(t *testing.T) {
	nothingRuns(t)
	job, got := label(2<<20), make(chan []byte, 1)
	at := listener(t, func(c *net.TCPConn) {
		var all []byte
		tick := time.NewTicker(2 * time.Millisecond)
		defer tick.Stop()
		for buf := make([]byte, 16<<10); ; {
			<-tick.C
			n, err := c.Read(buf)
			all = append(all, buf[:n]...)
			if err != nil {
				break
			}
		}
		_ = c.Close()
		got <- all
	})
	require.NoError(t, open(t, printers.WayRaw, at).Send(within(t, 30*time.Second), job))
	require.True(t, bytes.Equal(job.Body, <-got))
}

// TestARawPrinterThatTalks sends back its state without end: it is neither obeyed nor reset.
func TestARawPrinterThatTalks(t *testing.T) {
	nothingRuns(t)
	job, got := label(200_000), make(chan []byte, 1)
	at := listener(t, func(c *net.TCPConn) {
		done := make(chan struct{})
		go func() {
			defer close(done)
			for {
				if _, err := c.Write([]byte("ready\r\n")); err != nil {
					return
				}
			}
		}()
		b, _ := io.ReadAll(c)
		got <- b
		<-done
		_ = c.Close()
	})
	require.NoError(t, open(t, printers.WayRaw, at).Send(within(t, 10*time.Second), job))
	require.True(t, bytes.Equal(job.Body, <-got))
}

func TestARawPrinterIsLookedAtWithoutPrinting(t *testing.T) {
	got := make(chan int, 1)
	at := listener(t, func(c *net.TCPConn) {
		b, _ := io.ReadAll(c)
		_ = c.Close()
		got <- len(b)
	})
	says, err := open(t, printers.WayRaw, at).Look(within(t, 10*time.Second))
	require.NoError(t, err)
	require.Equal(t, at+" answers", says)
	require.Zero(t, <-got)
}
