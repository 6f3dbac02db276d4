package main

import (
	"errors"
	"fmt"
	"time"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/tracker"
)

// kept is what has been read of a ledger so far.
type kept struct {
	seqs   map[tracker.EventID]uint64
	events []*tracker.Event
	last   uint64
	double int
}

func newKept() *kept { return &kept{seqs: map[tracker.EventID]uint64{}} }

// readOn reads what was recorded since. An entry that is missing or cannot be read is an error.
func (k *kept) readOn(l *store.Ledger) error {
	for {
		page, err := l.EventsFrom(k.last+1, 0)
		if err != nil || len(page) == 0 {
			return err
		}
		for _, entry := range page {
			if entry.Seq != k.last+1 {
				return fmt.Errorf("entry %d is missing", k.last+1)
			}
			e, err := entry.Event()
			if err != nil {
				return fmt.Errorf("entry %d: %w", entry.Seq, err)
			}
			if _, twice := k.seqs[e.ID]; twice {
				k.double++
			}
			k.seqs[e.ID], k.last, k.events = entry.Seq, entry.Seq, append(k.events, e)
		}
	}
}

// reopen opens a ledger that a process left behind, reads on, and closes it; whole has all of it checked.
func (k *kept) reopen(path string, whole bool) error {
	l, err := store.Open(path, store.Options{Timeout: 10 * time.Second})
	if err != nil {
		return err
	}
	err = k.readOn(l)
	if whole {
		err = errors.Join(err, l.Check())
	}
	return errors.Join(err, l.Close())
}

// lost counts what was acknowledged and is not there, or not where it was said to be.
func (k *kept) lost(acknowledged map[tracker.EventID]uint64) (n int) {
	for id, seq := range acknowledged {
		if k.seqs[id] != seq {
			n++
		}
	}
	return n
}
