package staff

import (
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// Station is a screen, phone or scanner at which people sign in.
type Station struct {
	Key      string    `json:"key"`
	Clinic   string    `json:"clinic,omitzero"`
	Place    string    `json:"place,omitzero"`
	Shared   bool      `json:"shared,omitzero"` // by several people
	Enrolled time.Time `json:"enrolled,omitzero"`
	By       string    `json:"by"`
	Seen     time.Time `json:"seen,omitzero"`
	Removed  time.Time `json:"removed,omitzero"`
}

// idle is how long nothing may be done there.
func (s Station) idle() time.Duration {
	if s.Shared {
		return IdleShared
	}
	return IdleOwn
}

// station is one as it is stored.
type station struct {
	Station
	Hash []byte `json:"hash"` // of its secret
}

// link is a one-time link as it is stored.
type link struct {
	Station
	Made time.Time `json:"made"`
}

// digest is the SHA-256 of a secret of 256 random bits: nobody finds those by trying, so nothing slower is needed.
type digest [sha256.Size]byte

func hashOf(secret string) digest { return sha256.Sum256([]byte(secret)) }

// secretSize is the length of a secret, in bytes.
const secretSize = 32

// newSecret draws one, for an address: 43 characters.
func (f *File) newSecret() (string, error) {
	raw := make([]byte, secretSize)
	if _, err := io.ReadFull(f.o.Random, raw); err != nil {
		return "", fmt.Errorf("draw a key: %w", err)
	}
	return base64.RawURLEncoding.EncodeToString(raw), nil
}

func parseStation(raw []byte) (station, error) {
	s, err := parse[station](inStations, raw)
	if err == nil && (!protocol.IsStaffKey(s.Key) || len(s.Hash) != sha256.Size) {
		err = fmt.Errorf("%w: a station has no key", ErrDamaged)
	}
	return s, err
}

func parseLink(raw []byte) (link, error) {
	l, err := parse[link](inLinks, raw)
	if err == nil && !protocol.IsStaffKey(l.Key) {
		err = fmt.Errorf("%w: a link is of no station", ErrDamaged)
	}
	return l, err
}

func loadStation(tx *bolt.Tx, key string) (s station, ok bool, err error) {
	raw := tx.Bucket([]byte(inStations)).Get([]byte(key))
	if key == "" || raw == nil {
		return station{}, false, nil
	}
	if s, err = parseStation(raw); err == nil && s.Key != key {
		err = fmt.Errorf("%w: a station does not fit its place", ErrDamaged)
	}
	return s, err == nil, err
}

// good reports whether a link may still be used: neither too old nor, by a clock that was set back since, of a time to come.
func (l link) good(now time.Time) bool {
	age := now.Sub(l.Made)
	return age < LinkLife && age > -Tolerance
}

// NewLink makes a one-time link by which a device becomes this station. A station of that name keeps its key until the link is
// used. Of the station, Key, Clinic, Place, Shared and By are taken. Errors wrap [ErrStaffKey] or [ErrTooMany].
func (f *File) NewLink(s Station) (token string, until time.Time, err error) {
	if !protocol.IsStaffKey(s.Key) {
		return "", time.Time{}, ErrStaffKey
	}
	if token, err = f.newSecret(); err != nil {
		return "", time.Time{}, err
	}
	now := instant(f.o.Now())
	hash := hashOf(token)
	err = f.update(func(tx *bolt.Tx) error {
		if err := forgetLinks(tx, now); err != nil {
			return err
		}
		if tx.Bucket([]byte(inLinks)).Inspect().KeyN >= MostLinks {
			return fmt.Errorf("%w: %d links wait to be used, and are good for half an hour", ErrTooMany, MostLinks)
		}
		return putJSON(tx, inLinks, hash[:], link{Station{Key: s.Key, Clinic: s.Clinic, Place: s.Place, Shared: s.Shared, By: s.By}, now})
	})
	if err != nil {
		return "", time.Time{}, err
	}
	return token, now.Add(LinkLife), nil
}

// forgetLinks removes links that nobody can use any more.
func forgetLinks(tx *bolt.Tx, now time.Time) error {
	b := tx.Bucket([]byte(inLinks))
	var old [][]byte
	c := b.Cursor()
	for key, raw := c.First(); key != nil; key, raw = c.Next() {
		l, err := parseLink(raw)
		if err != nil {
			return err
		}
		if !l.good(now) {
			old = append(old, append([]byte(nil), key...))
		}
	}
	for _, key := range old {
		if err := b.Delete(key); err != nil {
			return err
		}
	}
	return nil
}

// Enrol uses a one-time link and gives the station its key, which is kept nowhere. An earlier key of that station is good no
// longer, and its sessions end. Errors wrap [ErrLink] or [ErrTooMany].
func (f *File) Enrol(token string) (Station, string, error) {
	secret, err := f.newSecret()
	if err != nil {
		return Station{}, "", err
	}
	f.changing.Lock()
	defer f.changing.Unlock()
	now := instant(f.o.Now())
	hash := hashOf(token)
	var s Station
	var gone []*live
	err = f.update(func(tx *bolt.Tx) error {
		links := tx.Bucket([]byte(inLinks))
		raw := links.Get(hash[:])
		if raw == nil {
			return ErrLink
		}
		l, err := parseLink(raw)
		if err != nil {
			return err
		}
		if !l.good(now) {
			return ErrLink
		}
		s = l.Station
		s.Enrolled, s.Seen = now, now
		gone = f.matching(func(l *live) bool { return l.Station == s.Key })
		return errors.Join(links.Delete(hash[:]), putStation(tx, s, secret), f.endAll(tx, gone, WhyRemoved))
	})
	if err != nil {
		return Station{}, "", err
	}
	f.dropped(gone)
	return s, secret, nil
}

// putStation writes a station down with a new key in place of any other.
func putStation(tx *bolt.Tx, s Station, secret string) error {
	old, known, err := loadStation(tx, s.Key)
	if err != nil {
		return err
	}
	keys := tx.Bucket([]byte(inKeys))
	if known {
		err = keys.Delete(old.Hash)
	} else if tx.Bucket([]byte(inStations)).Inspect().KeyN >= MostStations {
		err = fmt.Errorf("%w: %d stations, those included that were taken off it", ErrTooMany, MostStations)
	}
	hash := hashOf(secret)
	return errors.Join(err, keys.Put(hash[:], []byte(s.Key)), putJSON(tx, inStations, []byte(s.Key), station{s, hash[:]}))
}

// Station is whose secret this is; it counts as being seen. Errors wrap [ErrStation].
func (f *File) Station(secret string) (Station, error) {
	s, err := f.stationOf(secret)
	if err != nil {
		return Station{}, err
	}
	now := instant(f.o.Now())
	if since := now.Sub(s.Seen); since < seenEvery && since > -seenEvery {
		return s.Station, nil
	}
	err = f.update(func(tx *bolt.Tx) error {
		s, known, err := loadStation(tx, s.Key)
		if err != nil || !known {
			return err
		}
		s.Seen = now
		return putJSON(tx, inStations, []byte(s.Key), s)
	})
	if errors.Is(err, ErrNoSpace) || errors.Is(err, ErrFatal) { // it is known all the same
		err = nil
	}
	s.Seen = now
	return s.Station, err
}

func (f *File) stationOf(secret string) (s station, err error) {
	hash := hashOf(secret)
	err = f.view(func(tx *bolt.Tx) error {
		key := tx.Bucket([]byte(inKeys)).Get(hash[:])
		if key == nil {
			return ErrStation
		}
		var known bool
		s, known, err = loadStation(tx, string(key))
		if err == nil && (!known || digest(s.Hash) != hash) {
			err = fmt.Errorf("%w: a station does not fit its key", ErrDamaged)
		}
		if err == nil && !s.Removed.IsZero() {
			err = ErrStation
		}
		return err
	})
	return s, err
}

// Stations lists the stations that are or were enrolled, by key.
func (f *File) Stations() ([]Station, error) {
	out := []Station{}
	err := f.view(func(tx *bolt.Tx) error {
		c := tx.Bucket([]byte(inStations)).Cursor()
		for key, raw := c.First(); key != nil; key, raw = c.Next() {
			s, err := parseStation(raw)
			if err != nil {
				return err
			}
			out = append(out, s.Station)
		}
		return nil
	})
	return out, err
}

// RemoveStation takes a station off the list: its key is good no longer, links to it die, and its sessions end. Errors wrap
// [ErrNoStation].
func (f *File) RemoveStation(key string) error {
	f.changing.Lock()
	defer f.changing.Unlock()
	now := instant(f.o.Now())
	gone := f.matching(func(l *live) bool { return l.Station == key })
	err := f.update(func(tx *bolt.Tx) error {
		s, known, err := loadStation(tx, key)
		if err != nil {
			return err
		}
		if !known || !s.Removed.IsZero() {
			return ErrNoStation
		}
		s.Removed = now
		return errors.Join(tx.Bucket([]byte(inKeys)).Delete(s.Hash), putJSON(tx, inStations, []byte(key), s), deleteLinks(tx, key), f.endAll(tx, gone, WhyRemoved))
	})
	if err == nil {
		f.dropped(gone)
	}
	return err
}

// deleteLinks removes the links that lead to a station.
func deleteLinks(tx *bolt.Tx, key string) error {
	b := tx.Bucket([]byte(inLinks))
	var of [][]byte
	c := b.Cursor()
	for hash, raw := c.First(); hash != nil; hash, raw = c.Next() {
		l, err := parseLink(raw)
		if err != nil {
			return err
		}
		if l.Key == key {
			of = append(of, append([]byte(nil), hash...))
		}
	}
	for _, hash := range of {
		if err := b.Delete(hash); err != nil {
			return err
		}
	}
	return nil
}
