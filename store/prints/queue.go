package prints

import (
	"bytes"
	"errors"
	"fmt"
	"sync"
	"time"

	bolt "go.etcd.io/bbolt"
	berrors "go.etcd.io/bbolt/errors"

	"github.com/pottrail/pottrail/store/boltfile"
)

// What a queue holds at most. Common practice, no source.
const (
	// MaxBody is the most bytes that one job may send: a label of 100 × 150 mm at 24 dots/mm is about 1 MiB in one bit.
	MaxBody = 4 << 20
	// MaxWaiting is the most jobs that may wait for one printer: a roll of labels seldom has more.
	MaxWaiting = 2000
	// KeepJobs and KeepFor bound the jobs that are kept for looking back after they are done.
	KeepJobs = 10_000
	KeepFor  = 90 * 24 * time.Hour
)

// Queue is an open print queue. It is safe for concurrent use; whatever changes it is on disk when the method returns.
type Queue struct {
	path     string
	db       *bolt.DB
	key      []byte
	keepJobs uint64
	keepFor  time.Duration
	waiting  int

	keys sync.RWMutex // held for reading while something is sealed or unsealed

	mu     sync.Mutex // guards what follows; never held while reading or writing the file
	fatal  error
	stuck  bool // bbolt may hold its locks for ever
	closed bool
	told   func(error) // of what became fatal; may be nil
}

// OnBroken has a function told once with the error after which nothing more is written ([ErrFatal]): the queue must then be
// closed and opened again. It must not wait for the queue.
func (q *Queue) OnBroken(told func(error)) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.told = told
}

// Open opens the queue at path, and makes it when there is none. Key has 32 bytes and seals what goes to the printers; it
// must be the same each time. What was being sent when the program ended is [Unknown] from now on. Errors wrap [ErrInUse],
// [ErrForeign], [ErrNewer], [ErrKey] or [ErrDamaged], or are what the system said; nothing is changed then.
func Open(path string, key []byte) (*Queue, error) {
	return open(path, key, boltfile.Options(openWait))
}

func open(path string, key []byte, o *bolt.Options) (*Queue, error) {
	q, err := attach(path, key, o)
	if err == nil {
		if err = q.checkKey(); err == nil {
			err = q.begin()
		}
		if err != nil {
			_ = q.Close()
		}
	}
	if err != nil {
		return nil, fmt.Errorf("open print queue %s: %w", path, err)
	}
	return q, nil
}

func attach(path string, key []byte, o *bolt.Options) (*Queue, error) {
	db, err := openFile(path, key, o)
	if err != nil {
		return nil, err
	}
	return &Queue{path: path, db: db, key: bytes.Clone(key), keepJobs: KeepJobs, keepFor: KeepFor, waiting: MaxWaiting}, nil
}

// Abandon opens a queue whose key is lost, or was changed without [Queue.Rekey]: what waited can no longer be read, so it
// is settled as not printed, and the file takes the new key. No more is lost than labels that have not come out.
func Abandon(path string, key []byte, now time.Time) (*Queue, error) {
	q, err := attach(path, key, boltfile.Options(openWait))
	if err != nil {
		return nil, fmt.Errorf("open print queue %s: %w", path, err)
	}
	err = q.begin()
	if err == nil {
		err = q.update(func(tx *bolt.Tx) error { return q.abandon(tx, now) })
	}
	if err != nil {
		_ = q.Close()
		return nil, fmt.Errorf("open print queue %s without its key: %w", path, err)
	}
	return q, nil
}

// begin looks at all that is not done, and notes as unknown what was being sent.
func (q *Queue) begin() error {
	var cut []record
	err := q.view(func(tx *bolt.Tx) error {
		return eachOpen(tx, "", func(r record) error {
			if r.State == Sending {
				cut = append(cut, r)
			}
			return nil
		})
	})
	if err != nil || len(cut) == 0 {
		return err
	}
	return q.update(func(tx *bolt.Tx) error {
		for _, r := range cut {
			r.Problem = "the program ended while the label was being sent"
			if err := q.move(tx, &r, cutShort, r.Changed); err != nil {
				return err
			}
		}
		return nil
	})
}

// Close waits for what is being written and closes the file. Everything afterwards fails with [ErrClosed].
func (q *Queue) Close() error {
	q.mu.Lock()
	skip := q.closed || q.stuck
	q.closed = true
	q.mu.Unlock()
	if skip {
		return nil
	}
	if err := q.db.Close(); err != nil {
		return fmt.Errorf("close print queue %s: %w", q.path, err)
	}
	return nil
}

// view reads what is committed, without waiting for whoever writes. Nothing read may be kept without a copy.
func (q *Queue) view(fn func(tx *bolt.Tx) error) error {
	q.mu.Lock()
	closed := q.closed
	q.mu.Unlock()
	if closed {
		return ErrClosed
	}
	err := boltfile.View(q.db, fn)
	switch {
	case errors.Is(err, berrors.ErrDatabaseNotOpen):
		return ErrClosed
	case errors.Is(err, boltfile.ErrForeign):
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	return err
}

// writable is nil when the file may be written.
func (q *Queue) writable() error {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.closed {
		return ErrClosed
	}
	return q.fatal
}

// update changes the file in one transaction.
func (q *Queue) update(fn func(tx *bolt.Tx) error) error {
	if err := q.writable(); err != nil {
		return err
	}
	err := boltfile.Update(q.db, fn)
	switch {
	case err == nil:
		return nil
	case errors.Is(err, berrors.ErrDatabaseNotOpen):
		return ErrClosed
	case errors.Is(err, boltfile.ErrNoSpace):
		return fmt.Errorf("%w: %w", ErrNoSpace, err)
	case errors.Is(err, boltfile.ErrUncertain), errors.Is(err, boltfile.ErrStuck):
		err = fmt.Errorf("%w: %w", ErrFatal, err)
		q.mu.Lock()
		first, told := q.fatal == nil, q.told
		q.stuck = q.stuck || errors.Is(err, boltfile.ErrStuck)
		q.fatal = err
		q.mu.Unlock()
		if first && told != nil {
			told(err)
		}
	}
	return err
}
