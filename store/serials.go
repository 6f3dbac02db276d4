package store

import (
	"bytes"
	"fmt"
	"maps"
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// TakeSerials hands out n serials in a row for cases and bags of a clinic in a year (its last two digits), and gives
// the first. They are on disk before it returns, never given twice, and none is the serial of something the ledger has
// heard of; such a stranger never moves the counter. When the year's are used up the error is [ErrSerials].
func (l *Ledger) TakeSerials(clinic string, year, n int) (first int, err error) {
	if err := tracker.CheckClinic(clinic); err != nil {
		return 0, fmt.Errorf("serials: %w", err)
	}
	if year < 0 || year > 99 || n < 1 || n > tracker.MaxSerial {
		return 0, fmt.Errorf("serials of %s: year %d is not in 0 to 99, or %d not in 1 to %d", clinic, year, n, tracker.MaxSerial)
	}
	key := serialKey(clinic, year)
	err = l.change(time.Time{}, func(d *draft) error {
		used := d.state.serialsUsed(clinic, year)
		first = used + 1
		for at := first; at < first+n; at++ {
			if first+n-1 > tracker.MaxSerial {
				return fmt.Errorf("serials of %s in year %02d: %w: %d were handed out, %d more are wanted", clinic, year, ErrSerials, used, n)
			}
			known, err := d.heardOf(clinic, year, at)
			if err != nil {
				return err
			}
			if known {
				first = at + 1
			}
		}
		if first+n-1 > tracker.MaxSerial {
			return fmt.Errorf("serials of %s in year %02d: %w: %d were handed out, %d more are wanted", clinic, year, ErrSerials, used, n)
		}
		changed := maps.Clone(d.state.serials)
		changed[key] = first + n - 1
		d.state.serials = changed
		d.put(inSerials, []byte(key), serialValue(key, first+n-1))
		return nil
	})
	if err != nil {
		return 0, fmt.Errorf("take serials: %w", err)
	}
	return first, nil
}

// heardOf reports whether any event concerns the case or bag of a serial.
func (d *draft) heardOf(clinic string, year, serial int) (bool, error) {
	name, err := tracker.CaseName(clinic, year, serial)
	if err != nil {
		return false, err
	}
	bag, err := tracker.BagName(clinic, year, serial)
	if err != nil {
		return false, err
	}
	c := d.bucket(inThings).Cursor()
	for _, n := range []tracker.Name{name, bag} {
		if d.before != nil && d.before.things[n] != nil {
			return true, nil
		}
		if key, _ := c.Seek(snapshotKey(n)); bytes.HasPrefix(key, []byte(n)) && len(key) > len(n) && key[len(n)] <= concernMark {
			return true, nil
		}
	}
	return false, nil
}
