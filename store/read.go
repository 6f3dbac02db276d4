package store

import (
	"bytes"
	"fmt"
	"iter"
	"slices"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/tracker"
)

// Snapshot is what was last judged of the case or bag that a name belongs to; ok is false when nothing is known of it.
func (l *Ledger) Snapshot(name tracker.Name) (s Snapshot, ok bool, err error) {
	n := tracker.Watched(name)
	err = l.view(func(tx *bolt.Tx) error {
		j, err := l.readJudged(tx, n)
		if err == nil && j != nil {
			s, ok = j.public(), true
		}
		return err
	})
	if err != nil {
		err = fmt.Errorf("snapshot of %s: %w", n, err)
	}
	return s, ok, err
}

// readJudged reads a snapshot. One that an earlier release made is made anew, for the reader alone; it is written when
// the thing is next touched or judged.
func (l *Ledger) readJudged(tx *bolt.Tx, n tracker.Name) (*judged, error) {
	raw := tx.Bucket([]byte(inThings.String())).Get(snapshotKey(n))
	if raw == nil {
		return nil, nil
	}
	j, err := decodeJudged(n, raw)
	if err != nil || j.version == foldVersion {
		return j, err
	}
	s := l.current()
	made := l.lawOf(s.laws, n.Clinic())
	gathered, err := gather(tx, n)
	if err != nil {
		return nil, err
	}
	return &judged{version: foldVersion, law: made.mark, Judgement: tracker.Judge(n, gathered, made.rules, s.now)}, nil
}

func gather(tx *bolt.Tx, n tracker.Name) ([]*tracker.Event, error) {
	return tracker.Gather(n, func(n tracker.Name) ([]*tracker.Event, error) { return readConcerns(tx, n) })
}

// Filter says which snapshots are wanted.
type Filter struct {
	Clinic  string // "" for all
	Open    bool   // only what is not settled: not closed, flagged, or waiting for its time
	Flagged bool   // only what has flags, the worst first; else by name
}

// Snapshots ranges over snapshots, read in short transactions, so what changes meanwhile may be seen before or after. An
// error ends the range and comes with a zero Snapshot.
func (l *Ledger) Snapshots(f Filter) iter.Seq2[Snapshot, error] {
	return func(yield func(Snapshot, error) bool) {
		var from []byte
		for {
			page, next, err := l.snapshotPage(f, from)
			if err != nil {
				yield(Snapshot{}, fmt.Errorf("snapshots: %w", err))
				return
			}
			for _, s := range page {
				if !yield(s, nil) {
					return
				}
			}
			if next == nil {
				return
			}
			from = next
		}
	}
}

// pageLength is how many keys one short transaction looks at.
const pageLength = 200

// snapshotPage reads some snapshots and says where to go on; nil at the end.
func (l *Ledger) snapshotPage(f Filter, from []byte) (page []Snapshot, next []byte, err error) {
	err = l.view(func(tx *bolt.Tx) error {
		in := inThings
		switch {
		case f.Flagged:
			in = inFlagged
		case f.Open:
			in = inOpen
		}
		var prefix []byte
		if f.Clinic != "" && !f.Flagged {
			prefix = []byte(f.Clinic + "-")
		}
		c := tx.Bucket([]byte(in.String())).Cursor()
		if from == nil {
			from = prefix
		}
		looked := 0
		for key, _ := c.Seek(from); key != nil && bytes.HasPrefix(key, prefix); looked++ {
			if looked == pageLength {
				next = bytes.Clone(key)
				return nil
			}
			n := tracker.Name(key)
			switch in {
			case inFlagged:
				n = flaggedName(key)
			case inThings:
				n, _, _, _ = splitThingKey(key)
			}
			if n != "" && (f.Clinic == "" || n.Clinic() == f.Clinic) {
				j, err := l.readJudged(tx, n)
				if err != nil {
					return fmt.Errorf("%s: %w", n, err)
				}
				if j != nil {
					page = append(page, j.public())
				}
			}
			if in == inThings && n != "" { // past the events that concern it
				key, _ = c.Seek(append(concernPrefix(n), bytes.Repeat([]byte{0xff}, 9)...))
			} else {
				key, _ = c.Next()
			}
		}
		return nil
	})
	return page, next, err
}

// OpenFlags is every flag that is raised, worst first.
func (l *Ledger) OpenFlags() ([]tracker.Flag, error) {
	flags := []tracker.Flag{}
	for s, err := range l.Snapshots(Filter{Flagged: true}) {
		if err != nil {
			return nil, err
		}
		flags = append(flags, s.Findings.Flags...)
	}
	slices.SortStableFunc(flags, tracker.CompareFlags)
	return flags, nil
}

// FlagChanges is the log of flags from a position on, at most limit rows; what is older than [Options.FlagLog] is gone.
// A limit of 0 means 1000.
func (l *Ledger) FlagChanges(from uint64, limit int) ([]FlagChange, error) {
	if limit < 1 {
		limit = mostRows
	}
	var rows []FlagChange
	err := l.view(func(tx *bolt.Tx) error {
		c := tx.Bucket([]byte(inFlagLog.String())).Cursor()
		for key, value := c.Seek(be64(from)); key != nil && len(rows) < limit; key, value = c.Next() {
			row, err := readFlagLog(key, value)
			if err != nil {
				return err
			}
			rows = append(rows, row)
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("log of flags from %d: %w", from, err)
	}
	return rows, nil
}

// Events is everything that counts for the case or bag that a name belongs to, each id once, in the order it is folded.
// What was struck is among it: [tracker.Struck] tells.
func (l *Ledger) Events(name tracker.Name) ([]*tracker.Event, error) {
	n := tracker.Watched(name)
	var list []*tracker.Event
	err := l.view(func(tx *bolt.Tx) (err error) {
		list, err = gather(tx, n)
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("events of %s: %w", n, err)
	}
	return inOrder(list), nil
}

// inOrder sorts events as they are folded and keeps one recording of each id.
func inOrder(list []*tracker.Event) []*tracker.Event {
	best := make(map[tracker.EventID]*tracker.Event, len(list))
	for _, e := range list {
		if have := best[e.ID]; have == nil || e.EarlierRecord(have) < 0 {
			best[e.ID] = e
		}
	}
	out := make([]*tracker.Event, 0, len(best))
	for _, e := range best {
		out = append(out, e)
	}
	slices.SortFunc(out, (*tracker.Event).Compare)
	return out
}
