package main

import (
	"context"
	"fmt"
	"maps"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// sent is what the clients of one life of a daemon know.
type sent struct {
	mu           sync.Mutex
	acknowledged map[tracker.EventID]uint64
	unanswered   map[string]scan
	refused      int
}

// send records one scan after the other until the daemon is gone; first those that got no answer before.
func (s *sent) send(ctx context.Context, c client, serial int, again []scan) {
	defer c.http.CloseIdleConnections()
	for {
		next := newScan(serial)
		if len(again) > 0 {
			next, again = again[0], again[1:]
		}
		v, err := c.record(ctx, next)
		s.mu.Lock()
		switch {
		case err != nil:
			s.unanswered[next.id] = next
			for _, left := range again {
				s.unanswered[left.id] = left
			}
		case v.OK:
			s.acknowledged[tracker.EventID(next.id)] = v.Seq
			delete(s.unanswered, next.id)
		default:
			s.refused++
		}
		s.mu.Unlock()
		if err != nil {
			return
		}
	}
}

// kills kills a daemon at a random instant under load, again and again. What got no answer is sent again with the same id.
// The control takes what was sent for acknowledged: some of that is not there after a kill.
func kills(ctx context.Context, o options) (result, error) {
	const clients = 8
	r := rand.New(rand.NewPCG(o.seed, 11))
	folder, ledger := filepath.Join(o.folder, "clinic"), newKept()
	s := &sent{acknowledged: map[tracker.EventID]uint64{}, unanswered: map[string]scan{}}
	var out result
	var ready []time.Duration
	resent := 0
	for cycle := range o.cycles {
		p, err := o.start(ctx, folder)
		if err != nil {
			return out, err
		}
		ready = append(ready, p.took)
		again := slices.Collect(maps.Values(s.unanswered))
		clear(s.unanswered)
		resent += len(again)
		var all sync.WaitGroup
		for i := range clients {
			mine := again[i*len(again)/clients : (i+1)*len(again)/clients]
			all.Go(func() { s.send(ctx, p.atSocket(), 1+i, mine) })
		}
		select {
		case <-time.After(time.Duration(30+r.IntN(400)) * time.Millisecond):
		case <-ctx.Done():
		}
		p.kill()
		all.Wait()
		if err := ctx.Err(); err != nil {
			return out, err
		}
		if err := ledger.reopen(filepath.Join(folder, "ledger.db"), cycle == o.cycles-1); err != nil {
			return out, fmt.Errorf("after kill %d: %w", cycle+1, err)
		}
		for id := range s.unanswered {
			if ledger.seqs[tracker.EventID(id)] == 0 {
				out.Control++
			}
		}
		if out.Lost = ledger.lost(s.acknowledged); out.Lost > 0 {
			break
		}
	}
	slices.Sort(ready)
	out.Acknowledged, out.Stored, out.Double = len(s.acknowledged), int(ledger.last), ledger.double
	out.Note = fmt.Sprintf("%d clients; %d sent again; ready after a kill in %s, 99th percentile %s", clients, resent,
		ready[len(ready)/2].Round(time.Millisecond), ready[len(ready)*99/100].Round(time.Millisecond))
	if s.refused > 0 {
		out.Wrong = fmt.Sprintf("%d scans were refused", s.refused)
	}
	return out, nil
}
