package prints

import (
	"bytes"
	"errors"
	"fmt"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/sealing"
)

// Rekey seals all that waits under another key, in one transaction, and uses that from now on: after a patient was
// forgotten and the master key changed, what free pages of the file still hold can no longer be opened. A job whose bytes
// cannot be unsealed keeps them as they are, and is settled when it is taken.
func (q *Queue) Rekey(key []byte) error {
	if len(key) != sealing.KeySize {
		return fmt.Errorf("%w: it has %d bytes, of %d", ErrKey, len(key), sealing.KeySize)
	}
	q.keys.Lock() // nothing is sealed or unsealed meanwhile
	defer q.keys.Unlock()
	err := q.update(func(tx *bolt.Tx) error {
		bodies := tx.Bucket([]byte(inBodies))
		err := eachOpen(tx, "", func(r record) error {
			if !r.State.keepsBody() {
				return nil
			}
			body, err := q.body(tx, &r)
			if err != nil {
				return nil
			}
			sealed, err := sealing.Seal(key, body, r.about())
			return errors.Join(err, bodies.Put(be64(r.ID), sealed))
		})
		return errors.Join(err, putProof(tx, key))
	})
	if err == nil {
		q.key = bytes.Clone(key)
	}
	return err
}

// abandon settles all that waits as not printed and notes the key.
func (q *Queue) abandon(tx *bolt.Tx, now time.Time) error {
	var waiting []record
	err := eachOpen(tx, "", func(r record) error {
		if r.State.keepsBody() {
			waiting = append(waiting, r)
		}
		return nil
	})
	if err != nil {
		return err
	}
	for _, r := range waiting {
		if r.State == Prepared { // whether it was recorded is not known: it is queued or dropped as any other, and then unreadable
			continue
		}
		r.Problem = "what was to be printed can no longer be read: print it again"
		if err := q.move(tx, &r, unreadable, now); err != nil {
			return err
		}
	}
	return putProof(tx, q.key)
}
