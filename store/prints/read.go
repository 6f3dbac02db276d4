package prints

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"errors"
	"fmt"
	"slices"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/tracker"
)

// Filter says which jobs are wanted; the zero value wants all.
type Filter struct {
	Printer string
	State   State
	Open    bool         // only those that are not done
	Name    tracker.Name // only labels of that thing
	Limit   int          // at most so many; 0: all
}

func (f Filter) wants(r *record) bool {
	return (f.Printer == "" || r.Printer == f.Printer) && (f.State == "" || r.State == f.State) && (!f.Open || !r.State.Done()) && (f.Name == "" || r.Name == f.Name)
}

// Jobs lists jobs, the newest first.
func (q *Queue) Jobs(f Filter) ([]Job, error) {
	var out []Job
	err := q.view(func(tx *bolt.Tx) error {
		switch {
		case f.Name != "" || f.Open:
			var ids []uint64
			var err error
			if f.Name != "" {
				ids, err = idsUnder(tx, inNames, append([]byte(f.Name), 0))
			} else {
				ids, err = idsUnder(tx, inOpen, linePrefix(f.Printer))
			}
			if err != nil {
				return err
			}
			slices.SortFunc(ids, func(a, b uint64) int { return cmp.Compare(b, a) })
			for _, id := range ids {
				if f.full(out) {
					break
				}
				r, err := load(tx, id)
				if err != nil {
					return indexed(err)
				}
				if f.wants(&r) {
					out = append(out, r.Job)
				}
			}
			return nil
		}
		c := tx.Bucket([]byte(inJobs)).Cursor()
		for key, raw := c.Last(); key != nil && !f.full(out); key, raw = c.Prev() {
			if len(key) != 8 {
				return fmt.Errorf("%w: the list of jobs", ErrDamaged)
			}
			r, err := parse(binary.BigEndian.Uint64(key), raw)
			if err != nil {
				return err
			}
			if f.wants(&r) {
				out = append(out, r.Job)
			}
		}
		return nil
	})
	return out, err
}

func (f Filter) full(out []Job) bool { return f.Limit > 0 && len(out) >= f.Limit }

// Job finds one job; the error is [ErrNoJob] when there is none, or no longer.
func (q *Queue) Job(id uint64) (Job, error) {
	var r record
	err := q.view(func(tx *bolt.Tx) (err error) {
		r, err = load(tx, id)
		return err
	})
	if err != nil {
		return Job{}, err
	}
	return r.Job, nil
}

// Prepared lists the jobs that were prepared and neither queued nor dropped, the oldest first. After a start each is looked
// up in the ledger by its event, then queued or dropped.
func (q *Queue) Prepared() ([]Job, error) {
	var out []Job
	err := q.view(func(tx *bolt.Tx) error {
		return eachOpen(tx, "", func(r record) error {
			if r.State == Prepared {
				out = append(out, r.Job)
			}
			return nil
		})
	})
	slices.SortFunc(out, func(a, b Job) int { return cmp.Compare(a.ID, b.ID) })
	return out, err
}

// Owed lists the jobs that were recorded as printed, are settled as not printed, and were not yet noted by
// [Queue.Accounted], the oldest first: the ledger is owed a label.spoiled for each.
func (q *Queue) Owed() ([]Job, error) {
	var out []Job
	err := q.view(func(tx *bolt.Tx) error {
		ids, err := idsUnder(tx, inOwed, nil)
		if err != nil {
			return err
		}
		for _, id := range ids {
			r, err := load(tx, id)
			if err != nil {
				return indexed(err)
			}
			out = append(out, r.Job)
		}
		return nil
	})
	return out, err
}

// Accounted notes that the ledger knows of a job that was not printed. Doing so again changes nothing.
func (q *Queue) Accounted(id uint64) error {
	return q.update(func(tx *bolt.Tx) error { return tx.Bucket([]byte(inOwed)).Delete(be64(id)) })
}

// NextDue is when something is to be done for a printer: the first job that waits may be tried, or its time is up. It may
// be past; ok is false when nothing waits, or one is being sent.
func (q *Queue) NextDue(printer string) (at time.Time, ok bool, err error) {
	err = q.view(func(tx *bolt.Tx) error {
		r, found, err := head(tx, printer)
		if err != nil || !found {
			return err
		}
		at, ok = r.Next, true
		if !r.Until.IsZero() && r.Until.Before(at) {
			at = r.Until
		}
		return nil
	})
	if errors.Is(err, ErrBusy) {
		return time.Time{}, false, nil
	}
	return at, ok, err
}

// Tally counts what is not done for a printer.
type Tally struct {
	Waiting int // prepared, queued or being sent
	Unknown int // waits for somebody to say whether a label came out
}

// Tally counts what is not done for a printer.
func (q *Queue) Tally(printer string) (t Tally, err error) {
	err = q.view(func(tx *bolt.Tx) (err error) {
		t, err = tally(tx, printer)
		return err
	})
	return t, err
}

func tally(tx *bolt.Tx, printer string) (t Tally, err error) {
	prefix := linePrefix(printer)
	c := tx.Bucket([]byte(inOpen)).Cursor()
	for key, value := c.Seek(prefix); key != nil && bytes.HasPrefix(key, prefix); key, value = c.Next() {
		_, state, err := readOpen(value)
		if err != nil {
			return Tally{}, err
		}
		if state == Unknown {
			t.Unknown++
		} else {
			t.Waiting++
		}
	}
	return t, nil
}

// linePrefix is what the entries of one printer begin with in the index of open jobs; of all printers when it is "".
func linePrefix(printer string) []byte {
	if printer == "" {
		return nil
	}
	return append([]byte(printer), 0)
}

// head is the queued job of a printer that has waited longest. The error is ErrBusy while one is being sent.
func head(tx *bolt.Tx, printer string) (first record, ok bool, err error) {
	prefix := linePrefix(printer)
	c := tx.Bucket([]byte(inOpen)).Cursor()
	var id, place uint64
	for key, value := c.Seek(prefix); key != nil && bytes.HasPrefix(key, prefix); key, value = c.Next() {
		line, state, err := readOpen(value)
		if err == nil && len(key) != len(prefix)+8 {
			err = fmt.Errorf("%w: the list of open jobs", ErrDamaged)
		}
		if err != nil {
			return record{}, false, err
		}
		switch {
		case state == Sending:
			return record{}, false, fmt.Errorf("%w: %s", ErrBusy, printer)
		case state == Queued && (id == 0 || line < place):
			id, place = binary.BigEndian.Uint64(key[len(prefix):]), line
		}
	}
	if id == 0 {
		return record{}, false, nil
	}
	if first, err = load(tx, id); err != nil {
		return record{}, false, indexed(err)
	}
	if first.State != Queued {
		return record{}, false, fmt.Errorf("%w: job %d is filed as %s and says %s", ErrDamaged, id, Queued, first.State)
	}
	return first, true, nil
}

// eachOpen visits the jobs of a printer (all: "") that are not done, the oldest of each printer first.
func eachOpen(tx *bolt.Tx, printer string, visit func(r record) error) error {
	prefix := linePrefix(printer)
	c := tx.Bucket([]byte(inOpen)).Cursor()
	for key, value := c.Seek(prefix); key != nil && bytes.HasPrefix(key, prefix); key, value = c.Next() {
		line, state, err := readOpen(value)
		if err != nil {
			return err
		}
		if len(key) < 10 {
			return fmt.Errorf("%w: the list of open jobs", ErrDamaged)
		}
		r, err := load(tx, binary.BigEndian.Uint64(key[len(key)-8:]))
		if err != nil {
			return indexed(err)
		}
		if r.State != state || r.Line != line || r.Printer != string(key[:len(key)-9]) {
			return fmt.Errorf("%w: job %d is filed as %s and says %s", ErrDamaged, r.ID, state, r.State)
		}
		if err := visit(r); err != nil {
			return err
		}
	}
	return nil
}

// eachCopy visits the jobs of one copy of a thing's label. They are read before the first visit, which may change them.
func eachCopy(tx *bolt.Tx, name tracker.Name, copy tracker.Copy, visit func(r record) error) error {
	ids, err := idsUnder(tx, inNames, append([]byte(name), 0, byte(copy)))
	if err != nil {
		return err
	}
	for _, id := range ids {
		r, err := load(tx, id)
		if err != nil {
			return indexed(err)
		}
		if err := visit(r); err != nil {
			return err
		}
	}
	return nil
}

// idsUnder lists the numbers at the end of an index's keys.
func idsUnder(tx *bolt.Tx, bucket string, prefix []byte) (ids []uint64, err error) {
	c := tx.Bucket([]byte(bucket)).Cursor()
	for key, _ := c.Seek(prefix); key != nil && bytes.HasPrefix(key, prefix); key, _ = c.Next() {
		if len(key) < 8 {
			return nil, fmt.Errorf("%w: the index %s", ErrDamaged, bucket)
		}
		ids = append(ids, binary.BigEndian.Uint64(key[len(key)-8:]))
	}
	return ids, nil
}

// indexed says that a job which an index leads to must be there.
func indexed(err error) error {
	if errors.Is(err, ErrNoJob) {
		return fmt.Errorf("%w: an index leads to a job that is not there: %w", ErrDamaged, err)
	}
	return err
}
