package staff

import (
	"bytes"
	"fmt"

	bolt "go.etcd.io/bbolt"
)

// Check reads every entry and holds the indexes against what they are of; what does not fit is [ErrDamaged], and says where.
func (f *File) Check() error { return f.view(check) }

// checking collects what an index must hold.
type checking struct {
	tx   *bolt.Tx
	want map[string]map[string]string // bucket → key → value
}

func (c *checking) expect(bucket string, key, value []byte) {
	if c.want[bucket] == nil {
		c.want[bucket] = map[string]string{}
	}
	c.want[bucket][string(key)] = string(value)
}

// each reads the entries of a bucket.
func (c *checking) each(bucket string, read func(key, raw []byte) error) error {
	cursor := c.tx.Bucket([]byte(bucket)).Cursor()
	for key, raw := cursor.First(); key != nil; key, raw = cursor.Next() {
		if err := read(key, raw); err != nil {
			return fmt.Errorf("%s, entry %x: %w", bucket, key, err)
		}
	}
	return nil
}

var errMisplaced = fmt.Errorf("%w: it does not fit its place", ErrDamaged)

func check(tx *bolt.Tx) error {
	c := &checking{tx: tx, want: map[string]map[string]string{}}
	ended := uint64(0)
	steps := []struct {
		bucket string
		read   func(key, raw []byte) error
	}{
		{inStaff, func(key, raw []byte) error {
			p, err := parsePerson(raw)
			if err == nil && p.Key != string(key) {
				err = errMisplaced
			}
			return err
		}},
		{inTries, func(_, raw []byte) error { _, err := parseTry(inTries, raw); return err }},
		{inStrangers, func(_, raw []byte) error { _, err := parseTry(inStrangers, raw); return err }},
		{inStations, func(key, raw []byte) error {
			s, err := parseStation(raw)
			if err == nil && s.Key != string(key) {
				err = errMisplaced
			}
			if err == nil && s.Removed.IsZero() {
				c.expect(inKeys, s.Hash, key)
			}
			return err
		}},
		{inLinks, func(_, raw []byte) error { _, err := parseLink(raw); return err }},
		{inSessions, func(key, raw []byte) error {
			s, err := parseSession(raw)
			if err != nil {
				return err
			}
			if !bytes.Equal(be64(s.Number), key) {
				return errMisplaced
			}
			if s.Ended.IsZero() {
				c.expect(inOpen, key, nil)
				c.expect(inSigned, signedKey(&s), nil)
			} else {
				ended++
				c.expect(inSigned, signedKey(&s), nanos(s.Ended))
			}
			if s.Why != WhyClock { // then it goes on under another number, which has the token
				c.expect(inTokens, s.Hash, key)
			}
			return nil
		}},
		{inDoubts, func(key, raw []byte) error {
			d, err := parseDoubt(raw)
			if err == nil {
				c.expect(inDoubted, []byte(d.ID), key)
			}
			return err
		}},
	}
	for _, step := range steps {
		if err := c.each(step.bucket, step.read); err != nil {
			return err
		}
	}
	if counted := be64of(tx.Bucket([]byte(inMeta)).Get([]byte(metaEnded))); counted != ended {
		return fmt.Errorf("%w: %d sessions have ended, and %d are counted", ErrDamaged, ended, counted)
	}
	for _, bucket := range []string{inKeys, inOpen, inTokens, inSigned, inDoubted} {
		n := 0
		err := c.each(bucket, func(key, value []byte) error {
			n++
			if wanted, ok := c.want[bucket][string(key)]; !ok || wanted != string(value) {
				return errMisplaced
			}
			return nil
		})
		if err != nil {
			return err
		}
		if n != len(c.want[bucket]) {
			return fmt.Errorf("%w: %s has %d entries, of %d", ErrDamaged, bucket, n, len(c.want[bucket]))
		}
	}
	return nil
}
