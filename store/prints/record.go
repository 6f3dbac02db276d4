package prints

import (
	"bytes"
	"crypto/rand"
	"encoding/binary"
	"errors"
	"fmt"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/google/uuid"
	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/sealing"
	"github.com/pottrail/pottrail/tracker"
)

// record is a job as it is stored.
type record struct {
	Job
	Secret string `json:"token"`
	Line   uint64 `json:"line,omitzero"` // its place in the line, since it was queued
}

func load(tx *bolt.Tx, id uint64) (record, error) {
	raw := tx.Bucket([]byte(inJobs)).Get(be64(id))
	if raw == nil {
		return record{}, fmt.Errorf("%w: %d", ErrNoJob, id)
	}
	return parse(id, raw)
}

func parse(id uint64, raw []byte) (record, error) {
	var r record
	if err := json.Unmarshal(raw, &r); err != nil {
		return r, fmt.Errorf("%w: job %d cannot be read: %w", ErrDamaged, id, err)
	}
	if r.ID != id || !r.State.known() || r.Printer == "" {
		return r, fmt.Errorf("%w: job %d does not fit its place", ErrDamaged, id)
	}
	r.Token = r.Secret
	return r, nil
}

func store(tx *bolt.Tx, r *record) error {
	r.Secret = r.Token
	raw, err := json.Marshal(r)
	if err != nil {
		return fmt.Errorf("write job %d down: %w", r.ID, err)
	}
	return tx.Bucket([]byte(inJobs)).Put(be64(r.ID), raw)
}

// place puts a job into the index that its state belongs to; unplace takes it out.
func place(tx *bolt.Tx, r *record) error {
	if !r.State.Done() {
		return tx.Bucket([]byte(inOpen)).Put(openKey(r), openValue(r))
	}
	return errors.Join(tx.Bucket([]byte(inDone)).Put(doneKey(r), nil), addDone(tx, 1))
}

func unplace(tx *bolt.Tx, r *record) error {
	if !r.State.Done() {
		return tx.Bucket([]byte(inOpen)).Delete(openKey(r))
	}
	return errors.Join(tx.Bucket([]byte(inDone)).Delete(doneKey(r)), addDone(tx, -1))
}

func openKey(r *record) []byte { return append(append([]byte(r.Printer), 0), be64(r.ID)...) }

func openValue(r *record) []byte { return append(be64(r.Line), r.State...) }

// readOpen is the inverse of openValue.
func readOpen(value []byte) (line uint64, s State, err error) {
	if len(value) < 8 {
		return 0, "", fmt.Errorf("%w: the list of open jobs", ErrDamaged)
	}
	return binary.BigEndian.Uint64(value), State(value[8:]), nil
}

func doneKey(r *record) []byte {
	return append(be64(uint64(max(0, r.Changed.UnixNano()))), be64(r.ID)...)
}

func nameKey(n tracker.Name, c tracker.Copy, id uint64) []byte {
	return append(append([]byte(n), 0, byte(c)), be64(id)...)
}

// countDone is how many jobs are done.
func countDone(tx *bolt.Tx) uint64 {
	if raw := tx.Bucket([]byte(inMeta)).Get([]byte(metaDone)); len(raw) == 8 {
		return binary.BigEndian.Uint64(raw)
	}
	return 0
}

func addDone(tx *bolt.Tx, n int) error {
	return tx.Bucket([]byte(inMeta)).Put([]byte(metaDone), be64(uint64(max(0, int64(countDone(tx))+int64(n)))))
}

// move takes a step: the record, its place, what it keeps, and what the ledger is owed. R is as it was read, with the
// problem to be noted. A step that was taken before changes nothing.
func (q *Queue) move(tx *bolt.Tx, r *record, what step, now time.Time) error {
	to, err := r.State.after(what, r.ID)
	if err != nil || to == r.State {
		return err
	}
	if err := unplace(tx, r); err != nil {
		return err
	}
	r.State, r.Changed = to, instant(now)
	if to != Queued {
		r.Next = time.Time{}
	}
	if what == recorded {
		if r.Line, err = tx.Bucket([]byte(inOpen)).NextSequence(); err != nil {
			return err
		}
	}
	owed := tx.Bucket([]byte(inOwed))
	if to == NotPrinted && r.Event != "" {
		if r.Spoiled, err = newEventID(now); err != nil {
			return err
		}
		err = owed.Put(be64(r.ID), nil)
	} else {
		err = owed.Delete(be64(r.ID))
	}
	if !to.keepsBody() {
		err = errors.Join(err, tx.Bucket([]byte(inBodies)).Delete(be64(r.ID)))
	}
	if err = errors.Join(err, store(tx, r), place(tx, r)); err != nil || !to.Done() {
		return err
	}
	return q.forget(tx, now)
}

// errPassed ends a transaction in which nothing is to be written.
var errPassed = errors.New("nothing is to be written")

// step finds a job and takes a step with it; change, if any, notes more about it first, and is called only if the step
// leads anywhere.
func (q *Queue) step(id uint64, what step, now time.Time, change func(r *record)) error {
	err := q.update(func(tx *bolt.Tx) error {
		r, err := load(tx, id)
		if err != nil {
			return err
		}
		to, err := r.State.after(what, id)
		if err != nil {
			return err
		}
		if to == r.State {
			return errPassed
		}
		if change != nil {
			change(&r)
		}
		return q.move(tx, &r, what, now)
	})
	if errors.Is(err, errPassed) {
		return nil
	}
	return err
}

// drop removes all that is known of a job that is done or was never recorded.
func drop(tx *bolt.Tx, r *record) error {
	id := be64(r.ID)
	err := errors.Join(unplace(tx, r), tx.Bucket([]byte(inJobs)).Delete(id), tx.Bucket([]byte(inBodies)).Delete(id), tx.Bucket([]byte(inOwed)).Delete(id))
	if r.Name != "" {
		err = errors.Join(err, tx.Bucket([]byte(inNames)).Delete(nameKey(r.Name, r.Copy, r.ID)))
	}
	return err
}

// forgetStep is how many old jobs one change removes at most, so that none takes long.
const forgetStep = 32

// forget removes done jobs that are too many or too old, the oldest first, but for those that the ledger is owed.
func (q *Queue) forget(tx *bolt.Tx, now time.Time) error {
	limit := be64(uint64(max(0, now.Add(-q.keepFor).UnixNano())))
	count := countDone(tx)
	owed := tx.Bucket([]byte(inOwed))
	var old []uint64
	c := tx.Bucket([]byte(inDone)).Cursor()
	for key, _ := c.First(); key != nil && len(old) < forgetStep; key, _ = c.Next() {
		if len(key) != 16 {
			return fmt.Errorf("%w: the list of done jobs", ErrDamaged)
		}
		if bytes.Compare(key[:8], limit) >= 0 && count-uint64(len(old)) <= q.keepJobs {
			break
		}
		if k, _ := owed.Cursor().Seek(key[8:]); !bytes.Equal(k, key[8:]) {
			old = append(old, binary.BigEndian.Uint64(key[8:]))
		}
	}
	for _, id := range old {
		r, err := load(tx, id)
		if err == nil {
			err = drop(tx, &r)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// about binds what is sealed to its job.
func (r *record) about() string { return fmt.Sprintf("%s %d %s", inBodies, r.ID, r.Token) }

func (q *Queue) body(tx *bolt.Tx, r *record) ([]byte, error) {
	return sealing.Unseal(q.key, tx.Bucket([]byte(inBodies)).Get(be64(r.ID)), r.about())
}

// instant is a time as it is stored and comes back.
func instant(t time.Time) time.Time { return t.Round(0).UTC() }

// newEventID makes a UUIDv7 (RFC 9562, section 5.7) of an instant.
func newEventID(now time.Time) (tracker.EventID, error) {
	var id uuid.UUID
	if _, err := rand.Read(id[6:]); err != nil {
		return "", err
	}
	copy(id[:6], be64(uint64(max(0, now.UnixMilli())))[2:])
	id[6] = id[6]&0x0f | 0x70
	id[8] = id[8]&0x3f | 0x80
	return tracker.EventID(id.String()), nil
}
