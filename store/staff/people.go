package staff

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/sealing"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// Person is somebody who may sign in, or once might.
type Person struct {
	Key       string
	Added     time.Time
	AddedBy   string
	Changed   time.Time // their PIN, or whether they are on the list
	ChangedBy string
	Removed   time.Time // zero while they are on the list
	// NoPIN says that the PIN was sealed under a key that is lost: they need a new one.
	NoPIN bool
	// Locked says where too many wrong PINs were tried, by station; "" is everywhere.
	Locked []Locked
}

// Locked is where a badge must wait, and for how long.
type Locked struct {
	Station    string
	Wrong      int
	Last       time.Time
	OpensAfter time.Duration // from now on; 0: not by itself
}

// person is somebody as they are stored.
type person struct {
	Key       string    `json:"key"`
	PIN       []byte    `json:"pin"` // sealed
	Added     time.Time `json:"added"`
	AddedBy   string    `json:"added_by"`
	Changed   time.Time `json:"changed"`
	ChangedBy string    `json:"changed_by"`
	Removed   time.Time `json:"removed,omitzero"`
}

// about binds a sealed PIN to whose it is.
func (p *person) about() string { return inStaff + " " + p.Key }

func parsePerson(raw []byte) (person, error) {
	p, err := parse[person](inStaff, raw)
	if err == nil && !protocol.IsStaffKey(p.Key) {
		err = fmt.Errorf("%w: somebody has no key", ErrDamaged)
	}
	return p, err
}

func loadPerson(tx *bolt.Tx, key string) (p person, ok bool, err error) {
	raw := tx.Bucket([]byte(inStaff)).Get([]byte(key))
	if key == "" || raw == nil {
		return person{}, false, nil
	}
	if p, err = parsePerson(raw); err == nil && p.Key != key {
		err = fmt.Errorf("%w: somebody does not fit their place", ErrDamaged)
	}
	return p, err == nil, err
}

func eachPerson(tx *bolt.Tx, do func(person)) error {
	c := tx.Bucket([]byte(inStaff)).Cursor()
	for key, raw := c.First(); key != nil; key, raw = c.Next() {
		p, err := parsePerson(raw)
		if err == nil && p.Key != string(key) {
			err = fmt.Errorf("%w: somebody does not fit their place", ErrDamaged)
		}
		if err != nil {
			return err
		}
		do(p)
	}
	return nil
}

// InForce reports whether somebody was ever on the list: from then on people sign in.
func (f *File) InForce() bool { return f.inForce.Load() }

// Known reports whether somebody is on the list now.
func (f *File) Known(staff string) (known bool, err error) {
	err = f.view(func(tx *bolt.Tx) error {
		p, ok, err := loadPerson(tx, staff)
		known = ok && p.Removed.IsZero()
		return err
	})
	return known, err
}

// hash hashes a new PIN, which must be good enough.
func (f *File) hash(ctx context.Context, staff, pin string) (string, error) {
	if !protocol.IsStaffKey(staff) {
		return "", ErrStaffKey
	}
	if err := CheckPIN(staff, pin); err != nil {
		return "", err
	}
	back, err := f.hashes.turn(ctx)
	if err != nil {
		return "", err
	}
	defer back()
	h, err := f.hashes.make(pin)
	return h.String(), err
}

// seal puts a hashed PIN to a person.
func (f *File) seal(p *person, hashed string) (err error) {
	p.PIN, err = sealing.Seal(f.sealKey(), []byte(hashed), p.about())
	return err
}

// Add puts somebody on the list, or back on it, with a PIN that was chosen by them. Errors wrap [ErrStaffKey], [ErrKnown],
// [ErrTooMany], [ErrBusy], or are a [PINError].
func (f *File) Add(ctx context.Context, staff, pin, by string) error {
	hashed, err := f.hash(ctx, staff, pin)
	if err != nil {
		return err
	}
	f.changing.Lock()
	defer f.changing.Unlock()
	now := instant(f.o.Now())
	err = f.update(func(tx *bolt.Tx) error { return f.add(tx, staff, hashed, by, now) })
	if err == nil {
		f.inForce.Store(true)
		f.forgetSetUp()
	}
	return err
}

func (f *File) add(tx *bolt.Tx, staff, hashed, by string, now time.Time) error {
	p, known, err := loadPerson(tx, staff)
	switch {
	case err != nil:
		return err
	case known && p.Removed.IsZero():
		return fmt.Errorf("%s %w", staff, ErrKnown)
	case !known:
		if tx.Bucket([]byte(inStaff)).Inspect().KeyN >= MostStaff {
			return fmt.Errorf("%w: %d people, those included who were taken off it", ErrTooMany, MostStaff)
		}
		p = person{Key: staff, Added: now, AddedBy: by}
	}
	p.Removed, p.Changed, p.ChangedBy = time.Time{}, now, by
	if err := f.seal(&p, hashed); err != nil {
		return err
	}
	return errors.Join(
		putJSON(tx, inStaff, []byte(staff), p),
		unlock(tx, staff, ""),
		tx.Bucket([]byte(inMeta)).Put([]byte(metaForce), []byte{1}),
	)
}

// SetPIN gives somebody on the list a new PIN, unlocks their badge, and ends their sessions. Errors wrap [ErrNobody], [ErrBusy],
// or are a [PINError].
func (f *File) SetPIN(ctx context.Context, staff, pin, by string) error {
	hashed, err := f.hash(ctx, staff, pin)
	if err != nil {
		return err
	}
	return f.change(staff, by, WhyPIN, func(tx *bolt.Tx, p *person) error {
		return errors.Join(f.seal(p, hashed), unlock(tx, staff, ""))
	})
}

// Remove takes somebody off the list, and ends their sessions. Who they were stays known. Errors wrap [ErrNobody].
func (f *File) Remove(staff, by string) error {
	return f.change(staff, by, WhyRemoved, func(_ *bolt.Tx, p *person) error {
		p.Removed = p.Changed
		return nil
	})
}

// change changes somebody on the list and ends their sessions.
func (f *File) change(staff, by string, why Why, do func(tx *bolt.Tx, p *person) error) error {
	f.changing.Lock()
	defer f.changing.Unlock()
	now := instant(f.o.Now())
	gone := f.matching(func(l *live) bool { return l.Staff == staff })
	err := f.update(func(tx *bolt.Tx) error {
		p, known, err := loadPerson(tx, staff)
		if err != nil {
			return err
		}
		if !known || !p.Removed.IsZero() {
			return fmt.Errorf("%s %w", staff, ErrNobody)
		}
		p.Changed, p.ChangedBy = now, by
		if err := do(tx, &p); err != nil {
			return err
		}
		if err := putJSON(tx, inStaff, []byte(staff), p); err != nil {
			return err
		}
		return f.endAll(tx, gone, why)
	})
	if err == nil {
		f.dropped(gone)
	}
	return err
}

// Unlock forgets the wrong PINs of a badge: at one station or, with an empty one, at all of them. Errors wrap [ErrNobody].
func (f *File) Unlock(staff, station string) error {
	return f.update(func(tx *bolt.Tx) error {
		p, known, err := loadPerson(tx, staff)
		if err != nil {
			return err
		}
		if !known || !p.Removed.IsZero() {
			return fmt.Errorf("%s %w", staff, ErrNobody)
		}
		return unlock(tx, staff, station)
	})
}

// People lists everybody who is or was on the list, by key.
func (f *File) People() ([]Person, error) {
	out := []Person{}
	now, key := f.o.Now(), f.sealKey()
	err := f.view(func(tx *bolt.Tx) error {
		var failed error
		err := eachPerson(tx, func(p person) {
			_, unsealed := sealing.Unseal(key, p.PIN, p.about())
			shown := Person{Key: p.Key, Added: p.Added, AddedBy: p.AddedBy, Changed: p.Changed, ChangedBy: p.ChangedBy, Removed: p.Removed, NoPIN: unsealed != nil}
			locked, err := lockedAt(tx, p.Key, now)
			shown.Locked, failed = locked, errors.Join(failed, err)
			out = append(out, shown)
		})
		return errors.Join(err, failed)
	})
	return out, err
}

// lockedAt lists where a badge needs somebody, or a long wait.
func lockedAt(tx *bolt.Tx, staff string, now time.Time) ([]Locked, error) {
	var out []Locked
	prefix := tryKey(staff, "")
	c := tx.Bucket([]byte(inTries)).Cursor()
	for key, raw := c.Seek(prefix); bytes.HasPrefix(key, prefix); key, raw = c.Next() {
		t, err := parseTry(inTries, raw)
		if err != nil {
			return nil, err
		}
		at := Locked{Station: string(key[len(prefix):]), Wrong: t.Wrong, Last: t.Last}
		switch {
		case at.Station == "" && t.Wrong >= MostWrong, at.Station != "" && t.Wrong >= MostAtStation:
		case at.Station != "" && t.Wrong >= WrongAtStation:
			at.OpensAfter = max(t.left(LockedFor, now), time.Second)
		default:
			continue
		}
		out = append(out, at)
	}
	return out, nil
}

// badge is the staff key that a badge says, as scanned or typed; "?" stands for what is none, so that it takes as long.
func badge(text string) string {
	key := strings.TrimSpace(text)
	if rest, ok := strings.CutPrefix(key, "B:"); ok {
		key = rest
	}
	if !protocol.IsStaffKey(key) {
		return "?"
	}
	return key
}
