package store

import (
	"bytes"
	"cmp"
	"fmt"
	"slices"

	bolt "go.etcd.io/bbolt"
)

// mostRead is about how many bytes one read of the ledger gives, and mostRows how many rows when no limit is set.
const (
	mostRead = 1 << 20
	mostRows = 1000
)

// run is a stretch of the ledger in which one origin's entries stand side by side.
type run struct {
	origin    string
	oseq, seq uint64 // of its first entry
	end       uint64 // seq of its last entry
}

// readRuns lists the stretches in ledger order.
func readRuns(tx *bolt.Tx, last uint64) ([]run, error) {
	var runs []run
	err := tx.Bucket([]byte(inRuns.String())).ForEach(func(key, value []byte) error {
		i := bytes.IndexByte(key, 0)
		if i < 0 || len(key) != i+9 || len(value) != 8 {
			return fmt.Errorf("%w: a stretch of %d and %d bytes", ErrDamaged, len(key), len(value))
		}
		runs = append(runs, run{origin: string(key[:i]), oseq: num64(key[i+1:]), seq: num64(value)})
		return nil
	})
	slices.SortFunc(runs, func(a, b run) int { return cmp.Compare(a.seq, b.seq) })
	for i := range runs {
		runs[i].end = last
		if i+1 < len(runs) {
			runs[i].end = runs[i+1].seq - 1
		}
	}
	return runs, err
}

// lastSeq is the position of the last entry.
func lastSeq(tx *bolt.Tx) uint64 {
	key, _ := tx.Bucket([]byte(inEntries.String())).Cursor().Last()
	return num64(key)
}

// lastOfOrigin is the length of one origin's log.
func lastOfOrigin(tx *bolt.Tx, origin string) (uint64, error) {
	runs, err := readRuns(tx, lastSeq(tx))
	if err != nil {
		return 0, err
	}
	for _, r := range slices.Backward(runs) {
		if r.origin == origin {
			return r.oseq + r.end - r.seq, nil
		}
	}
	return 0, nil
}

// EventsFrom is the ledger from a position on, at most limit entries and about a MiB. A limit of 0 means 1000.
func (l *Ledger) EventsFrom(seq uint64, limit int) ([]Entry, error) {
	var list []Entry
	err := l.view(func(tx *bolt.Tx) error {
		runs, err := readRuns(tx, lastSeq(tx))
		if err != nil {
			return err
		}
		list = readEntries(tx, runs, seq, ^uint64(0), limit)
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("entries from %d: %w", seq, err)
	}
	return list, nil
}

// ByOrigin is one origin's log from a position on, at most limit entries and about a MiB; "" is this node's own. A limit
// of 0 means 1000.
func (l *Ledger) ByOrigin(origin string, from uint64, limit int) ([]Entry, error) {
	if origin == "" {
		origin = l.origin
	}
	var list []Entry
	err := l.view(func(tx *bolt.Tx) error {
		runs, err := readRuns(tx, lastSeq(tx))
		if err != nil {
			return err
		}
		for _, r := range runs {
			last := r.oseq + r.end - r.seq
			if r.origin != origin || last < from {
				continue
			}
			start := max(from, r.oseq)
			list = readEntries(tx, runs, r.seq+start-r.oseq, r.end, limit)
			return nil
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("log of %s from %d: %w", origin, from, err)
	}
	return list, nil
}

// readEntries copies entries out.
func readEntries(tx *bolt.Tx, runs []run, from, until uint64, limit int) []Entry {
	if limit < 1 {
		limit = mostRows
	}
	var list []Entry
	size, at := 0, 0
	c := tx.Bucket([]byte(inEntries.String())).Cursor()
	for key, leaf := c.Seek(be64(from)); key != nil && len(list) < limit && size < mostRead; key, leaf = c.Next() {
		entry := Entry{Seq: num64(key), Leaf: bytes.Clone(leaf)}
		if entry.Seq > until {
			break
		}
		for at < len(runs) && runs[at].end < entry.Seq {
			at++
		}
		if at < len(runs) {
			entry.Origin, entry.OSeq = runs[at].origin, runs[at].oseq+entry.Seq-runs[at].seq
		}
		list, size = append(list, entry), size+len(leaf)
	}
	return list
}
