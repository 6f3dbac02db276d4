package store

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"strings"

	bolt "go.etcd.io/bbolt"
)

// CasesOf gives the cases that are a patient's, by the patient's ref, by name. It looks at the snapshots of all cases, and
// reads those alone in which the ref stands: for a question that a person asks, not for each event. It reads in short
// transactions, so what changes meanwhile may be seen before or after.
func (l *Ledger) CasesOf(patient string) ([]Snapshot, error) {
	if patient == "" {
		return nil, nil
	}
	var out []Snapshot
	var from []byte
	for {
		page, next, err := l.casesOfPage(patient, from)
		if err != nil {
			return nil, fmt.Errorf("cases of a patient: %w", err)
		}
		out = append(out, page...)
		if next == nil {
			return out, nil
		}
		from = next
	}
}

func (l *Ledger) casesOfPage(patient string, from []byte) (page []Snapshot, next []byte, err error) {
	plain := !strings.ContainsFunc(patient, func(r rune) bool { return r < ' ' || r == '"' || r == '\\' || r > '~' })
	err = l.view(func(tx *bolt.Tx) error {
		c := tx.Bucket([]byte(inThings.String())).Cursor()
		looked := 0
		for key, value := c.Seek(from); key != nil; looked++ {
			if looked == pageLength {
				next = bytes.Clone(key)
				return nil
			}
			n, _, _, _ := splitThingKey(key)
			if n == "" {
				key, value = c.Next()
				continue
			}
			now := len(value) >= snapshotHead && binary.BigEndian.Uint16(value) == foldVersion
			if !plain || !now || bytes.Contains(value, []byte(patient)) {
				j, err := l.readJudged(tx, n)
				if err != nil {
					return fmt.Errorf("%s: %w", n, err)
				}
				if j != nil && j.Summary.Patient == patient {
					page = append(page, j.public())
				}
			}
			key, value = c.Seek(append(concernPrefix(n), bytes.Repeat([]byte{0xff}, 9)...)) // past the events that concern it
		}
		return nil
	})
	return page, next, err
}
