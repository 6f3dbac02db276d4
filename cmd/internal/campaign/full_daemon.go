package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/events/broker"
	"github.com/pottrail/pottrail/tracker"
)

const (
	// refusedWithin is how soon a scan must be told that there is no space. Source: the project's notes on reliability, 5.4.
	refusedWithin = time.Second
	// wholeWithin is how soon after space came back all must have gone out. Source: the same, 5.5.
	wholeWithin = time.Minute
)

// filling is a daemon whose disk gets full and free again.
type filling struct {
	p      *process
	chance *rand.Rand
	disk   string

	mu           sync.Mutex
	acknowledged map[tracker.EventID]uint64
	refused      []scan
	slowest      time.Duration // of those that were refused
	serial       int
	wrong        []string
}

func (f *filling) fault(format string, args ...any) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.wrong = append(f.wrong, fmt.Sprintf(format, args...))
}

// onFullDisk runs one daemon while its disk gets full and free again. It must say within a second that there is no space,
// answer what it is asked meanwhile, and go on by itself; so must the stream. The control takes refused scans for
// acknowledged ones.
func onFullDisk(ctx context.Context, o options) (out result, err error) {
	folder := filepath.Join(o.folder, "clinic")
	f := &filling{chance: rand.New(rand.NewPCG(o.seed, 31)), disk: o.folder, acknowledged: map[tracker.EventID]uint64{}}
	if f.p, err = o.startUnder(ctx, nil, folder, reserveOf(f.chance)); err != nil {
		return out, err
	}
	var left []scan // refused and never sent again
	for range o.cycles {
		f.send(ctx, 40, nil)
		if len(f.wrong) > 0 {
			break
		}
		before := len(f.refused)
		filled := make(chan error, 1)
		go func() { filled <- f.fill() }()
		f.send(ctx, 200, nil) // while it gets full: what is recorded then may not find its way onto the stream
		if err := <-filled; err != nil {
			return out, err
		}
		for round := 0; len(f.refused) < before+20 && round < 400 && len(f.wrong) == 0; round++ {
			f.send(ctx, 40, nil)
		}
		if len(f.refused) < before+20 {
			f.fault("a full disk was noticed in %d scans only", len(f.refused)-before)
		}
		f.read(ctx)
		if err := os.Remove(filepath.Join(f.disk, "filler")); err != nil {
			return out, err
		}
		again := f.refused
		f.refused = nil
		left = append(left, again[0])
		f.send(ctx, 0, again[1:])
		if len(f.refused) > 0 {
			f.fault("with space again, %d scans were refused", len(f.refused))
		}
		f.catchUp(ctx)
		if ctx.Err() != nil || len(f.wrong) > 0 {
			break
		}
	}
	if err := errors.Join(f.p.stop(), ctx.Err()); err != nil {
		return out, fmt.Errorf("%w; %s", err, strings.Join(f.wrong, "; "))
	}
	ledger := newKept()
	if err := ledger.reopen(filepath.Join(folder, ledgerFile), true); err != nil {
		return out, err
	}
	onStream, err := streamOf(ctx, filepath.Join(folder, "nats"))
	if err != nil {
		return out, err
	}
	out.Lost, out.Double = compare(ledger.events, onStream)
	out.Lost += ledger.lost(f.acknowledged)
	out.Double += ledger.double
	out.Acknowledged, out.Stored, out.Wrong = len(f.acknowledged), int(ledger.last), strings.Join(f.wrong, "; ")
	for _, s := range left {
		f.acknowledged[tracker.EventID(s.id)] = math.MaxUint64
	}
	out.Control = ledger.lost(f.acknowledged)
	out.Note = fmt.Sprintf("%d MiB; refused in at most %s; %d on the stream, once each; one daemon through all", diskBytes>>20, f.slowest.Round(time.Millisecond), len(onStream))
	return out, nil
}

// reserveOf is how much of the disk the daemon leaves free: nothing in half of the seeds, so that it meets the end itself.
func reserveOf(chance *rand.Rand) string {
	if chance.IntN(2) == 0 {
		return "0"
	}
	return "2097152"
}

// streamOf reads the stream that a daemon left behind.
func streamOf(ctx context.Context, folder string) ([]tracker.EventID, error) {
	server, err := broker.Start(broker.Options{StoreDir: folder, MaxStore: 512 << 20})
	if err != nil {
		return nil, err
	}
	defer server.Stop(context.Background())
	return published(ctx, server)
}

// fill leaves nothing of the disk, or next to nothing.
func (f *filling) fill() error {
	file, err := os.OpenFile(filepath.Join(f.disk, "filler"), os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	block := make([]byte, 4096)
	for err == nil {
		_, err = file.Write(block)
	}
	if !errors.Is(err, syscall.ENOSPC) {
		return errors.Join(err, file.Close())
	}
	at, err := file.Seek(0, io.SeekCurrent)
	if err == nil {
		err = file.Truncate(max(0, at-int64(f.chance.IntN(3)*f.chance.IntN(128<<10))))
	}
	return errors.Join(err, file.Close())
}

// send sends new scans, or some again, with a few clients at once.
func (f *filling) send(ctx context.Context, n int, again []scan) {
	const clients = 4
	for range n {
		f.serial++
		again = append(again, newScan(f.serial))
	}
	var all sync.WaitGroup
	for i := range clients {
		all.Go(func() {
			c := f.p.atSocket()
			defer c.http.CloseIdleConnections()
			for j := i; j < len(again); j += clients {
				f.one(ctx, c, again[j])
			}
		})
	}
	all.Wait()
}

func (f *filling) one(ctx context.Context, c client, s scan) {
	began := time.Now()
	v, err := c.record(ctx, s)
	took := time.Since(began)
	switch {
	case err != nil:
		f.fault("a scan got no answer: %v; %s", err, f.p.log.String())
	case v.OK:
		f.mu.Lock()
		f.acknowledged[tracker.EventID(s.id)] = v.Seq
		f.mu.Unlock()
	case v.Error == nil || v.Error.Code != events.CodeNoSpace || !strings.Contains(v.Error.Error(), "space"):
		f.fault("a scan was refused for another reason: %v", v.Error)
	default:
		f.mu.Lock()
		f.refused, f.slowest = append(f.refused, s), max(f.slowest, took)
		f.mu.Unlock()
		if took > refusedWithin {
			f.fault("a scan was refused after %s", took)
		}
	}
}

// read asks for what is on record while the disk is full.
func (f *filling) read(ctx context.Context) {
	for _, path := range []string{"/v1/case/MBY-26-00001", "/v1/flags", "/v1/events", "/healthz"} {
		began := time.Now()
		if _, err := f.get(ctx, path); err != nil {
			f.fault("with the disk full %s was not answered: %v", path, err)
		}
		if took := time.Since(began); took > 5*refusedWithin {
			f.fault("with the disk full %s took %s", path, took)
		}
	}
}

func (f *filling) get(ctx context.Context, path string) (string, error) {
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://pottrail"+path, nil)
	if err != nil {
		return "", err
	}
	c := f.p.atSocket()
	defer c.http.CloseIdleConnections()
	response, err := c.http.Do(request)
	if err != nil {
		return "", err
	}
	defer func() { _ = response.Body.Close() }()
	text, err := io.ReadAll(response.Body)
	if err == nil && response.StatusCode != http.StatusOK {
		err = fmt.Errorf("status %d: %.300s", response.StatusCode, text)
	}
	return string(text), err
}

// catchUp waits until all that is recorded has gone out.
func (f *filling) catchUp(ctx context.Context) {
	until := time.Now().Add(wholeWithin)
	for {
		text, err := f.get(ctx, "/metrics")
		if err != nil {
			f.fault("%v", err)
			return
		}
		behind := -1
		lines := bufio.NewScanner(strings.NewReader(text))
		for lines.Scan() {
			if n, ok := strings.CutPrefix(lines.Text(), "pottrail_publisher_lag_events "); ok {
				behind, _ = strconv.Atoi(n)
			}
		}
		switch {
		case behind == 0:
			return
		case time.Now().After(until):
			f.fault("a minute after there was space again, %d events had not gone out; %s", behind, f.p.log.String())
			return
		}
		select {
		case <-time.After(50 * time.Millisecond):
		case <-ctx.Done():
			return
		}
	}
}
