package staff

import (
	"errors"
	"fmt"
	"slices"
	"time"

	bolt "go.etcd.io/bbolt"
)

// Doubt is a physical step that was recorded, as every one is, though nobody vouched for whom it names. It holds no patient.
type Doubt struct {
	ID       string    `json:"id"`   // of the event
	Kind     string    `json:"kind"` // of the event
	Clinic   string    `json:"clinic,omitzero"`
	By       string    `json:"by"`                 // whom the event names
	At       time.Time `json:"at"`                 // when it says it happened
	Station  string    `json:"station"`            // where it says
	SignedIn string    `json:"signed_in,omitzero"` // who was signed in
	From     string    `json:"from,omitzero"`      // the enrolled station or account that sent it
	Recorded time.Time `json:"recorded"`
	Why      string    `json:"why"` // a sentence
}

// longestDoubt bounds what is kept of one, in bytes of JSON. An event's fields may be long; what does not fit is cut.
const longestField = 200

func parseDoubt(raw []byte) (Doubt, error) {
	d, err := parse[Doubt](inDoubts, raw)
	if err == nil && d.ID == "" {
		err = fmt.Errorf("%w: a doubt is about nothing", ErrDamaged)
	}
	return d, err
}

// NoteDoubts writes doubts down, all or none; one about an event that has one already changes nothing. When there are too
// many the oldest make way, and are counted.
func (f *File) NoteDoubts(doubts ...Doubt) error {
	if len(doubts) == 0 {
		return nil
	}
	return f.update(func(tx *bolt.Tx) error {
		list, known, meta := tx.Bucket([]byte(inDoubts)), tx.Bucket([]byte(inDoubted)), tx.Bucket([]byte(inMeta))
		for _, d := range doubts {
			d.trim()
			if d.ID == "" || known.Get([]byte(d.ID)) != nil {
				continue
			}
			n, err := list.NextSequence()
			if err != nil {
				return err
			}
			if err := errors.Join(putJSON(tx, inDoubts, be64(n), d), known.Put([]byte(d.ID), be64(n))); err != nil {
				return err
			}
		}
		last := list.Sequence()
		var old [][]byte
		c := list.Cursor()
		for key, raw := c.First(); key != nil && last-be64of(key) >= MostDoubts; key, raw = c.Next() {
			d, err := parseDoubt(raw)
			if err != nil {
				return err
			}
			old = append(old, slices.Clone(key))
			if err := known.Delete([]byte(d.ID)); err != nil {
				return err
			}
		}
		for _, key := range old {
			if err := list.Delete(key); err != nil {
				return err
			}
		}
		if len(old) == 0 {
			return nil
		}
		return meta.Put([]byte(metaDropped), be64(be64of(meta.Get([]byte(metaDropped)))+uint64(len(old))))
	})
}

func (d *Doubt) trim() {
	d.At, d.Recorded = instant(d.At), instant(d.Recorded)
	for _, field := range []*string{&d.ID, &d.Kind, &d.Clinic, &d.By, &d.Station, &d.SignedIn, &d.From, &d.Why} {
		*field = cut(*field, longestField)
	}
}

// cut is the beginning of a text, whole characters only.
func cut(text string, most int) string {
	if len(text) <= most {
		return text
	}
	at := 0
	for i := range text {
		if i > most {
			break
		}
		at = i
	}
	return text[:at]
}

// Doubts lists the doubts, the latest first, at most limit (0: all), and says how many earlier ones made way.
func (f *File) Doubts(limit int) (list []Doubt, dropped uint64, err error) {
	list = []Doubt{}
	err = f.view(func(tx *bolt.Tx) error {
		dropped = be64of(tx.Bucket([]byte(inMeta)).Get([]byte(metaDropped)))
		c := tx.Bucket([]byte(inDoubts)).Cursor()
		for key, raw := c.Last(); key != nil && (limit < 1 || len(list) < limit); key, raw = c.Prev() {
			d, err := parseDoubt(raw)
			if err != nil {
				return err
			}
			list = append(list, d)
		}
		return nil
	})
	return list, dropped, err
}
