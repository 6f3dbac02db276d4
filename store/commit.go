package store

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/boltfile"
)

// put is one change of one key.
type put struct {
	in         bucket
	key, value []byte
	gone       bool
}

// change prepares a batch and commits it. While it is on its way to the disk another call may prepare the next: that one
// sees what this one changed, and is prepared again if this one comes to nothing. So fn may run more than once, and must
// have no effect but on the draft. A zero now means the instant of the last judgement.
func (l *Ledger) change(now time.Time, fn func(d *draft) error) error {
	l.slots <- struct{}{}
	defer func() { <-l.slots }()
	for {
		d, err := l.prepare(now, fn)
		if err != nil {
			return err
		}
		if again, err := l.finish(d); !again {
			return err
		}
	}
}

// prepare makes a draft on top of what is committed and what is pending.
func (l *Ledger) prepare(now time.Time, fn func(d *draft) error) (d *draft, err error) {
	l.prep.Lock()
	defer l.prep.Unlock()
	l.mu.Lock()
	d = &draft{l: l, now: now.Round(0).UTC(), epoch: l.epoch, before: l.pending, state: l.state, after: l.tail, done: make(chan struct{})}
	if d.before != nil {
		d.state = d.before.state
	}
	if now.IsZero() {
		d.now = d.state.now
	}
	err = l.refusesLocked()
	l.mu.Unlock()
	if err != nil {
		return nil, err
	}
	if l.cacheEpoch != d.epoch {
		l.cache.purge()
		l.cacheEpoch = d.epoch
	}
	back := boltfile.FaultsPanic()
	defer back()
	defer boltfile.Guard(func(fault any) { d, err = nil, fmt.Errorf("%w: %v", ErrDamaged, fault) })
	// What is pending was noted first: if it is committed meanwhile, the transaction shows the same.
	tx, err := l.db.Begin(false)
	if err != nil {
		return nil, fmt.Errorf("read ledger: %w", err)
	}
	d.tx = tx
	made := d // d itself is nil when this fails, and its transaction may be exchanged meanwhile
	defer func() { _ = made.tx.Rollback() }()
	d.start()
	if err := fn(d); err != nil {
		return nil, err
	}
	if err := d.complete(); err != nil {
		return nil, err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if len(d.puts) > 0 && l.epoch == d.epoch { // else it will be prepared again
		l.pending, l.tail = d, d.done
		for _, t := range d.things {
			l.cache.put(t)
		}
	}
	return d, nil
}

func (l *Ledger) refusesLocked() error {
	switch {
	case l.closed:
		return ErrClosed
	case l.options.ReadOnly:
		return ErrReadOnly
	case l.fatal != nil:
		return l.fatal
	case l.half:
		return ErrHalfBuilt
	}
	return nil
}

// finish waits its turn and commits; again means that the draft stood on one that came to nothing.
func (l *Ledger) finish(d *draft) (again bool, err error) {
	defer l.pass(d)
	<-d.after
	l.mu.Lock()
	again, err = l.epoch != d.epoch, l.fatal
	l.mu.Unlock()
	if err != nil || again {
		return again && err == nil, err
	}
	if len(d.puts) == 0 {
		l.settle(d, 0)
		return false, nil
	}
	took, err := l.write(d)
	if err == nil {
		l.settle(d, took)
		return false, nil
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.epoch++
	l.pending = nil
	if errors.Is(err, ErrNoSpace) {
		l.stats.NoSpace++
	} else {
		l.fatal = err
	}
	return false, err
}

// pass lets the next batch have the disk. With one waiting for it, that one runs at once, before all those who now get
// their verdicts: the disk is what everybody waits for.
func (l *Ledger) pass(d *draft) {
	l.mu.Lock()
	waiting := l.tail != d.done
	l.mu.Unlock()
	close(d.done)
	if waiting {
		runtime.Gosched()
	}
}

// settle makes a committed draft the state of things.
func (l *Ledger) settle(d *draft, took time.Duration) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.stats.Recorded += d.count.recorded
	l.stats.Repeats += d.count.repeats
	l.stats.Refused += d.count.refused
	l.stats.Judged += d.count.judged
	if len(d.puts) == 0 {
		return
	}
	l.stats.Commits++
	l.stats.Syncing += took
	l.state = d.state
	if l.pending == d {
		l.pending = nil
	}
	close(l.changed)
	l.changed = make(chan struct{})
}

// write commits the puts of a draft.
func (l *Ledger) write(d *draft) (took time.Duration, err error) {
	if err := l.enough(d); err != nil {
		return 0, err
	}
	if l.options.Tap != nil {
		tapped := make([]Put, len(d.puts))
		for i, p := range d.puts {
			tapped[i] = Put{Bucket: p.in.String(), Key: p.key, Value: p.value, Delete: p.gone}
		}
		l.options.Tap(tapped)
	}
	start := time.Now() // of the machine: a measure of the disk, and of nothing else
	err = l.commit(d.puts)
	return time.Since(start), err
}

// enough says ErrNoSpace while the disk's reserve is touched.
func (l *Ledger) enough(d *draft) error {
	if l.options.Reserve <= 0 {
		return nil
	}
	free, ok := l.free()
	if !ok {
		return nil
	}
	for _, p := range d.puts {
		free -= int64(len(p.key) + len(p.value))
	}
	if free < l.options.Reserve {
		return fmt.Errorf("%w: %d MiB are free on its disk, %d MiB are kept in reserve", ErrNoSpace, free>>20, l.options.Reserve>>20)
	}
	return nil
}

// commit writes puts in one transaction. The error is ErrNoSpace when it is certain that nothing was written for want
// of space, else ErrFatal.
func (l *Ledger) commit(puts []put) error {
	err := boltfile.Update(l.db, func(tx *bolt.Tx) error { return apply(tx, puts) })
	switch {
	case err == nil:
		return nil
	case errors.Is(err, boltfile.ErrNoSpace):
		return fmt.Errorf("%w: %w", ErrNoSpace, err)
	case errors.Is(err, boltfile.ErrStuck):
		l.mu.Lock()
		l.stuck = true // bbolt may hold its locks for ever
		l.mu.Unlock()
	}
	return fmt.Errorf("%w: %w", ErrFatal, err)
}

// apply makes the changes; puts of one bucket stand together.
func apply(tx *bolt.Tx, puts []put) error {
	var b *bolt.Bucket
	last := bucketCount
	for i := range puts {
		p := &puts[i]
		if p.in != last {
			if b = tx.Bucket([]byte(p.in.String())); b == nil && p.in.optional() {
				var err error
				if b, err = tx.CreateBucket([]byte(p.in.String())); err != nil {
					return fmt.Errorf("bucket %s: %w", p.in, err)
				}
			}
			if b == nil {
				return fmt.Errorf("%w: bucket %s is missing", ErrDamaged, p.in)
			}
			if p.in.inOrder() {
				b.FillPercent = 0.95
			}
			last = p.in
		}
		var err error
		if p.gone {
			err = b.Delete(p.key)
		} else {
			err = b.Put(p.key, p.value)
		}
		if err != nil {
			return fmt.Errorf("bucket %s: %w", p.in, err)
		}
	}
	return nil
}

// sortPuts puts changes in the order of the file, so that each leaf is visited once.
func sortPuts(puts []put) {
	slices.SortStableFunc(puts, func(a, b put) int {
		return cmp.Or(cmp.Compare(a.in, b.in), bytes.Compare(a.key, b.key))
	})
}
