package staff

import (
	"bytes"
	"errors"
	"fmt"
	"time"

	bolt "go.etcd.io/bbolt"
)

// Wrong PINs are counted in three ways, each in a row, before the PIN is looked at, so that many tries at once are as one
// after the other; the right PIN takes its count back.
//
//   - Of a badge at a station. Each makes the same badge wait there: 1, 2, 4 … 60 s. After [WrongAtStation] another person
//     unlocks it, or it opens by itself for one try every [LockedFor]: at night there may be nobody to ask. After [MostAtStation]
//     only a person helps. Nobody else waits, and the badge does not wait elsewhere.
//   - Of a badge everywhere. After [MostWrong] (NIST SP 800-63B, 5.2.2: at most 100 in a row) that badge alone needs a person.
//     One station never gets there, since it stops at [MostAtStation]: whoever stands at one cannot shut a colleague out of all.
//   - Of a station, of badges that were never right there. After [WrongStrangers] these wait 1, 2, 4 … 60 s too: somebody goes
//     through the staff with one PIN. Whoever has been right there before does not wait.
//
// What is counted of a badge on no list is the same, so that nothing tells it apart.
//
// Waits are measured by the clock that may be set, since they outlive the program: set forward it ends them early, which the
// counts outlive; set back, a wait begins anew, and is no longer than it was.
const (
	WrongAtStation = 10
	MostAtStation  = 20
	MostWrong      = 100
	WrongStrangers = 10
	LongestWait    = 60 * time.Second
	LockedFor      = 15 * time.Minute
)

// try is what is known of wrong PINs.
type try struct {
	Wrong int       `json:"wrong,omitzero"` // in a row
	Last  time.Time `json:"last,omitzero"`  // the latest of them
	Right time.Time `json:"right,omitzero"` // the latest that was right
}

// doubling is how long to wait after so many, from the first that makes one wait.
func doubling(wrong int) time.Duration {
	if wrong < 1 {
		return 0
	}
	if wrong > 6 {
		return LongestWait
	}
	return min(time.Second<<(wrong-1), LongestWait)
}

// left is what is left of a wait that began with the latest wrong PIN.
func (t try) left(wait time.Duration, now time.Time) time.Duration {
	return min(max(0, wait-now.Sub(t.Last)), wait)
}

// at says whether a badge must wait at a station.
func (t try) at(now time.Time) *WaitError {
	switch {
	case t.Wrong >= MostAtStation:
		return &WaitError{Locked: true}
	case t.Wrong >= WrongAtStation:
		if left := t.left(LockedFor, now); left > 0 {
			return &WaitError{Wait: left, Locked: true}
		}
	default:
		if left := t.left(doubling(t.Wrong), now); left > 0 {
			return &WaitError{Wait: left}
		}
	}
	return nil
}

func tryKey(staff, station string) []byte {
	return append(append([]byte(staff), 0), station...)
}

func loadTry(tx *bolt.Tx, bucket string, key []byte) (try, error) {
	raw := tx.Bucket([]byte(bucket)).Get(key)
	if raw == nil {
		return try{}, nil
	}
	return parseTry(bucket, raw)
}

func parseTry(bucket string, raw []byte) (try, error) {
	t, err := parse[try](bucket, raw)
	if err == nil && t.Wrong < 0 {
		err = fmt.Errorf("%w: fewer wrong PINs than none", ErrDamaged)
	}
	return t, err
}

// tries are the counts that a try of a badge at a station is of.
type tries struct {
	bucket         string // that of the first two
	pair, all, any try
	pairKey        []byte
	allKey         []byte
	anyKey         []byte
}

func loadTries(tx *bolt.Tx, known bool, staff, station string) (tries, error) {
	t := tries{bucket: inStrangers, pairKey: tryKey(staff, station), allKey: tryKey(staff, ""), anyKey: tryKey("", station)}
	if known {
		t.bucket = inTries
	}
	var errs [3]error
	t.pair, errs[0] = loadTry(tx, t.bucket, t.pairKey)
	t.all, errs[1] = loadTry(tx, t.bucket, t.allKey)
	t.any, errs[2] = loadTry(tx, inTries, t.anyKey)
	return t, errors.Join(errs[:]...)
}

// wait says whether the badge must wait.
func (t *tries) wait(now time.Time) *WaitError {
	if t.all.Wrong >= MostWrong {
		return &WaitError{Locked: true, Everywhere: true}
	}
	if wait := t.pair.at(now); wait != nil {
		return wait
	}
	if t.pair.Right.IsZero() {
		if left := t.any.left(doubling(t.any.Wrong-WrongStrangers+1), now); left > 0 {
			return &WaitError{Wait: left}
		}
	}
	return nil
}

// setBack begins a wait anew whose beginning is still to come: the clock was set back. It reports whether there was one.
func (t *tries) setBack(now time.Time) bool {
	changed := false
	for _, one := range []*try{&t.pair, &t.all, &t.any} {
		if one.Last.After(now) {
			one.Last, changed = now, true
		}
	}
	return changed
}

// count counts one more.
func (t *tries) count(now time.Time) {
	for _, one := range []*try{&t.pair, &t.all, &t.any} {
		if one == &t.any && !t.pair.Right.IsZero() {
			continue
		}
		one.Wrong++
		one.Last = now
	}
}

// save writes the counts down. Those of unknown badges begin anew when they are too many: nobody real hangs on them.
func (t *tries) save(tx *bolt.Tx) error {
	if b := tx.Bucket([]byte(inStrangers)); t.bucket == inStrangers && b.Get(t.pairKey) == nil {
		if n := b.Sequence(); n >= mostStrangers {
			if err := errors.Join(tx.DeleteBucket([]byte(inStrangers)), made(tx.CreateBucket([]byte(inStrangers)))); err != nil {
				return err
			}
		} else if err := b.SetSequence(n + 1); err != nil {
			return err
		}
	}
	err := errors.Join(putJSON(tx, t.bucket, t.pairKey, t.pair), putJSON(tx, t.bucket, t.allKey, t.all))
	if t.any != (try{}) {
		err = errors.Join(err, putJSON(tx, inTries, t.anyKey, t.any))
	}
	return err
}

func made(_ *bolt.Bucket, err error) error { return err }

// errWait ends a transaction in which a badge must wait and a count was mended.
var errWait = errors.New("a badge must wait")

// countTry takes one more try of a badge at a station, or says how long to wait. It gives the person, if there is one, and how
// many in a row this is there if the PIN is wrong.
func (f *File) countTry(staff, station string) (p *person, wrong int, err error) {
	now := instant(f.o.Now())
	var wait *WaitError
	err = f.update(func(tx *bolt.Tx) error {
		found, known, err := loadPerson(tx, staff)
		if err != nil {
			return err
		}
		if known && found.Removed.IsZero() {
			p = &found
		}
		t, err := loadTries(tx, p != nil, staff, station)
		if err != nil {
			return err
		}
		back := t.setBack(now)
		if wait = t.wait(now); wait != nil {
			if !back {
				return errWait
			}
			return t.save(tx)
		}
		t.count(now)
		wrong = t.pair.Wrong
		return t.save(tx)
	})
	if wait != nil && (err == nil || errors.Is(err, errWait)) {
		return nil, 0, wait
	}
	return p, wrong, err
}

// passed takes back what countTry counted: the PIN was right.
func passed(tx *bolt.Tx, staff, station string, now time.Time) error {
	b := tx.Bucket([]byte(inTries))
	return errors.Join(putJSON(tx, inTries, tryKey(staff, station), try{Right: now}), b.Delete(tryKey(staff, "")), b.Delete(tryKey("", station)))
}

// unlock forgets the wrong PINs of a badge: at one station or, with an empty one, at all of them and everywhere.
func unlock(tx *bolt.Tx, staff, station string) error {
	b := tx.Bucket([]byte(inTries))
	if station != "" {
		t, err := loadTry(tx, inTries, tryKey(staff, station))
		if err != nil || t.Wrong == 0 {
			return err
		}
		return putJSON(tx, inTries, tryKey(staff, station), try{Right: t.Right})
	}
	prefix := tryKey(staff, "")
	var keys [][]byte
	c := b.Cursor()
	for key, _ := c.Seek(prefix); bytes.HasPrefix(key, prefix); key, _ = c.Next() {
		keys = append(keys, bytes.Clone(key))
	}
	for _, key := range keys {
		t, err := loadTry(tx, inTries, key)
		if err != nil {
			return err
		}
		if t.Right.IsZero() {
			err = b.Delete(key)
		} else {
			err = putJSON(tx, inTries, key, try{Right: t.Right})
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// instant is a time as it is stored and comes back.
func instant(t time.Time) time.Time { return t.Round(0).UTC() }
