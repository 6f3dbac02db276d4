package store

import (
	"bytes"
	"fmt"
	"maps"
	"slices"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/tracker"
)

// Due is when something must be judged again; ok is false when nothing waits. The past means now.
func (l *Ledger) Due() (at time.Time, ok bool, err error) {
	if len(l.current().sweeps) > 0 {
		return time.Unix(0, 0).UTC(), true, nil
	}
	err = l.view(func(tx *bolt.Tx) error {
		key, _ := tx.Bucket([]byte(inDue.String())).Cursor().First()
		if key == nil {
			return nil
		}
		if at, ok = readInstant(key); !ok {
			return fmt.Errorf("%w: a key of %d bytes in the due index", ErrDamaged, len(key))
		}
		return nil
	})
	return at, ok, err
}

// Sweeping reports whether what is open is being judged again after a change of rules. Whoever tells of changes of flags
// waits until that is over, so that they come together.
func (l *Ledger) Sweeping() bool { return len(l.current().sweeps) > 0 }

// Recheck judges what is due at now, at most limit cases and bags, in one transaction: what waited for its time, and
// what is open and was judged by another protocol or an earlier fold.
func (l *Ledger) Recheck(now time.Time, limit int) (Rechecked, error) {
	var out Rechecked
	if limit < 1 {
		limit = 1
	}
	err := l.change(now, func(d *draft) (err error) {
		out, err = d.recheck(limit)
		return err
	})
	if err != nil {
		return Rechecked{}, fmt.Errorf("judge again: %w", err)
	}
	return out, nil
}

func (d *draft) recheck(limit int) (Rechecked, error) {
	var out Rechecked
	c := d.bucket(inDue).Cursor()
	for key, _ := c.First(); key != nil; key, _ = c.Next() {
		at, ok := readInstant(key)
		if !ok {
			return out, fmt.Errorf("%w: a key of %d bytes in the due index", ErrDamaged, len(key))
		}
		if at.After(d.now) {
			break
		}
		if out.Judged >= limit {
			out.More = true
			break
		}
		n := tracker.Name(key[instantSize:])
		if moved, err := d.moved(n); err != nil || moved {
			if err != nil {
				return out, err
			}
			continue // the batch on its way has judged it
		}
		if _, err := d.refresh(n, nil); err != nil {
			return out, err
		}
		out.Judged++
	}
	for _, clinic := range slices.Sorted(maps.Keys(d.sweeps)) {
		if err := d.sweepOn(clinic, limit, &out); err != nil {
			return out, err
		}
	}
	out.Changes = d.rows
	return out, nil
}

// moved reports whether a thing in the due index is not due any more.
func (d *draft) moved(n tracker.Name) (bool, error) {
	state, err := d.judged(n)
	if err != nil || state == nil {
		return true, err
	}
	if state.version != foldVersion {
		return false, nil
	}
	wake := state.Findings.Wake
	return wake.IsZero() || wake.After(d.now), nil
}

// sweepOn goes on with a sweep, from where it was, over the open things.
func (d *draft) sweepOn(clinic string, limit int, out *Rechecked) error {
	const looked = 20 // how many may be looked at for each that may be judged
	prefix := []byte(clinic)
	if clinic == everyClinic {
		prefix = nil
	}
	start := prefix
	last := d.sweeps[clinic]
	if last != "" {
		start = append([]byte(last), 0)
	}
	seen := 0
	c := d.bucket(inOpen).Cursor()
	key, _ := c.Seek(start)
	for ; key != nil && bytes.HasPrefix(key, prefix); key, _ = c.Next() {
		if out.Judged >= limit || seen >= limit*looked {
			out.More = true
			break
		}
		n := tracker.Name(key)
		last = string(key)
		seen++
		state, err := d.judged(n)
		if err != nil {
			return err
		}
		stale := state == nil || clinic == everyClinic || state.stale(d.l.lawOf(d.laws, n.Clinic()).mark, d.now)
		if _, done := d.things[n]; done || !stale {
			continue
		}
		if _, err := d.refresh(n, nil); err != nil {
			return err
		}
		out.Judged++
	}
	if key == nil || !bytes.HasPrefix(key, prefix) {
		if err := d.sweepPending(clinic, out); err != nil {
			return err
		}
		d.sweeps = withoutSweep(d.sweeps, clinic)
		d.drop(inSweeps, []byte(clinic))
		return nil
	}
	d.sweeps = withSweep(d.sweeps, clinic, last)
	d.put(inSweeps, []byte(clinic), withSum(inSweeps, []byte(clinic), []byte(last)))
	return nil
}

// sweepPending judges again what the batch on its way has made: the index of open things does not show it yet.
func (d *draft) sweepPending(clinic string, out *Rechecked) error {
	if d.before == nil {
		return nil
	}
	for _, n := range slices.Sorted(maps.Keys(d.before.things)) {
		if clinic != everyClinic && n.Clinic() != clinic || d.things[n] != nil {
			continue
		}
		state := d.before.things[n].state
		if state.settled() || clinic != everyClinic && !state.stale(d.l.lawOf(d.laws, n.Clinic()).mark, d.now) {
			continue
		}
		if _, err := d.refresh(n, nil); err != nil {
			return err
		}
		out.Judged++
	}
	return nil
}
