package prints

import (
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/boltfile"
)

// OpenWith opens a queue with other options of bbolt.
func OpenWith(path string, key []byte, change func(o *bolt.Options)) (*Queue, error) {
	o := boltfile.Options(openWait)
	change(o)
	return open(path, key, o)
}

// Bound sets other bounds than those of a clinic.
func (q *Queue) Bound(waiting int, keepJobs uint64, keepFor time.Duration) {
	q.waiting, q.keepJobs, q.keepFor = waiting, keepJobs, keepFor
}

// Spoil changes what is stored behind the queue's back.
func (q *Queue) Spoil(fn func(tx *bolt.Tx) error) error { return q.db.Update(fn) }

// Bodies counts what is kept of what goes to printers.
func (q *Queue) Bodies() (n int) {
	_ = q.db.View(func(tx *bolt.Tx) error {
		n = tx.Bucket([]byte(inBodies)).Stats().KeyN
		return nil
	})
	return n
}

// Check holds the indexes against the records.
func (q *Queue) Check() error { return q.view(checkIndexes) }
