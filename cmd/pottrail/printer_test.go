package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"sync"
	"syscall"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

// fakePrinter is a printer on loopback as scripts have it.
type fakePrinter struct {
	listener net.Listener
	mu       sync.Mutex
	calls    int // connections that brought at least one byte
	taken    [][]byte
	held     []net.Conn
}

// printerKey finds a script's printers.
type printerKey struct{}

// printersOf are the printers of a script, by name.
func printersOf(ts *testscript.TestScript) map[string]*fakePrinter {
	return ts.Value(printerKey{}).(map[string]*fakePrinter)
}

// printer NAME takes | vanishes BYTES | stalls | off sets up a printer on loopback, or changes one: it takes all that comes;
// it reads so many bytes and throws the connection away; it stops reading at once; it no longer listens. $NAME is its
// address, which it keeps.
func scriptPrinter(ts *testscript.TestScript, _ bool, args []string) {
	all, name := printersOf(ts), args[0]
	address := "127.0.0.1:0"
	if old := all[name]; old != nil {
		address = old.listener.Addr().String()
		old.end()
	}
	p := &fakePrinter{}
	if args[1] == "off" && all[name] != nil {
		p.listener = all[name].listener
		all[name] = p
		return
	}
	small := net.ListenConfig{Control: func(_, _ string, c syscall.RawConn) error { // what it does not read, it does not take
		return c.Control(func(fd uintptr) { _ = syscall.SetsockoptInt(int(fd), syscall.SOL_SOCKET, syscall.SO_RCVBUF, 2304) })
	}}
	var err error
	p.listener, err = small.Listen(context.Background(), "tcp", address)
	ts.Check(err)
	all[name] = p
	ts.Setenv(name, p.listener.Addr().String())
	if args[1] == "off" {
		p.end()
		return
	}
	limit := 0
	if args[1] == "vanishes" {
		limit, err = strconv.Atoi(args[2])
		ts.Check(err)
	}
	go p.serve(args[1], limit)
	ts.Defer(p.end)
}

func (p *fakePrinter) serve(mode string, limit int) {
	for {
		conn, err := p.listener.Accept()
		if err != nil {
			return
		}
		go p.one(conn.(*net.TCPConn), mode, limit)
	}
}

func (p *fakePrinter) one(conn *net.TCPConn, mode string, limit int) {
	first := make([]byte, 1)
	if n, _ := conn.Read(first); n == 0 {
		_ = conn.Close()
		return
	}
	p.mu.Lock()
	p.calls++
	p.held = append(p.held, conn)
	p.mu.Unlock()
	switch mode {
	case "stalls":
		return // held until the end
	case "vanishes":
		_, _ = io.CopyN(io.Discard, conn, int64(limit-1))
		_ = conn.SetLinger(0)
	default:
		body, err := io.ReadAll(io.MultiReader(bytes.NewReader(first), conn))
		if err == nil {
			p.mu.Lock()
			p.taken = append(p.taken, body)
			p.mu.Unlock()
		}
	}
	_ = conn.Close()
}

func (p *fakePrinter) end() {
	_ = p.listener.Close()
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, conn := range p.held {
		_ = conn.Close()
	}
}

// called NAME N waits until a printer was called N times with something to print, and holds that it was not called more.
func scriptCalled(ts *testscript.TestScript, _ bool, args []string) {
	p := printersOf(ts)[args[0]]
	want, err := strconv.Atoi(args[1])
	ts.Check(err)
	ts.Check(await(func() error {
		p.mu.Lock()
		defer p.mu.Unlock()
		if p.calls != want {
			return fmt.Errorf("printer %s was called %d times, want %d", args[0], p.calls, want)
		}
		return nil
	}))
}

// spooled FOLDER N holds that there are N whole files in a spool folder, and nothing else.
func scriptSpooled(ts *testscript.TestScript, _ bool, args []string) {
	entries, err := os.ReadDir(ts.MkAbs(args[0]))
	ts.Check(err)
	if fmt.Sprint(len(entries)) != args[1] {
		ts.Fatalf("%d files in %s, want %s", len(entries), args[0], args[1])
	}
	for _, e := range entries {
		if ext := filepath.Ext(e.Name()); ext != ".zpl" && ext != ".png" {
			ts.Fatalf("%s is no label", e.Name())
		}
	}
}

// until FOLDER TEXT COMMAND ARGS… asks the daemon of a folder again and again until it answers with a text.
func scriptUntil(ts *testscript.TestScript, _ bool, args []string) {
	ts.Check(await(func() error {
		if out := output(ts, append(args[2:], "--data", ts.MkAbs(args[0]))...); !bytes.Contains(out, []byte(args[1])) {
			return fmt.Errorf("%q was not said, but: %s", args[1], out)
		}
		return nil
	}))
}

// await tries until it goes well.
func await(try func() error) error {
	end := time.Now().Add(within)
	often := time.NewTicker(20 * time.Millisecond)
	defer often.Stop()
	for {
		err := try()
		if err == nil || time.Now().After(end) {
			return err
		}
		<-often.C
	}
}

// expand FROM TO copies a file and fills in the script's variables.
func scriptExpand(ts *testscript.TestScript, _ bool, args []string) {
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(os.Expand(ts.ReadFile(args[0]), ts.Getenv)), 0o600))
}

// found VARIABLE PATTERN puts into a variable what the pattern's group finds in what was printed last.
func scriptFound(ts *testscript.TestScript, _ bool, args []string) {
	found := regexp.MustCompile(args[1]).FindStringSubmatch(ts.ReadFile("stdout"))
	if found == nil {
		ts.Fatalf("%s is not in what was printed", args[1])
	}
	ts.Setenv(args[0], found[1])
}
