package prints

import (
	"bytes"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/sealing"
	"github.com/pottrail/pottrail/tracker"
)

// Draft is a job to be prepared, and the bytes for its printer.
type Draft struct {
	Job  Job
	Body []byte
}

// Prepare puts one job on disk; see [Queue.PrepareAll].
func (q *Queue) Prepare(now time.Time, j Job, body []byte) (Job, error) {
	made, err := q.PrepareAll(now, []Draft{{j, body}})
	if err != nil {
		return Job{}, err
	}
	return made[0], nil
}

// PrepareAll puts jobs and the bytes for their printers on disk, before their prints are recorded in the ledger: all of them
// in one step, or none. The number, token, state and
// times of each are set here; all else is the caller's, Event above all. The jobs that are returned are as they were
// stored. Errors wrap [ErrJob], [ErrTooLarge], [ErrTooMany] or [ErrTwice]: no copy of a label is ever prepared twice.
func (q *Queue) PrepareAll(now time.Time, drafts []Draft) ([]Job, error) {
	records := make([]record, len(drafts))
	for i, d := range drafts {
		var err error
		if records[i], err = newRecord(now, d); err != nil {
			return nil, err
		}
	}
	q.keys.RLock()
	defer q.keys.RUnlock()
	err := q.update(func(tx *bolt.Tx) error {
		waiting := map[string]int{}
		for i := range records {
			r := &records[i]
			if _, counted := waiting[r.Printer]; !counted {
				t, err := tally(tx, r.Printer)
				if err != nil {
					return err
				}
				waiting[r.Printer] = t.Waiting
			}
			if waiting[r.Printer] >= q.waiting {
				return fmt.Errorf("%w: %d wait for printer %s, of at most %d: look at the printer, or call some off", ErrTooMany, waiting[r.Printer], r.Printer, q.waiting)
			}
			waiting[r.Printer]++
			if err := q.prepare(tx, r, drafts[i].Body); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	made := make([]Job, len(records))
	for i, r := range records {
		made[i] = r.Job
	}
	return made, nil
}

// newRecord is a job as it begins.
func newRecord(now time.Time, d Draft) (record, error) {
	if err := checkJob(d.Job); err != nil {
		return record{}, err
	}
	if len(d.Body) == 0 {
		return record{}, fmt.Errorf("%w: there is nothing to send to the printer", ErrJob)
	}
	if len(d.Body) > MaxBody {
		return record{}, fmt.Errorf("%w: it has %d bytes, of at most %d: look at the size and dots/mm of printer %s", ErrTooLarge, len(d.Body), MaxBody, d.Job.Printer)
	}
	token := make([]byte, 16)
	if _, err := rand.Read(token); err != nil {
		return record{}, fmt.Errorf("random token: %w", err)
	}
	r := record{Job: d.Job}
	r.Token, r.State, r.Made, r.Changed = hex.EncodeToString(token), Prepared, instant(now), instant(now)
	r.Problem, r.Attempts, r.Next, r.Until = "", 0, time.Time{}, instant(d.Job.Until)
	r.SettledBy, r.SettledAt, r.Spoiled = "", "", ""
	return r, nil
}

func (q *Queue) prepare(tx *bolt.Tx, r *record, body []byte) error {
	if err := checkOnce(tx, r); err != nil {
		return err
	}
	var err error
	if r.ID, err = tx.Bucket([]byte(inJobs)).NextSequence(); err != nil {
		return err
	}
	sealed, err := sealing.Seal(q.key, body, r.about())
	if err != nil {
		return err
	}
	if r.Name != "" {
		err = tx.Bucket([]byte(inNames)).Put(nameKey(r.Name, r.Copy, r.ID), nil)
	}
	return errors.Join(err, store(tx, r), place(tx, r), tx.Bucket([]byte(inBodies)).Put(be64(r.ID), sealed))
}

// checkOnce sees to it that a copy of a label has one job for ever: its code must not be on two labels.
func checkOnce(tx *bolt.Tx, r *record) error {
	if r.Name == "" {
		return nil
	}
	prefix := nameKey(r.Name, r.Copy, 0)[:len(r.Name)+2]
	if key, _ := tx.Bucket([]byte(inNames)).Cursor().Seek(prefix); bytes.HasPrefix(key, prefix) {
		return fmt.Errorf("%w: copy %s of %s; print another copy", ErrTwice, r.Copy, r.Name)
	}
	return nil
}

// longestText bounds the short texts of a job, in bytes.
const longestText = 200

func checkJob(j Job) error {
	if j.Printer == "" {
		return fmt.Errorf("%w: no printer is named", ErrJob)
	}
	for what, text := range map[string]string{"printer": j.Printer, "title": j.Title, "layout": j.Layout, "media type": j.MediaType, "extension": j.Extension, "by": j.By, "station": j.Station, "event": string(j.Event)} {
		if len(text) > longestText || !utf8.ValidString(text) || strings.ContainsFunc(text, unicode.IsControl) {
			return fmt.Errorf("%w: its %s is not a text of at most %d bytes", ErrJob, what, longestText)
		}
	}
	if j.Name == "" {
		if j.Copy != 0 || j.Replaces != 0 || j.Title == "" {
			return fmt.Errorf("%w: a label of no thing has a title, and no copy", ErrJob)
		}
		return nil
	}
	if name, err := tracker.ParseName(string(j.Name)); err != nil || name != j.Name {
		return fmt.Errorf("%w: %q is not the name of a thing", ErrJob, j.Name)
	}
	if !j.Copy.Valid() || j.Replaces != 0 && !j.Replaces.Valid() {
		return fmt.Errorf("%w: a label of %s has a copy from 1 to 9 or A to Z", ErrJob, j.Name)
	}
	return nil
}

// Queue lets a prepared job go, once its print is recorded in the ledger. Doing so again changes nothing.
func (q *Queue) Queue(id uint64, now time.Time) error { return q.step(id, recorded, now, nil) }

// QueueAll lets prepared jobs go in one step, once their prints are recorded. Their labels come out in this order, with nobody
// else's between them. Doing so again changes nothing.
func (q *Queue) QueueAll(ids []uint64, now time.Time) error {
	return q.update(func(tx *bolt.Tx) error {
		for _, id := range ids {
			r, err := load(tx, id)
			if err == nil {
				err = q.move(tx, &r, recorded, now)
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
}

// Drop removes a prepared job whose print was not recorded. Doing so again changes nothing.
func (q *Queue) Drop(id uint64) error {
	return q.update(func(tx *bolt.Tx) error {
		r, err := load(tx, id)
		if errors.Is(err, ErrNoJob) {
			return nil
		}
		if err != nil {
			return err
		}
		if r.State != Prepared {
			return fmt.Errorf("%w: job %d is %s and cannot be dropped", ErrState, id, r.State.words())
		}
		return drop(tx, &r)
	})
}

// Take gives the job that is next for a printer and what is to be sent, after it was marked on disk as being sent. Labels
// come out in the order in which they were queued: while the first is not due, none is given, since what ails a printer
// ails it for all, and the labels of one patient must not come between those of another. Ok is false when nothing is due. A job
// whose time is up, or whose bytes cannot be unsealed, is settled as not printed on the way. The error is [ErrBusy] while
// the job given before is not settled.
func (q *Queue) Take(printer string, now time.Time) (j Job, body []byte, ok bool, err error) {
	q.keys.RLock()
	defer q.keys.RUnlock()
	err = q.update(func(tx *bolt.Tx) error {
		changed := false
		for {
			r, found, err := head(tx, printer)
			if err != nil {
				return err
			}
			if !found || !r.due(now) && !r.overdue(now) {
				break
			}
			changed = true
			if r.overdue(now) {
				r.Problem = brief("it waited until nobody could be waiting for it any longer; print it again if it is wanted. " + r.Problem)
				if err := q.move(tx, &r, overdue, now); err != nil {
					return err
				}
				continue
			}
			if body, err = q.body(tx, &r); err != nil {
				r.Problem = "what was to be printed can no longer be read: print it again"
				if err := q.move(tx, &r, unreadable, now); err != nil {
					return err
				}
				continue
			}
			r.Attempts++
			if err := q.move(tx, &r, taken, now); err != nil {
				return err
			}
			j, ok = r.Job, true
			break
		}
		if !changed {
			return errPassed
		}
		return nil
	})
	if errors.Is(err, errPassed) {
		err = nil
	}
	if err != nil || !ok {
		return Job{}, nil, false, err
	}
	return j, body, true, nil
}

// due reports whether a job may be tried. When the clock was set back to before the last try, it may: else it would wait
// for as long as the clock went back.
func (r *record) due(now time.Time) bool { return !now.Before(r.Next) || now.Before(r.Changed) }

func (r *record) overdue(now time.Time) bool { return !r.Until.IsZero() && !now.Before(r.Until) }

// Sent notes that the printer has taken all of a job.
func (q *Queue) Sent(id uint64, now time.Time) error {
	return q.step(id, sent, now, func(r *record) { r.Problem = "" })
}

// Again puts a job back of which nothing left this machine; no try is made before next. Problem says what went wrong.
func (q *Queue) Again(id uint64, now, next time.Time, problem string) error {
	return q.step(id, again, now, func(r *record) { r.Next, r.Problem = instant(next), brief(problem) })
}

// Lost notes that nobody knows whether a label came out.
func (q *Queue) Lost(id uint64, now time.Time, problem string) error {
	return q.step(id, lost, now, func(r *record) { r.Problem = brief(problem) })
}

// Refuse notes that a job of which nothing was printed will not be tried again.
func (q *Queue) Refuse(id uint64, now time.Time, problem string) error {
	return q.step(id, refused, now, func(r *record) { r.Problem = brief(problem) })
}

// Hurry lets the first job that waits for a printer be tried at once, whatever was said about when: somebody has just done
// something about the printer, or waits beside it. With nothing to hurry nothing is written.
func (q *Queue) Hurry(printer string, now time.Time) error {
	hurry := func(tx *bolt.Tx, change func(r *record) error) error {
		r, ok, err := head(tx, printer)
		if err != nil {
			return err
		}
		if !ok || r.due(now) {
			return errPassed
		}
		return change(&r)
	}
	err := q.view(func(tx *bolt.Tx) error { return hurry(tx, func(*record) error { return nil }) }) // seldom is there anything to do
	if err == nil {
		err = q.update(func(tx *bolt.Tx) error {
			return hurry(tx, func(r *record) error { r.Next = time.Time{}; return store(tx, r) })
		})
	}
	if errors.Is(err, errPassed) || errors.Is(err, ErrBusy) {
		return nil
	}
	return err
}

// Settle notes what somebody says, by key and station, of a label that was sent or of which nobody knows: that it came
// out, or that it never did.
func (q *Queue) Settle(id uint64, now time.Time, came bool, by, station string) error {
	what, problem := neverCame, "somebody looked, and it was not there"
	if came {
		what, problem = cameOut, ""
	}
	return q.step(id, what, now, func(r *record) { r.Problem, r.SettledBy, r.SettledAt = problem, brief(by), brief(station) })
}

// CallOff takes a job out that waits for its printer, as somebody asked for by key and station.
func (q *Queue) CallOff(id uint64, now time.Time, by, station string) error {
	return q.step(id, calledOff, now, func(r *record) {
		r.Problem, r.SettledBy, r.SettledAt = "it was called off before it was printed", brief(by), brief(station)
	})
}

// Confirm notes that a copy of a label was scanned, and gives the jobs that this changed. Whatever was thought of such a
// job, its label exists: one that still waits must not come out a second time, one that is being sent is not tried again
// whatever its sender reports, and one that was settled as not printed was settled wrongly.
func (q *Queue) Confirm(name tracker.Name, c tracker.Copy, now time.Time) ([]Job, error) {
	var changed []Job
	open := false
	if err := q.writable(); err != nil { // what is read may not be on disk, and must not pass for noted
		return nil, err
	}
	err := q.view(func(tx *bolt.Tx) error { // most scans are of labels that were confirmed long ago: they cost no write
		return eachCopy(tx, name, c, func(r record) error {
			open = open || r.State != Confirmed
			return nil
		})
	})
	if err != nil || !open {
		return nil, err
	}
	err = q.update(func(tx *bolt.Tx) error {
		changed = nil
		return eachCopy(tx, name, c, func(r record) error {
			if r.State == Confirmed {
				return nil
			}
			r.Problem = scannedEarly(r.State)
			if err := q.move(tx, &r, scanned, now); err != nil {
				return err
			}
			changed = append(changed, r.Job)
			return nil
		})
	})
	if err != nil {
		return nil, err
	}
	return changed, nil
}

// scannedEarly says what is odd about a scan of a label whose job was in a state.
func scannedEarly(s State) string {
	switch s {
	case Prepared, Queued:
		return "its label was scanned before it was sent: it is not printed a second time; look where that label came from"
	case NotPrinted:
		return "its label was scanned although it was settled as not printed"
	}
	return ""
}

// longestProblem bounds what is kept of a problem, in characters.
const longestProblem = 300

// brief makes one line of at most so many characters out of what went wrong.
func brief(text string) string {
	text = strings.Join(strings.Fields(strings.ToValidUTF8(text, "?")), " ")
	if runes := []rune(text); len(runes) > longestProblem {
		text = string(runes[:longestProblem-1]) + "…"
	}
	return text
}
