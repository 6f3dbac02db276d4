package store

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/boltfile"
	"github.com/pottrail/pottrail/tracker"
)

// anyClinic stands in a key of inSerials for clinics that have no counter of their own in that year.
const anyClinic = "*"

// Renewal says how far a ledger that was put back from a copy goes past what may have happened after the copy was made.
type Renewal struct {
	// Serials is how many serials of each clinic and year are passed over, at least 0.
	Serials int
	// Copies is how many copies of each label are passed over, for things that the ledger has heard of; 0 to 34.
	Copies int
	// From and To are the instants between which labels may have been printed that the ledger knows nothing of: from the
	// copy to now. A year that began meanwhile has no counters yet, and its first serials are passed over too.
	From, To time.Time
	// Origin and Random are as in [Options].
	Origin string
	Random io.Reader
}

// Renewed is what [Renew] did.
type Renewed struct {
	Was, Origin string  // the origin before, and the new one
	Serials     []Moved // by clinic and year
}

// Moved is one clinic's serials of one year.
type Moved struct {
	Clinic string `json:"clinic"` // "*": those that had none in that year
	Year   int    `json:"year"`   // its last two digits
	Last   int    `json:"last"`   // the last one handed out according to the ledger
	Next   int    `json:"next"`   // the next one from now on; 0 when none is left of that year
}

// Renew makes a closed ledger that was put back from a copy the ledger of a new origin: what is recorded from now on is a
// log of its own, and what was recorded before stays the old origin's, byte for byte. So a log never goes two ways, though
// the lost ledger may have gone on after the copy. Serials and copies of labels that may be on paper are passed over.
func Renew(path string, r Renewal) (Renewed, error) {
	var out Renewed
	if r.Serials < 0 || r.Serials >= tracker.MaxSerial || r.Copies < 0 || r.Copies > 34 {
		return out, fmt.Errorf("renew ledger %s: %d serials, of 0 to %d, and %d copies, of 0 to 34, cannot be passed over", path, r.Serials, tracker.MaxSerial-1, r.Copies)
	}
	origin, err := Options{Origin: r.Origin, Random: r.Random}.origin()
	if err != nil {
		return out, fmt.Errorf("renew ledger %s: %w", path, err)
	}
	db, err := openExisting(path, Options{}.withDefaults())
	if err != nil {
		return out, fmt.Errorf("renew: %w", err)
	}
	err = boltfile.Update(db, func(tx *bolt.Tx) (err error) {
		meta := tx.Bucket([]byte(inMeta.String()))
		out = Renewed{Was: readHead(tx).origin, Origin: origin}
		known, err := contentsOf(tx)
		if err != nil {
			return err
		}
		if out.Was == origin || slices.ContainsFunc(known.Roots, func(c Checkpoint) bool { return c.Origin == origin }) {
			return fmt.Errorf("origin %q is in it already", origin)
		}
		if out.Serials, err = moveSerials(tx.Bucket([]byte(inSerials.String())), r); err != nil {
			return err
		}
		back, err := addPutBack(meta.Get([]byte(metaPutBack)), PutBack{Seq: known.Entries, From: r.From.UTC(), To: r.To.UTC(), Copies: r.Copies, Passed: out.Serials})
		if err != nil {
			return err
		}
		return errors.Join(meta.Put([]byte(metaOrigin), originValue(origin)), meta.Put([]byte(metaPutBack), back))
	})
	if err = errors.Join(err, db.Close()); err != nil {
		return Renewed{}, fmt.Errorf("renew ledger %s: %w", path, err)
	}
	return out, nil
}

func moveSerials(b *bolt.Bucket, r Renewal) ([]Moved, error) {
	used := map[string]int{}
	err := b.ForEach(func(key, value []byte) error {
		last, err := readSerial(key, value)
		if err == nil && len(key) < 3 {
			err = fmt.Errorf("%w: the serials of %s", ErrDamaged, key)
		}
		used[string(key)] = last
		return err
	})
	if err != nil {
		return nil, err
	}
	// A day more at both ends: which year it is depends on the clinic's zone.
	for year := r.From.AddDate(0, 0, -1).UTC().Year(); year <= r.To.AddDate(0, 0, 1).UTC().Year(); year++ {
		if key := serialKey(anyClinic, year%100); used[key] == 0 {
			used[key] = 0
		}
	}
	var out []Moved
	for key, last := range used {
		clinic, digits := key[:len(key)-2], key[len(key)-2:]
		moved := Moved{Clinic: clinic, Year: int(digits[0]-'0')*10 + int(digits[1]-'0'), Last: last}
		next := min(last+r.Serials, tracker.MaxSerial)
		if next < tracker.MaxSerial {
			moved.Next = next + 1
		}
		if err := b.Put([]byte(key), serialValue(key, next)); err != nil {
			return nil, err
		}
		out = append(out, moved)
	}
	slices.SortFunc(out, func(a, b Moved) int { return cmp.Or(cmp.Compare(a.Clinic, b.Clinic), cmp.Compare(a.Year, b.Year)) })
	return out, nil
}

// serialsUsed is the last serial handed out of a clinic and year.
func (s state) serialsUsed(clinic string, year int) int {
	if used, ok := s.serials[serialKey(clinic, year)]; ok {
		return used
	}
	return s.serials[serialKey(anyClinic, year)]
}
