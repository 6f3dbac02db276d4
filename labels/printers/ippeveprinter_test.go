//go:build linux

package printers_test

import (
	"bytes"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/labels/ipp"
	"github.com/pottrail/pottrail/labels/printers"
	"github.com/pottrail/pottrail/labels/wire"
	"github.com/pottrail/pottrail/testdata/outside"
)

// everywhere is a printer that we did not write: ippeveprinter, of the printing system that many machines have.
type everywhere struct {
	t       *testing.T
	address string
	spool   string // the folder in which it keeps what it got
	gate    string // a FIFO: a job ends when somebody writes a line to it. Empty: jobs end at once
	process *exec.Cmd
	ended   chan struct{}
}

const busConfig = `<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig>
  <type>labels</type>
  <listen>unix:path=%s</listen>
  <auth>EXTERNAL</auth>
  <policy context="default">
    <allow own="*"/>
    <allow send_destination="*"/>
    <allow receive_sender="*"/>
    <allow receive_type="method_return"/>
    <allow receive_type="error"/>
    <allow receive_type="signal"/>
  </policy>
</busconfig>
`

// labelStock tells the printer that it is loaded with labels of 50.8 × 25.4 mm, at 300 dots an inch.
const labelStock = `ATTR collection media-size-supported {
  MEMBER integer x-dimension 5080
  MEMBER integer y-dimension 2540
}
ATTR resolution printer-resolution-supported 300dpi
ATTR resolution pwg-raster-document-resolution-supported 300dpi
`

// run starts a program from outside that ends with the test, and returns what it says.
func run(t *testing.T, environment []string, program string, arguments ...string) (cmd *exec.Cmd, ended chan struct{}, said *lines) {
	t.Helper()
	cmd, ended, said = exec.Command(outside.Need(t, program), arguments...), make(chan struct{}), new(lines)
	cmd.Env = append(os.Environ(), environment...)
	cmd.Stdout, cmd.Stderr = said, said
	cmd.WaitDelay = time.Second
	require.NoError(t, cmd.Start())
	go func() {
		_ = cmd.Wait()
		close(ended)
	}()
	t.Cleanup(func() {
		_ = cmd.Process.Kill()
		<-ended
		if t.Failed() {
			t.Logf("%s said:\n%s", program, said)
		}
	})
	return cmd, ended, said
}

// lines keeps what a program says.
type lines struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lines) Write(b []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(b)
}

func (l *lines) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// answers waits until something listens.
func answers(t *testing.T, network, address string, ended chan struct{}) (up bool) {
	t.Helper()
	require.Eventually(t, func() bool {
		select {
		case <-ended:
			return true
		default:
		}
		conn, err := net.Dial(network, address)
		if err == nil {
			up = true
			_ = conn.Close()
		}
		return up
	}, 20*time.Second, 20*time.Millisecond)
	return up
}

// everywherePrinter starts one. It needs a message bus, if only to find that nobody announces printers on it.
func everywherePrinter(t *testing.T, gated bool, stock string) *everywhere {
	t.Helper()
	folder := t.TempDir()
	socket, config := filepath.Join(folder, "bus"), filepath.Join(folder, "bus.conf")
	require.Less(t, len(socket), 108, "a socket's name has no more room")
	require.NoError(t, os.WriteFile(config, fmt.Appendf(nil, busConfig, socket), 0o600))
	_, busEnded, _ := run(t, nil, "dbus-daemon", "--config-file="+config, "--nofork", "--nopidfile")
	require.True(t, answers(t, "unix", socket, busEnded))

	p := &everywhere{t: t, spool: filepath.Join(folder, "spool")}
	require.NoError(t, os.Mkdir(p.spool, 0o700))
	script := "#!/bin/sh\nexit 0\n"
	if gated {
		p.gate = filepath.Join(folder, "gate")
		require.NoError(t, unix.Mkfifo(p.gate, 0o600))
		script = "#!/bin/sh\nread go <'" + p.gate + "'\n"
		t.Cleanup(func() { // after the printer has been ended: its command must not stay behind
			if f, err := os.OpenFile(p.gate, os.O_WRONLY|unix.O_NONBLOCK, 0); err == nil {
				_ = f.Close()
			}
		})
	}
	command := filepath.Join(folder, "print.sh")
	require.NoError(t, os.WriteFile(command, []byte(script), 0o700))
	what := []string{"-f", "image/pwg-raster,application/pdf"}
	if stock != "" { // not both: it takes one or the other
		what = []string{"-a", filepath.Join(folder, "stock.conf")}
		require.NoError(t, os.WriteFile(what[1], []byte(stock), 0o600))
	}
	for range 5 { // somebody else may get the port first
		p.address = nobody(t)
		_, port, _ := net.SplitHostPort(p.address)
		var said *lines
		p.process, p.ended, said = run(t, []string{"DBUS_SYSTEM_BUS_ADDRESS=unix:path=" + socket}, "ippeveprinter",
			"-r", "off", "-n", "localhost", "-p", port, "-d", p.spool, "-k", "-c", command, what[0], what[1], "Marram Bay")
		if answers(t, "tcp", p.address, p.ended) {
			return p
		}
		t.Logf("port %s: %s", port, said)
	}
	t.Fatal("ippeveprinter does not start")
	return nil
}

func (p *everywhere) sender(at string) printers.Sender {
	return open(p.t, printers.WayIPP, "ipp://"+at+"/ipp/print")
}

// kept returns what the printer got under a token, a file a job.
func (p *everywhere) kept(token string) (files [][]byte) {
	p.t.Helper()
	entries, err := os.ReadDir(p.spool)
	require.NoError(p.t, err)
	for _, e := range entries {
		if strings.Contains(e.Name(), token) && !strings.HasSuffix(e.Name(), ".prn") { // that is what its command said
			b, err := os.ReadFile(filepath.Join(p.spool, e.Name()))
			require.NoError(p.t, err)
			files = append(files, b)
		}
	}
	return files
}

// open lets the job that waits at the gate end.
func (p *everywhere) open() {
	p.t.Helper()
	require.Eventually(p.t, func() bool {
		f, err := os.OpenFile(p.gate, os.O_WRONLY|unix.O_NONBLOCK, 0)
		if err != nil {
			return false
		}
		_, err = f.WriteString("go\n")
		return err == nil && f.Close() == nil
	}, 10*time.Second, 10*time.Millisecond)
}

// drawn is a calibration label in a printer language.
func drawn(t *testing.T, l wire.Language, token string) printers.Job {
	t.Helper()
	d, err := labels.NewDrawer()
	require.NoError(t, err)
	p, err := d.Calibration(50.8, 25.4, labels.Options{DotsPerMM: 12})
	require.NoError(t, err)
	b, err := wire.Encode(l, p, wire.Setup{Created: time.Date(2026, 3, 6, 9, 0, 0, 0, time.UTC)})
	require.NoError(t, err)
	return printers.Job{Token: token, MediaType: l.MediaType(), Extension: l.Extension(), Body: b, WidthMM: 50.8, HeightMM: 25.4}
}

// TestOutsidePrinterGetsEveryByte compares what the printer kept with what was sent.
func TestOutsidePrinterGetsEveryByte(t *testing.T) {
	p := everywherePrinter(t, false, "")
	nothingRuns(t)
	s := p.sender(p.address)
	says, err := s.Look(within(t, 10*time.Second))
	require.NoError(t, err)
	require.Contains(t, says, "is ready")
	for _, l := range []wire.Language{wire.PWG, wire.PDF} {
		t.Run(string(l), func(t *testing.T) {
			j := drawn(t, l, "every-byte-"+string(l))
			require.NoError(t, s.Send(within(t, 30*time.Second), j))
			files := p.kept(j.Token)
			require.Len(t, files, 1)
			require.True(t, bytes.Equal(j.Body, files[0]), "%d bytes sent, %d kept", len(j.Body), len(files[0]))
		})
	}
	t.Run("a format that it does not take", func(t *testing.T) {
		j := drawn(t, wire.PNG, "no-such-format")
		err := s.Send(within(t, 30*time.Second), j)
		oneOutcome(t, err, printers.ErrRefused)
		require.ErrorContains(t, err, "does not take image/png")
		require.Empty(t, p.kept(j.Token))
	})
}

// TestOutsidePrinterWithLabelStock knows the label's size, and is told it.
func TestOutsidePrinterWithLabelStock(t *testing.T) {
	p := everywherePrinter(t, false, labelStock)
	nothingRuns(t)
	j := drawn(t, wire.PWG, "on-its-stock")
	c := newCutter(t, p.address)
	require.NoError(t, p.sender(c.address).Send(within(t, 30*time.Second), j))
	files := p.kept(j.Token)
	require.Len(t, files, 1)
	require.True(t, bytes.Equal(j.Body, files[0]))
	_, body, _ := bytes.Cut(c.last(t), []byte("\r\n\r\n"))
	m, _, err := ipp.Decode(body)
	require.NoError(t, err)
	require.Equal(t, ipp.MediaSize(50.8, 25.4), m.First(ipp.JobGroup).Get("media-col"))
}

// TestOutsidePrinterIsReadToTheLastByte asks for all that the printer says of itself: collections in collections,
// resolutions, ranges, instants, names in languages. What is read is written again as the same bytes.
func TestOutsidePrinterIsReadToTheLastByte(t *testing.T) {
	for name, stock := range map[string]string{"as it comes": "", "with label stock": labelStock} {
		t.Run(name, func(t *testing.T) {
			p := everywherePrinter(t, false, stock)
			asker := ipp.Asker{Version: ipp.Version20, Printer: "ipp://" + p.address + "/ipp/print", User: "pottrail"}
			question, err := asker.GetPrinterAttributes(1, "all", "media-col-database").Encode()
			require.NoError(t, err)
			r, err := http.Post("http://"+p.address+"/ipp/print", "application/ipp", bytes.NewReader(question))
			require.NoError(t, err)
			defer r.Body.Close()
			b, err := io.ReadAll(r.Body)
			require.NoError(t, err)
			m, rest, err := ipp.Decode(b)
			require.NoError(t, err)
			require.Empty(t, rest)
			again, err := m.Encode()
			require.NoError(t, err)
			require.True(t, bytes.Equal(b, again), "%d bytes", len(b))
			kinds := map[string]bool{}
			tell(m.First(ipp.PrinterGroup).Attributes, kinds)
			for _, kind := range []string{"Collection", "Resolution", "Range", "DateTime", "Boolean", "Enum", "Keyword", "URI", "Charset", "NaturalLanguage", "MIMEMediaType", "Text", "Name"} {
				require.Contains(t, kinds, "ipp."+kind)
			}
			require.NotContains(t, kinds, "ipp.Opaque")
		})
	}
}

// tell notes which types of values there are.
func tell(attributes []ipp.Attribute, kinds map[string]bool) {
	for _, a := range attributes {
		for _, v := range a.Values {
			kinds[fmt.Sprintf("%T", v)] = true
			if c, nested := v.(ipp.Collection); nested {
				tell(c, kinds)
			}
		}
	}
}

// TestOutsidePrinterThatIsBusy has a job that does not end: the next label is not sent, and goes later.
func TestOutsidePrinterThatIsBusy(t *testing.T) {
	p := everywherePrinter(t, true, "")
	nothingRuns(t)
	s := p.sender(p.address)
	first, second := drawn(t, wire.PWG, "first"), drawn(t, wire.PDF, "second")
	sent := make(chan error, 1)
	go func() { sent <- s.Send(within(t, 60*time.Second), first) }()
	require.Eventually(t, func() bool {
		says, err := s.Look(within(t, 10*time.Second))
		return err == nil && strings.Contains(says, "is printing")
	}, 20*time.Second, 20*time.Millisecond)

	err := s.Send(within(t, 30*time.Second), second)
	oneOutcome(t, err, printers.ErrNotSent)
	require.ErrorContains(t, err, "busy")
	require.Empty(t, p.kept(second.Token))

	p.open()
	require.NoError(t, <-sent)
	go func() { sent <- s.Send(within(t, 60*time.Second), second) }()
	p.open()
	require.NoError(t, <-sent)
	for _, j := range []printers.Job{first, second} {
		files := p.kept(j.Token)
		require.Len(t, files, 1)
		require.True(t, bytes.Equal(j.Body, files[0]))
	}
}

// TestOutsidePrinterThatDies is killed while it has a job.
func TestOutsidePrinterThatDies(t *testing.T) {
	p := everywherePrinter(t, true, "")
	nothingRuns(t)
	s, j := p.sender(p.address), drawn(t, wire.PWG, "widow")
	sent := make(chan error, 1)
	go func() { sent <- s.Send(within(t, 3*time.Second), j) }()
	require.Eventually(t, func() bool {
		says, err := s.Look(within(t, 10*time.Second))
		return err == nil && strings.Contains(says, "is printing")
	}, 20*time.Second, 20*time.Millisecond)
	require.NoError(t, p.process.Process.Kill())
	err := <-sent
	oneOutcome(t, err, printers.ErrUnknown)
	require.ErrorContains(t, err, "look ", "whether it died before its answer or after")
	<-p.ended
	oneOutcome(t, s.Send(within(t, 10*time.Second), drawn(t, wire.PWG, "later")), printers.ErrNotSent)
}

// TestOutsidePrinterCutOff cuts the connection at many places, and treats each label as the queue does: what is not sent
// is tried again, what is not known is left alone. No label is ever there twice, and none is called sent that is not
// there whole.
func TestOutsidePrinterCutOff(t *testing.T) {
	p := everywherePrinter(t, false, "")
	nothingRuns(t)
	c := newCutter(t, p.address)
	s := p.sender(c.address)
	whole := drawn(t, wire.PWG, "cut-whole-0")
	require.NoError(t, s.Send(within(t, 30*time.Second), whole))
	size := int64(len(c.last(t)))
	first := size - int64(len(whole.Body))
	outcomes := map[string]int{}
	for i, n := range []int64{0, 1, first / 2, first, first + 1, first + 1796, size / 2, size - 1, size} {
		for k, how := range []string{"orderly", "reset", "swallowed"} {
			if how == "swallowed" && n >= first && n < size {
				continue // this printer calls done what it got: see [printers.Sender] and printServer.Send
			}
			t.Run(fmt.Sprintf("%d of %d, %s", n, size, how), func(t *testing.T) {
				j := whole
				j.Token = fmt.Sprintf("cut-%02d-%d-aa", i, k)
				c.n.Store(n)
				c.reset.Store(how == "reset")
				c.swallow.Store(how == "swallowed")
				err := s.Send(within(t, 30*time.Second), j)
				word := "sent"
				switch {
				case is(err, printers.ErrNotSent):
					word = "not sent, then sent"
					require.Empty(t, p.kept(j.Token))
					c.n.Store(-1)
					require.NoError(t, s.Send(within(t, 30*time.Second), j))
				case err != nil:
					word = "not known"
					oneOutcome(t, err, printers.ErrUnknown)
				}
				outcomes[how+": "+word]++
				there := 0
				for _, b := range p.kept(j.Token) {
					if bytes.Equal(b, j.Body) {
						there++
					}
				}
				require.LessOrEqual(t, there, 1, "never twice")
				if word != "not known" {
					require.Equal(t, 1, there, "sent means that it is there")
				}
			})
		}
	}
	t.Log(outcomes)
}
