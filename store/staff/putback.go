package staff

import (
	"fmt"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/boltfile"
)

// EndSessions ends every open session of a copy that is put back and that nobody has open, as of the instant until which it
// knows who was signed in: whoever signed out since must not be in again. It needs no key, and says how many there were.
func EndSessions(path string, at time.Time) (n int, err error) {
	db, err := boltfile.Open(path, boltfile.Options(time.Second))
	if err != nil {
		return 0, fmt.Errorf("end the sessions in %s: %w", path, err)
	}
	err = boltfile.Update(db, func(tx *bolt.Tx) error {
		if err := checkFormat(tx); err != nil {
			return err
		}
		var numbers []uint64
		if err := tx.Bucket([]byte(inOpen)).ForEach(func(key, _ []byte) error { numbers = append(numbers, be64of(key)); return nil }); err != nil {
			return err
		}
		for _, number := range numbers {
			s, err := loadSession(tx, number)
			if err != nil {
				return err
			}
			if err := end1(tx, s, at, WhyEnded); err != nil {
				return err
			}
		}
		n = len(numbers)
		return nil
	})
	if closed := db.Close(); err == nil {
		err = closed
	}
	if err != nil {
		return 0, fmt.Errorf("end the sessions in %s: %w", path, err)
	}
	return n, nil
}
