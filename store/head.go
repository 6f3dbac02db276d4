package store

import (
	"encoding/binary"
	"fmt"
	"time"

	bolt "go.etcd.io/bbolt"
)

// head is what the file says of itself.
type head struct {
	format   int
	origin   string
	building bool      // a rebuild did not finish
	fold     uint32    // version of the fold
	told     bool      // the fold is told
	now      time.Time // of the last judgement
	stopped  uint64    // position of the last entry when the program last ended in good order
}

// readHead reads the meta bucket. What does not fit its checksum reads as not there; a check tells.
func readHead(tx *bolt.Tx) (h head) {
	meta := tx.Bucket([]byte(inMeta.String()))
	get := func(key string, head int) []byte {
		value, err := cutSum(inMeta, []byte(key), meta.Get([]byte(key)), head)
		if err != nil {
			return nil
		}
		return value
	}
	if raw := meta.Get([]byte(metaFormat)); len(raw) == 4 {
		h.format = int(binary.BigEndian.Uint32(raw))
	}
	h.origin = string(get(metaOrigin, 0))
	h.building = meta.Get([]byte(metaBuilding)) != nil
	if raw := get(metaFold, 4); len(raw) == 4 {
		h.fold, h.told = binary.BigEndian.Uint32(raw), true
	}
	h.now, _ = readInstant(get(metaNow, instantSize))
	if raw := get(metaStopped, 8); len(raw) == 8 {
		h.stopped = num64(raw)
	}
	return h
}

func originValue(origin string) []byte { return withSum(inMeta, []byte(metaOrigin), []byte(origin)) }

func foldValue(version uint32) []byte {
	return withSum(inMeta, []byte(metaFold), binary.BigEndian.AppendUint32(nil, version))
}

// MarkStopped notes that the program ends in good order, so that the next start need not look at what was recorded before
// more closely than usual. Without a new entry since the last mark nothing is written.
func (l *Ledger) MarkStopped() error {
	err := l.change(time.Time{}, func(d *draft) error {
		if raw := d.bucket(inMeta).Get([]byte(metaStopped)); num64(raw) != d.state.seq || len(raw) < 8 {
			d.put(inMeta, []byte(metaStopped), withSum(inMeta, []byte(metaStopped), be64(d.state.seq)))
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("mark the ledger as stopped: %w", err)
	}
	return nil
}
