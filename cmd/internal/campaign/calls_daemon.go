package main

import (
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// lives is what came of daemons to which a call was refused.
type lives struct {
	cycles, struck, ended, acknowledged, stored, lost, double int
	wrong                                                     string
}

// patience is how long a daemon may take to end by itself.
const patience = 20 * time.Second

// daemons starts daemons over one folder, one after the other, to each of which a call about the ledger, or about
// anything, is refused under load. What got no answer is sent to the next with the same ids.
func (r *refused) daemons(n int, chance *rand.Rand) (out lives, err error) {
	folder := filepath.Join(r.o.folder, "clinic")
	s := &sent{acknowledged: map[tracker.EventID]uint64{}, unanswered: map[string]scan{}}
	first, err := r.o.start(r.ctx, folder) // makes the files
	if err != nil {
		return out, err
	}
	if err := first.stop(); err != nil {
		return out, err
	}
	ledger := newKept()
	kinds := append(refusals(), refusal{"write", "ENOSPC", false}, refusal{"write", "EIO", false})
	for i := range n {
		kind := kinds[chance.IntN(len(kinds))]
		about, most := ledgerFile, 4 // of one thread
		if i == 0 {
			kind, most = kinds[0], 1 // one that is sure to come
		} else if kind.call == "write" { // never of any file: Go's own calls among them may not fail
			about, most, kind.ends = writtenFiles()[chance.IntN(2)], 6, false
		} else if chance.IntN(3) == 0 || kind.call == "fsync" {
			about, most, kind.ends = "", 25, false
		}
		nth := 1 + chance.IntN(most)
		out.cycles++
		wrong, err := r.life(folder, s, kind, about, nth, &out)
		if err != nil {
			return out, err
		}
		if err := ledger.reopen(filepath.Join(folder, ledgerFile), true); err != nil {
			wrong = err.Error()
		}
		if wrong != "" {
			out.wrong = fmt.Sprintf("a daemon, %s at call %d of a thread about %s: %s", kind, nth, about, wrong)
			break
		}
	}
	// The last one has no trouble, and hears all that got no answer.
	last, err := r.o.start(r.ctx, folder)
	if err != nil {
		return out, err
	}
	for _, again := range s.unanswered {
		v, err := last.atSocket().record(r.ctx, again)
		if err != nil {
			return out, errors.Join(err, last.stop())
		}
		s.acknowledged[tracker.EventID(again.id)] = v.Seq
	}
	if err := last.stop(); err != nil {
		return out, err
	}
	if err := ledger.reopen(filepath.Join(folder, ledgerFile), true); err != nil {
		return out, err
	}
	out.acknowledged, out.stored, out.lost, out.double = len(s.acknowledged), int(ledger.last), ledger.lost(s.acknowledged), ledger.double
	return out, nil
}

// writtenFiles are files of a data folder that are written by the call write.
func writtenFiles() [2]string {
	return [2]string{"checkpoints.log", "nats/jetstream/$G/streams/TRAIL/msgs/1.blk"}
}

// life is one daemon's. It says what went against the promise.
func (r *refused) life(folder string, s *sent, kind refusal, about string, nth int, out *lives) (wrong string, err error) {
	_ = os.Remove(r.trace) // that of the one before
	more := []string{"-D"} // so that the daemon is our child, and not strace's
	if about != "" {
		more = append(more, "-P", filepath.Join(folder, about))
	}
	p, err := r.o.startUnder(r.ctx, kind.of(nth, r.trace, more...), folder)
	if p == nil {
		return "", err
	}
	if err == nil {
		r.load(p, s)
	}
	hit, readErr := struck(r.trace)
	if readErr != nil {
		return "", readErr
	}
	if hit {
		out.struck++
	}
	ended := make(chan error, 1)
	if err != nil { // it never got ready
		out.ended++
		if !hit {
			return "it did not start: " + err.Error(), nil
		}
		return panicked(p), nil
	}
	go func() { ended <- p.cmd.Wait() }()
	if hit && kind.ends {
		select {
		case err := <-ended:
			out.ended++
			if err == nil {
				return "the daemon ended as if all were well", nil
			}
			return panicked(p), nil
		case <-time.After(patience):
			p.end(ended)
			return "the daemon went on", nil
		case <-r.ctx.Done():
			return "", r.ctx.Err()
		}
	}
	if err := p.end(ended); err != nil {
		out.ended++
		if !hit {
			return "the daemon did not end well: " + err.Error() + ": " + p.log.String(), nil
		}
	}
	return panicked(p), nil
}

// end lets a daemon end in its order, and kills it when it does not.
func (p *process) end(ended chan error) error {
	_ = p.cmd.Process.Signal(syscall.SIGTERM) // it may have ended
	select {
	case err := <-ended:
		return err
	case <-time.After(patience):
		_ = p.cmd.Process.Kill()
		return errors.Join(errors.New("it did not stop when it was told to"), <-ended)
	}
}

// load sends what got no answer, and more, until the daemon has had enough.
func (r *refused) load(p *process, s *sent) {
	const clients, each = 4, 12
	again := slices.Collect(maps.Values(s.unanswered))
	var all sync.WaitGroup
	for i := range clients {
		mine := slices.Clone(again[i*len(again)/clients : (i+1)*len(again)/clients])
		for range each {
			mine = append(mine, newScan(1+i))
		}
		all.Go(func() {
			c := p.atSocket()
			defer c.http.CloseIdleConnections()
			for _, next := range mine {
				v, err := c.record(r.ctx, next)
				s.mu.Lock()
				if err == nil && v.OK {
					s.acknowledged[tracker.EventID(next.id)] = v.Seq
					delete(s.unanswered, next.id)
				} else { // no answer, or no space
					s.unanswered[next.id] = next
				}
				s.mu.Unlock()
			}
		})
	}
	all.Wait()
}

// panicked says that a daemon panicked: it must say in words what is wrong.
func panicked(p *process) string {
	if text := p.log.String(); slices.ContainsFunc([]string{"panic: ", "fatal error: ", "goroutine "}, func(sign string) bool { return strings.Contains(text, sign) }) {
		return "the daemon panicked: " + text
	}
	return ""
}
