package people

import (
	"encoding/binary"
	"errors"
	"fmt"
	"time"

	"github.com/go-json-experiment/json"
	bolt "go.etcd.io/bbolt"
)

// Read is a note of who was shown what of whom. Why and How hold no identifier: whoever makes the note sees to it.
type Read struct {
	At      time.Time `json:"at"`
	By      string    `json:"by"`
	Station string    `json:"station,omitzero"`
	Ref     string    `json:"ref,omitzero"` // of the patient; "" when nobody was found, or more than one was shown
	How     string    `json:"how"`          // what was asked: "find", "labels"
	Why     string    `json:"why,omitzero"`
}

// NoteReads seals notes of who read what, all or none; they are on disk when it returns, so that what they are about may then
// be shown. When there are too many the oldest make way, and are counted.
func (f *File) NoteReads(reads ...Read) error {
	if len(reads) == 0 {
		return nil
	}
	f.mu.RLock()
	defer f.mu.RUnlock()
	err := f.update(func(tx *bolt.Tx) error {
		list, meta := tx.Bucket([]byte(inReads)), tx.Bucket([]byte(inMeta))
		var last uint64
		for _, r := range reads {
			text, err := json.Marshal(r)
			if err != nil {
				return errors.New("it cannot be written down") // the cause may hold what it says
			}
			if last, err = list.NextSequence(); err != nil {
				return err
			}
			key := binary.BigEndian.AppendUint64(nil, last)
			sealed, err := seal(f.reads, text, inReads+string(key))
			if err != nil {
				return err
			}
			if err := list.Put(key, sealed); err != nil {
				return err
			}
		}
		dropped := readCount(meta, metaUnread)
		c := list.Cursor()
		for first, _ := c.First(); first != nil && last-binary.BigEndian.Uint64(first)+1 > uint64(f.options.ReadsCount); first, _ = c.First() {
			if err := c.Delete(); err != nil {
				return err
			}
			dropped++
		}
		return writeCount(meta, metaUnread, dropped)
	})
	if err != nil {
		return fmt.Errorf("note who read: %w", err)
	}
	return nil
}

// Reads opens the notes of who read what, the latest first, at most limit (0: all), of one ref or, with "", of everybody. It
// says how many earlier ones made way.
func (f *File) Reads(ref string, limit int) (list []Read, dropped uint64, err error) {
	f.mu.RLock()
	defer f.mu.RUnlock()
	err = f.db.View(func(tx *bolt.Tx) error {
		dropped = readCount(tx.Bucket([]byte(inMeta)), metaUnread)
		c := tx.Bucket([]byte(inReads)).Cursor()
		for key, sealed := c.Last(); key != nil && (limit < 1 || len(list) < limit); key, sealed = c.Prev() {
			text, err := unseal(f.reads, sealed, inReads+string(key))
			if err != nil {
				return err
			}
			var r Read
			if json.Unmarshal(text, &r) != nil {
				return fmt.Errorf("%w: it is not a note of who read", ErrSealed)
			}
			if ref == "" || r.Ref == ref {
				list = append(list, r)
			}
		}
		return nil
	})
	if err != nil {
		return nil, 0, fmt.Errorf("open the notes of who read: %w", err)
	}
	return list, dropped, nil
}
