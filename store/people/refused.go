package people

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
	bolt "go.etcd.io/bbolt"
)

// Refused is a message that intake refused.
type Refused struct {
	At    time.Time `json:"at"`
	Code  string    `json:"code"`  // why, as the verdict said
	Field string    `json:"field"` // where
	Text  string    `json:"text"`  // in words
	Data  []byte    `json:"data"`  // the message as it came
}

// mentions reports whether a refused message names a person, in what it says or as it says it in JSON.
func (r Refused) mentions(p Person) bool {
	return mentions(p, string(r.Data)) || mentions(p, saidInJSON(r.Data)) || mentions(p, r.Text)
}

// saidInJSON gives the texts of a message in JSON, a line each, as far as it can be read: an escaped name is a name too.
func saidInJSON(data []byte) string {
	var out strings.Builder
	for tokens := jsontext.NewDecoder(bytes.NewReader(data), jsontext.AllowDuplicateNames(true)); ; {
		token, err := tokens.ReadToken()
		if err != nil {
			return out.String()
		}
		if token.Kind() == '"' || token.Kind() == '0' {
			out.WriteString(token.String())
			out.WriteByte('\n')
		}
	}
}

// KeepRefused seals a refused message. When there are too many, or too many bytes of them, the oldest make way and are
// counted. A message of more than half the cap of bytes is kept without its data.
func (f *File) KeepRefused(r Refused) error {
	f.mu.RLock()
	defer f.mu.RUnlock()
	if int64(len(r.Data)) > f.options.RefusedBytes/2 {
		r.Data = nil
	}
	text, err := json.Marshal(r)
	if err != nil {
		return errors.New("keep a refused message: it cannot be written down")
	}
	err = f.update(func(tx *bolt.Tx) error {
		list, meta := tx.Bucket([]byte(inRefused)), tx.Bucket([]byte(inMeta))
		seq, err := list.NextSequence()
		if err != nil {
			return err
		}
		key := binary.BigEndian.AppendUint64(nil, seq)
		sealed, err := seal(f.refuse, text, inRefused+string(key))
		if err != nil {
			return err
		}
		if err := list.Put(key, sealed); err != nil {
			return err
		}
		size := readCount(meta, metaBytes) + uint64(len(sealed))
		dropped := readCount(meta, metaDropped)
		c := list.Cursor()
		for first, old := c.First(); first != nil; first, old = c.First() {
			count := seq - binary.BigEndian.Uint64(first) + 1
			if count <= uint64(f.options.RefusedCount) && size <= uint64(f.options.RefusedBytes) || count == 1 {
				break
			}
			size -= min(size, uint64(len(old)))
			dropped++
			if err := c.Delete(); err != nil {
				return err
			}
		}
		return errors.Join(writeCount(meta, metaBytes, size), writeCount(meta, metaDropped, dropped))
	})
	if err != nil {
		return fmt.Errorf("keep a refused message: %w", err)
	}
	return nil
}

// Refused opens the refused messages, the latest first, at most limit (0: all), and says how many earlier ones made way.
func (f *File) Refused(limit int) (list []Refused, dropped uint64, err error) {
	f.mu.RLock()
	defer f.mu.RUnlock()
	err = f.db.View(func(tx *bolt.Tx) error {
		dropped = readCount(tx.Bucket([]byte(inMeta)), metaDropped)
		c := tx.Bucket([]byte(inRefused)).Cursor()
		for key, sealed := c.Last(); key != nil && (limit < 1 || len(list) < limit); key, sealed = c.Prev() {
			r, err := f.openRefused(key, sealed)
			if err != nil {
				return err
			}
			list = append(list, r)
		}
		return nil
	})
	if err != nil {
		return nil, 0, fmt.Errorf("open refused messages: %w", err)
	}
	return list, dropped, nil
}

func (f *File) openRefused(key, sealed []byte) (r Refused, err error) {
	text, err := unseal(f.refuse, sealed, inRefused+string(key))
	if err != nil {
		return r, err
	}
	if err := json.Unmarshal(text, &r); err != nil {
		return Refused{}, fmt.Errorf("%w: it is not a refused message", ErrSealed)
	}
	return r, nil
}

func readCount(meta *bolt.Bucket, name string) uint64 {
	raw := meta.Get([]byte(name))
	if len(raw) != 8 {
		return 0
	}
	return binary.BigEndian.Uint64(raw)
}

func writeCount(meta *bolt.Bucket, name string, n uint64) error {
	return meta.Put([]byte(name), binary.BigEndian.AppendUint64(nil, n))
}
