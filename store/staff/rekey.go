package staff

import (
	"bytes"
	"fmt"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/sealing"
)

// Rekey seals the PINs under another key, in one transaction, and uses that from now on. A PIN that cannot be unsealed stays
// as it is: that person needs a new one.
func (f *File) Rekey(key []byte) error {
	if len(key) != sealing.KeySize {
		return fmt.Errorf("%w: it has %d bytes, of %d", ErrKey, len(key), sealing.KeySize)
	}
	f.changing.Lock() // no PIN is changed meanwhile
	defer f.changing.Unlock()
	old := f.sealKey()
	err := f.update(func(tx *bolt.Tx) error {
		var all []person
		if err := eachPerson(tx, func(p person) { all = append(all, p) }); err != nil {
			return err
		}
		for _, p := range all {
			text, err := sealing.Unseal(old, p.PIN, p.about())
			if err != nil {
				continue
			}
			if p.PIN, err = sealing.Seal(key, text, p.about()); err != nil {
				return err
			}
			if err := putJSON(tx, inStaff, []byte(p.Key), p); err != nil {
				return err
			}
		}
		return putProof(tx, key)
	})
	if err != nil {
		return fmt.Errorf("seal the PINs anew: %w", err)
	}
	f.mu.Lock()
	f.key = bytes.Clone(key)
	f.mu.Unlock()
	return nil
}

func (f *File) sealKey() []byte {
	f.mu.RLock()
	defer f.mu.RUnlock()
	return f.key
}
