package staff

import (
	"context"
	"crypto/subtle"
	"errors"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// setUpLink is the one-time link of the first run. It is kept in memory alone: each start makes a new one.
type setUpLink struct {
	hash digest
	made time.Duration
}

// NewSetUpLink makes the one-time link by which the first administrator is set up, in place of any before. Errors wrap
// [ErrSetUp] when somebody is on the list already.
func (f *File) NewSetUpLink() (token string, until time.Time, err error) {
	if token, err = f.newSecret(); err != nil {
		return "", time.Time{}, err
	}
	f.changing.Lock()
	defer f.changing.Unlock()
	if f.InForce() {
		return "", time.Time{}, ErrSetUp
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.setUp = &setUpLink{hashOf(token), f.o.Steady()}
	return token, f.o.Now().Add(LinkLife), nil
}

func (f *File) forgetSetUp() {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.setUp = nil
}

// setUpGood reports whether a token is that of the link, and still good.
func (f *File) setUpGood(token string) bool {
	hash := hashOf(token)
	f.mu.RLock()
	defer f.mu.RUnlock()
	link := f.setUp
	return link != nil && subtle.ConstantTimeCompare(hash[:], link.hash[:]) == 1 && f.o.Steady()-link.made < LinkLife
}

// SetUp uses the link of the first run: it puts the first person on the list, enrols the station, which several people may
// use, and signs in. It gives the station's key, which is kept nowhere. A PIN or a key that is not taken leaves the link good.
// Errors wrap [ErrLink], [ErrStaffKey] or [ErrBusy], or are a [PINError]; without a good link they are [ErrLink], whatever
// else is wrong.
func (f *File) SetUp(ctx context.Context, token, staff, pin, stationKey string) (*SignedIn, string, error) {
	if !f.setUpGood(token) {
		return nil, "", ErrLink
	}
	if !protocol.IsStaffKey(stationKey) {
		return nil, "", &StationKeyError{}
	}
	hashed, err := f.hash(ctx, staff, pin)
	if err != nil {
		return nil, "", err
	}
	secret, err := f.newSecret()
	if err != nil {
		return nil, "", err
	}
	session, err := f.newSecret()
	if err != nil {
		return nil, "", err
	}
	f.changing.Lock()
	defer f.changing.Unlock()
	if !f.setUpGood(token) { // somebody was quicker
		return nil, "", ErrLink
	}
	now := instant(f.o.Now())
	at := Station{Key: stationKey, Shared: true, Enrolled: now, By: staff, Seen: now}
	var l *live
	var gone []*live
	err = f.update(func(tx *bolt.Tx) error {
		if err := errors.Join(f.add(tx, staff, hashed, staff, now), putStation(tx, at, secret)); err != nil {
			return err
		}
		l, gone, err = f.openSession(tx, staff, at, session)
		return err
	})
	if err != nil {
		return nil, "", err
	}
	f.inForce.Store(true)
	f.forgetSetUp()
	f.keep(l, gone...)
	return f.signedIn(l, session, at), secret, nil
}

// StationKeyError says that a text cannot name a station. It is an [ErrStaffKey].
type StationKeyError struct{}

// Error says what can.
func (*StationKeyError) Error() string { return "of the station: " + ErrStaffKey.Error() }

// Unwrap is [ErrStaffKey].
func (*StationKeyError) Unwrap() error { return ErrStaffKey }
