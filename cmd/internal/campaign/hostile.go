package main

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// slowSockets is how many connections send their request a byte at a time. Source: the project's notes on reliability, 5.13.
const slowSockets = 500

// slowest is the 99th percentile of a scan that the campaign puts up with. The notes ask for half a second on a machine of
// one's own; on one that others use nothing can be said of less than this.
const slowest = 5 * time.Second

// leastBad is how many bad requests are tried at least, beside the slow sockets.
const leastBad = 60

// mob is hundreds of bad clients.
type mob struct {
	to      string
	refused atomic.Int64 // answered with anything but success
	taken   atomic.Int64 // answered with success: none should be
	sent    atomic.Int64
	ended   atomic.Int64 // of those that do not drip

	mu     sync.Mutex
	halves map[tracker.EventID]uint64 // events of which a half was sent
}

// speak opens a connection, lets say write to it, and reads what comes back until either side has had enough.
func (m *mob) speak(ctx context.Context, say func(w io.Writer) error) {
	var dialer net.Dialer
	conn, err := dialer.DialContext(ctx, "tcp", m.to)
	if err != nil {
		return
	}
	defer context.AfterFunc(ctx, func() { _ = conn.Close() })()
	defer func() { _ = conn.Close() }()
	m.sent.Add(1)
	_ = conn.SetDeadline(time.Now().Add(30 * time.Second))
	if say(conn) != nil && ctx.Err() != nil {
		return
	}
	head := make([]byte, 12)
	if n, _ := io.ReadFull(conn, head); n == len(head) {
		if strings.HasPrefix(string(head[9:]), "2") {
			m.taken.Add(1)
		} else {
			m.refused.Add(1)
		}
	}
}

// drip sends a request slowly and never to its end.
func drip(ctx context.Context, text string) func(w io.Writer) error {
	return func(w io.Writer) error {
		for i := range len(text) {
			if _, err := io.WriteString(w, text[i:i+1]); err != nil {
				return err
			}
			select {
			case <-time.After(200 * time.Millisecond):
			case <-ctx.Done():
				return ctx.Err()
			}
		}
		return nil
	}
}

// post is a request with a body that may be shorter or longer than it says.
func post(length int64, body io.Reader) func(w io.Writer) error {
	return func(w io.Writer) error {
		if _, err := fmt.Fprintf(w, "POST /v1/events HTTP/1.1\r\nHost: localhost\r\nContent-Length: %d\r\nConnection: close\r\n\r\n", length); err != nil {
			return err
		}
		_, err := io.Copy(w, body)
		return err
	}
}

// endless is as much of one letter as is asked for.
type endless struct{}

// Read fills p.
func (endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = 'a'
	}
	return len(p), nil
}

// one does one bad thing.
func (m *mob) one(ctx context.Context, r *rand.Rand, what int) {
	defer m.ended.Add(1)
	s := newScan(1 + r.IntN(90))
	half := s.body[:len(s.body)/2+r.IntN(len(s.body)/2)]
	if what%6 == 1 || what%6 == 2 {
		m.mu.Lock()
		m.halves[tracker.EventID(s.id)] = 1
		m.mu.Unlock()
	}
	switch what % 6 {
	case 0: // a body of a gigabyte
		m.speak(ctx, post(1<<30, io.LimitReader(endless{}, 1<<30)))
	case 1: // half an event
		m.speak(ctx, post(int64(len(half)), strings.NewReader(half)))
	case 2: // a body that stops
		m.speak(ctx, post(int64(len(half))+100, strings.NewReader(half)))
	case 3: // no HTTP at all
		junk := make([]byte, 4096)
		for i := range junk {
			junk[i] = byte(r.Uint32())
		}
		m.speak(ctx, func(w io.Writer) error { _, err := w.Write(junk); return err })
	case 4: // headers without end
		m.speak(ctx, func(w io.Writer) error {
			_, err := io.Copy(w, io.MultiReader(strings.NewReader("GET / HTTP/1.1\r\nHost: localhost\r\nX-A: "), io.LimitReader(endless{}, 1<<22)))
			return err
		})
	case 5: // deep JSON
		deep := strings.Repeat("[", 100_000)
		m.speak(ctx, post(int64(len(deep)), strings.NewReader(deep)))
	}
}

// hostile lets bad clients loose on a daemon's pages, and records scans meanwhile, each over a connection of its own. All of
// these are recorded, and nothing that the others sent. The control looks for what was sent in halves: it is not there.
func hostile(ctx context.Context, o options) (result, error) {
	var out result
	folder := filepath.Join(o.folder, "clinic")
	p, err := o.start(ctx, folder)
	if err != nil {
		return out, err
	}
	defer func() {
		if p.cmd.ProcessState == nil {
			p.kill()
		}
	}()
	m := &mob{to: p.pages, halves: map[tracker.EventID]uint64{}}
	under, stop := context.WithCancel(ctx)
	defer stop()
	var all sync.WaitGroup
	for i := range slowSockets {
		text := "POST /v1/events HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\nContent-Length: 400\r\n\r\n{"
		if i%2 == 0 { // in the headers
			text = "GET /v1/flags HTTP/1.1\r\nHost: localhost\r\nX-Slow: " + strings.Repeat("z", 400)
		}
		all.Go(func() {
			for under.Err() == nil {
				m.speak(under, drip(under, text))
			}
		})
	}
	for i := range 8 {
		r := rand.New(rand.NewPCG(o.seed, 100+uint64(i)))
		all.Go(func() {
			for n := i; under.Err() == nil; n++ {
				m.one(under, r, n)
			}
		})
	}
	for m.sent.Load() < slowSockets && ctx.Err() == nil { // all are at it
		<-time.After(10 * time.Millisecond)
	}
	acknowledged := map[tracker.EventID]uint64{}
	var pages, socket []time.Duration
	for i := range o.cycles {
		c, took := p.atPages(), &pages
		if i%2 == 1 {
			c, took = p.atSocket(), &socket
		}
		s := newScan(1 + i%90)
		began := time.Now()
		v, err := c.record(ctx, s)
		*took = append(*took, time.Since(began))
		c.http.CloseIdleConnections()
		if err != nil || !v.OK {
			out.Wrong = fmt.Sprintf("scan %d was not recorded: %v", i+1, err)
			continue
		}
		acknowledged[tracker.EventID(s.id)] = v.Seq
	}
	for m.ended.Load() < leastBad && ctx.Err() == nil { // each bad thing was done, and more than once
		<-time.After(10 * time.Millisecond)
	}
	memory := highest(p.cmd.Process.Pid)
	stop()
	all.Wait()
	if err := p.stop(); err != nil {
		return out, err
	}
	ledger := newKept()
	if err := ledger.reopen(filepath.Join(folder, "ledger.db"), true); err != nil {
		return out, err
	}
	out.Acknowledged, out.Stored, out.Lost, out.Double = len(acknowledged), int(ledger.last), ledger.lost(acknowledged), ledger.double
	out.Control = ledger.lost(m.halves)
	if out.Stored != out.Acknowledged {
		out.Wrong = fmt.Sprintf("%d events are recorded that nobody sent whole", out.Stored-out.Acknowledged)
	}
	slices.Sort(pages)
	slices.Sort(socket)
	tail := func(d []time.Duration) time.Duration { return d[len(d)*99/100].Round(time.Millisecond) }
	if tail(pages) > slowest || tail(socket) > slowest {
		out.Wrong = fmt.Sprintf("a scan took %s at the pages and %s at the socket, 99th percentile", tail(pages), tail(socket))
	}
	out.Note = fmt.Sprintf("%d slow sockets and 8 at work, %d bad requests, %d answered with a refusal, %d with success; a scan's median and 99th percentile at the pages %s, %s, at the socket %s, %s; at most %d MiB",
		slowSockets, m.sent.Load(), m.refused.Load(), m.taken.Load(), pages[len(pages)/2].Round(time.Millisecond), tail(pages), socket[len(socket)/2].Round(time.Millisecond), tail(socket), memory>>20)
	return out, nil
}

// highest is the most memory that a process has had, in bytes, where the system tells; else 0.
func highest(pid int) int64 {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(text)) {
		if rest, ok := strings.CutPrefix(line, "VmHWM:"); ok {
			kib, _ := strconv.ParseInt(strings.TrimSuffix(strings.TrimSpace(rest), " kB"), 10, 64)
			return kib << 10
		}
	}
	return 0
}
