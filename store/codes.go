package store

import (
	"fmt"
	"slices"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/tracker"
)

// Known is what the ledger knows of a code or name.
type Known struct {
	Name    tracker.Name   `json:"name"`
	Known   bool           `json:"known"`            // a request, printed label, reserved roll or bag stands behind it
	Printed []tracker.Copy `json:"printed"`          // copies that were printed, in the order of their first print
	Spoiled []tracker.Copy `json:"spoiled"`          // copies that were destroyed unused
	Seen    []tracker.Copy `json:"seen"`             // copies that were scanned, in the order of their first scan
	For     tracker.Name   `json:"for,omitzero"`     // what it stands for, when its label was bound or its pot relabelled
	Patient string         `json:"patient,omitzero"` // ref of the case's patient, never an identifier
	Events  int            `json:"events"`           // how many name it
	// PassOver is how many copies the next label passes over: the ledger was put back from a backup, and labels may have
	// been printed after that was made.
	PassOver int `json:"pass_over,omitzero"`
	// PutBack is the last time that the ledger was put back from a backup after which labels of this may have been printed;
	// nil when there was none.
	PutBack *PutBack `json:"put_back,omitzero"`
}

// Codes says what is known of a name: which copies of its label are about, and what it stands for.
func (l *Ledger) Codes(name tracker.Name) (Known, error) {
	var out Known
	err := l.view(func(tx *bolt.Tx) (err error) {
		out, err = l.readKnown(tx, name)
		return err
	})
	if err != nil {
		return Known{}, fmt.Errorf("what is known of %s: %w", name, err)
	}
	return out, nil
}

func (l *Ledger) readKnown(tx *bolt.Tx, name tracker.Name) (Known, error) {
	out := Known{Name: name, Printed: []tracker.Copy{}, Spoiled: []tracker.Copy{}, Seen: []tracker.Copy{}}
	n, backs := tracker.Watched(name), l.current().putBacks
	out.PutBack = lastPutBack(backs, n, 0)
	j, err := l.readJudged(tx, n)
	if err != nil || j == nil {
		return out, err
	}
	out.Known, out.Patient = j.Summary.Known, j.Summary.Patient
	list, err := gather(tx, n)
	if err != nil {
		return out, err
	}
	list = inOrder(list)
	struck := tracker.Struck(list)
	var first, print uint64 // the first event of all, and the last print of this label
	for _, e := range list {
		_, gone := struck[e.ID]
		if first == 0 || e.Record.Seq < first {
			first = e.Record.Seq
		}
		i := slices.IndexFunc(e.Items, func(item tracker.Item) bool { return item.Name == name })
		if i < 0 {
			continue
		}
		out.Events++
		switch f := e.Data.(type) {
		case *tracker.LabelPrinted: // it is on paper even if the event was struck
			out.Printed = with(out.Printed, f.Copy)
			print = max(print, e.Record.Seq)
		case *tracker.LabelSpoiled:
			if !gone {
				out.Spoiled = with(out.Spoiled, f.Copy)
			}
		case *tracker.LabelBound:
			if !gone {
				out.For = f.To
			}
		case *tracker.PotRelabelled:
			if !gone {
				out.For = f.New
			}
		default:
			out.Seen = with(out.Seen, e.Items[i].Copy)
		}
	}
	for _, back := range backs { // a print since then says where the numbers are
		if print <= back.Seq && back.concerns(n, first) {
			out.PassOver += back.Copies
		}
	}
	out.PutBack = lastPutBack(backs, n, first)
	return out, nil
}

func with(list []tracker.Copy, c tracker.Copy) []tracker.Copy {
	if c == 0 || slices.Contains(list, c) {
		return list
	}
	return append(list, c)
}

// Next is the copy that the next label would have, ok is false when all 35 are used: after every copy printed so far, and
// none that was ever seen.
func (k Known) Next() (next tracker.Copy, ok bool) { return k.next(0) }

// next is Next after a copy that was given out meanwhile.
func (k Known) next(given tracker.Copy) (last tracker.Copy, ok bool) {
	for _, c := range k.Printed {
		last = max(last, c)
	}
	if given > last {
		last = given
	} else {
		for range k.PassOver {
			over, ok := last.Next()
			if _, more := over.Next(); !ok || !more {
				break // the last ones are rather used twice than not at all
			}
			last = over
		}
	}
	for {
		if last, ok = last.Next(); !ok || !slices.Contains(k.Seen, last) {
			return last, ok
		}
	}
}

// NextCopy is the copy for the next label of a thing: after every copy printed so far, and none that was ever seen. It is
// given to one asker only while the ledger is open; record the printing before anything is drawn. With all 35 used the
// error is [ErrCopies].
func (l *Ledger) NextCopy(name tracker.Name) (tracker.Copy, error) {
	known, err := l.Codes(name)
	if err != nil {
		return 0, err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	last, ok := known.next(tracker.Copy(l.copies[string(name)]))
	if !ok {
		return 0, fmt.Errorf("label of %s: %w: all 35 were printed; take a new number for what is in it", name, ErrCopies)
	}
	const most = 10_000
	if len(l.copies) >= most { // those are long recorded; what is about to be is asked for again at worst
		clear(l.copies)
	}
	l.copies[string(name)] = byte(last)
	return last, nil
}
