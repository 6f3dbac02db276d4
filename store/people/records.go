package people

import (
	"bytes"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
	"unicode"

	"github.com/go-json-experiment/json"
	bolt "go.etcd.io/bbolt"
)

// refSize is the length of a ref in random bytes: 128 bits are never met again, and never guessed.
const refSize = 16

// NewRef makes a ref for a patient who has none: 32 hexadecimal digits that mean nothing.
func NewRef() (string, error) {
	raw := make([]byte, refSize)
	if _, err := rand.Read(raw); err != nil {
		return "", fmt.Errorf("random ref: %w", err)
	}
	return hex.EncodeToString(raw), nil
}

// longestRef bounds refs that others made, in bytes.
const longestRef = 128

func checkRef(ref string) error {
	if ref == "" || len(ref) > longestRef || strings.ContainsFunc(ref, func(r rune) bool { return !unicode.IsPrint(r) }) {
		return fmt.Errorf("%w: 1 to %d printable characters are wanted", ErrRef, longestRef)
	}
	return nil
}

// Put seals a person under a ref, in place of what was there, with a key of its own. It is on disk when it returns.
func (f *File) Put(ref string, p Person) error {
	if err := checkRef(ref); err != nil {
		return err
	}
	text, err := json.Marshal(record(p))
	if err != nil {
		return errors.New("seal a person: the record cannot be written down") // the cause may hold what it says
	}
	f.mu.RLock()
	defer f.mu.RUnlock()
	err = f.update(func(tx *bolt.Tx) error {
		if tx.Bucket([]byte(inGone)).Get([]byte(ref)) != nil {
			return fmt.Errorf("%w, and its ref is not given out again", ErrForgotten)
		}
		old, ok, err := f.read(tx, ref)
		if err != nil && !errors.Is(err, ErrSealed) {
			return err
		}
		if ok {
			if err := f.unlist(tx, ref, old); err != nil {
				return err
			}
		}
		key, err := randomKey()
		if err != nil {
			return err
		}
		if err := f.store(tx, ref, key, text); err != nil {
			return err
		}
		return f.list(tx, ref, p)
	})
	if err != nil {
		return fmt.Errorf("seal a person: %w", err)
	}
	return nil
}

// store seals a record and its key.
func (f *File) store(tx *bolt.Tx, ref string, key, text []byte) error {
	sealed, err := seal(key, text, inRecords+ref)
	if err != nil {
		return err
	}
	wrapped, err := seal(f.wrap, key, inKeys+ref)
	if err != nil {
		return err
	}
	return errors.Join(
		tx.Bucket([]byte(inRecords)).Put([]byte(ref), sealed),
		tx.Bucket([]byte(inKeys)).Put([]byte(ref), wrapped),
	)
}

// Get opens the record under a ref; ok is false when there is none, or it was forgotten.
func (f *File) Get(ref string) (p Person, ok bool, err error) {
	f.mu.RLock()
	defer f.mu.RUnlock()
	err = f.db.View(func(tx *bolt.Tx) (err error) {
		p, ok, err = f.read(tx, ref)
		return err
	})
	if err != nil {
		return Person{}, false, fmt.Errorf("open a person's record: %w", err)
	}
	return p, ok, nil
}

func (f *File) read(tx *bolt.Tx, ref string) (Person, bool, error) {
	if ref == "" {
		return Person{}, false, nil
	}
	wrapped, sealed := tx.Bucket([]byte(inKeys)).Get([]byte(ref)), tx.Bucket([]byte(inRecords)).Get([]byte(ref))
	if wrapped == nil || sealed == nil {
		return Person{}, false, nil
	}
	key, err := unseal(f.wrap, wrapped, inKeys+ref)
	if err != nil {
		return Person{}, false, err
	}
	text, err := unseal(key, sealed, inRecords+ref)
	if err != nil {
		return Person{}, false, err
	}
	var r record
	if err := json.Unmarshal(text, &r); err != nil {
		return Person{}, false, fmt.Errorf("%w: it is not a record", ErrSealed) // the cause may hold what it says
	}
	return Person(r), true, nil
}

// Found is one answer of [File.Find].
type Found struct {
	Ref    string
	Person Person
}

// Query says whom to look for: by a number, or by family name and birth date together. Empty fields ask nothing.
type Query struct {
	RecordNumber   string
	NationalNumber string
	Family         string
	BirthDate      string
}

// String hides whom is looked for.
func (Query) String() string { return hidden }

// Format hides whom is looked for from every verb.
func (Query) Format(s fmt.State, _ rune) { _, _ = s.Write([]byte(hidden)) }

// Find looks people up by index: everybody who fits one of the record number, the national number, or family name with
// birth date. Letters' case, accents, spaces and hyphens do not matter.
func (f *File) Find(q Query) ([]Found, error) {
	f.mu.RLock()
	defer f.mu.RUnlock()
	var out []Found
	err := f.db.View(func(tx *bolt.Tx) error {
		seen := map[string]bool{}
		c := tx.Bucket([]byte(inIndex)).Cursor()
		for _, mark := range f.marks(Person{RecordNumber: q.RecordNumber, NationalNumber: q.NationalNumber, Family: q.Family, BirthDate: q.BirthDate}) {
			for key, _ := c.Seek(mark); bytes.HasPrefix(key, mark); key, _ = c.Next() {
				ref := string(key[len(mark):])
				if seen[ref] {
					continue
				}
				seen[ref] = true
				p, ok, err := f.read(tx, ref)
				if err != nil {
					return err
				}
				if ok {
					out = append(out, Found{Ref: ref, Person: p})
				}
			}
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("find a person: %w", err)
	}
	return out, nil
}

// marks are the blinded entries of a person in the index.
func (f *File) marks(p Person) [][]byte {
	var out [][]byte
	add := func(field, value string) {
		if value != "" {
			out = append(out, blind(f.index, field, value))
		}
	}
	add("record-number", squeeze(p.RecordNumber))
	add("national-number", squeeze(p.NationalNumber))
	if family, born := squeeze(p.Family), squeeze(p.BirthDate); family != "" && born != "" {
		add("family birth-date", family+" "+born)
	}
	return out
}

func (f *File) list(tx *bolt.Tx, ref string, p Person) error {
	var err error
	for _, mark := range f.marks(p) {
		err = errors.Join(err, tx.Bucket([]byte(inIndex)).Put(append(mark, ref...), nil))
	}
	return err
}

func (f *File) unlist(tx *bolt.Tx, ref string, p Person) error {
	var err error
	for _, mark := range f.marks(p) {
		err = errors.Join(err, tx.Bucket([]byte(inIndex)).Delete(append(mark, ref...)))
	}
	return err
}
