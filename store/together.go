package store

import (
	"errors"
	"fmt"
	"runtime"
	"sync"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/boltfile"
	"github.com/pottrail/pottrail/tracker"
)

// decodeAll decodes entries on all cores; the first must have position first, and none may be missing.
func decodeAll(page []Entry, first uint64) ([]*tracker.Event, error) {
	list := make([]*tracker.Event, len(page))
	err := share(len(page), func(i int) error {
		if page[i].Seq != first+uint64(i) {
			return fmt.Errorf("%w: entry %d is missing", ErrDamaged, first+uint64(i))
		}
		e, err := page[i].Event()
		if err != nil {
			return fmt.Errorf("%w: entry %d: %w", ErrDamaged, page[i].Seq, err)
		}
		list[i] = e
		return nil
	})
	return list, err
}

// judgeAll judges cases and bags on all cores. Kept are events by seq-1, to save decoding; it may be short.
func (l *Ledger) judgeAll(names []tracker.Name, laws map[string]law, now time.Time, kept []*tracker.Event) ([]*judged, error) {
	out := make([]*judged, len(names))
	err := share(len(names), func(i int) error {
		n := names[i]
		made := l.lawOf(laws, n.Clinic())
		var gathered []*tracker.Event
		err := l.view(func(tx *bolt.Tx) (err error) {
			gathered, err = tracker.Gather(n, func(n tracker.Name) ([]*tracker.Event, error) { return readConcernsKept(tx, n, kept) })
			return err
		})
		if err != nil {
			return err
		}
		j := tracker.Judge(n, gathered, made.rules, now)
		if wake := j.Findings.Wake; !wake.IsZero() && !wake.After(now) {
			j.Findings.Wake = now.Add(time.Second)
		}
		out[i], err = encodeJudged(made.mark, j)
		return err
	})
	return out, err
}

// share runs fn for 0 to n-1 on all cores and gives the first error.
func share(n int, fn func(i int) error) error {
	var (
		running sync.WaitGroup
		lock    sync.Mutex
		next    int
		failed  error
	)
	for range min(n, runtime.GOMAXPROCS(0)) {
		running.Go(func() {
			back := boltfile.FaultsPanic()
			defer back()
			defer boltfile.Guard(func(fault any) {
				lock.Lock()
				defer lock.Unlock()
				failed = errors.Join(failed, fmt.Errorf("%w: %v", ErrDamaged, fault))
			})
			for {
				lock.Lock()
				i := next
				next++
				stop := failed != nil || i >= n
				lock.Unlock()
				if stop {
					return
				}
				if err := fn(i); err != nil {
					lock.Lock()
					failed = errors.Join(failed, err)
					lock.Unlock()
				}
			}
		})
	}
	running.Wait()
	return failed
}
