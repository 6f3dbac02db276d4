package store

import (
	"fmt"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/tracker"
)

// mostLookedBack bounds how many of the last entries [Busiest] reads.
const mostLookedBack = 500_000

// Busiest is the most serials of one clinic that began to be used in one day (UTC), among what was recorded in so many days
// before the last entry of a closed ledger. It says how far a clinic may have got after a copy was made.
func Busiest(path string, days int) (most int, err error) {
	err = readOnly(path, Options{}, func(tx *bolt.Tx) error {
		first := map[tracker.Name]string{} // case or bag → day of its earliest event
		var until time.Time
		c := tx.Bucket([]byte(inEntries.String())).Cursor()
		looked := 0
		for key, leaf := c.Last(); key != nil && looked < mostLookedBack; key, leaf = c.Prev() {
			looked++
			e, err := Entry{Seq: num64(key), Leaf: leaf}.Event()
			if err != nil {
				return fmt.Errorf("%w: entry %d: %w", ErrDamaged, num64(key), err)
			}
			if until.IsZero() {
				until = e.Record.Recorded.AddDate(0, 0, -days)
			}
			if e.Record.Recorded.Before(until) {
				break
			}
			for _, item := range e.Items {
				n, day := tracker.Watched(item.Name), e.When().UTC().Format(time.DateOnly)
				if known, ok := first[n]; !ok || day < known {
					first[n] = day
				}
			}
		}
		counts := map[string]int{}
		for n, day := range first {
			key := n.Clinic() + day
			if counts[key]++; day >= until.UTC().Format(time.DateOnly) {
				most = max(most, counts[key])
			}
		}
		return nil
	})
	if err != nil {
		return 0, fmt.Errorf("busiest day of %s: %w", path, err)
	}
	return most, nil
}
