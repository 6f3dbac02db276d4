package staff

import (
	"errors"
	"fmt"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/sealing"
)

// Fault is one thing that [Examine] found wrong.
type Fault struct {
	Part   string // "entry", "pin", "key"
	Text   string // what is wrong, a sentence
	Remedy string // what to do about it
}

// remedyOfStaff is what to do about a file that does not fit together. It is not to be moved away: without it nobody is set up,
// and nobody signs in.
const remedyOfStaff = "Nothing that was recorded hangs on it. Copy the data folder first, then put staff.db of the last backup in its place, and look at who is on the list."

// Examine reads every entry of a file that nobody has open, holds the indexes against what they are of, and opens every PIN,
// without changing a byte. It tells of each thing that is wrong; of what does not fit together only the first. Errors are those
// of [Open], and the system's when there is none.
func Examine(path string, key []byte, report func(Fault)) error {
	err := readOnly(path, time.Second, func(tx *bolt.Tx) error {
		if err := check(tx); errors.Is(err, ErrDamaged) {
			report(Fault{"entry", fmt.Sprintf("The list of staff does not fit together: %v.", err), remedyOfStaff})
			return nil
		} else if err != nil {
			return err
		}
		if _, err := sealing.Unseal(key, tx.Bucket([]byte(inMeta)).Get([]byte(metaProof)), inMeta); err != nil {
			report(Fault{"key", "The PINs are sealed under another key than that of the people file.", "Put the key back that belongs to this folder, or give each person a new PIN with `pottrail staff pin KEY`."})
			return nil
		}
		return eachPerson(tx, func(p person) {
			text, err := sealing.Unseal(key, p.PIN, p.about())
			if err == nil {
				_, err = parseHashed(string(text))
			}
			if err != nil {
				report(Fault{"pin", fmt.Sprintf("The PIN of %s cannot be opened: it was changed or damaged.", p.Key), "Give that person a new PIN with `pottrail staff pin " + p.Key + "`."})
			}
		})
	})
	if err != nil {
		return fmt.Errorf("examine staff file %s: %w", path, err)
	}
	return nil
}
