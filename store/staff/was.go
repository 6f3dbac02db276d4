package staff

import (
	"bytes"
	"slices"
	"time"

	bolt "go.etcd.io/bbolt"
)

// covers reports whether an instant by another clock is within an open session. When the clock was set since its last use,
// that is two stretches, each by the clock of its day.
func (l *live) covers(at, now time.Time, steady time.Duration) bool {
	within := func(since, end time.Time) bool {
		return !at.Before(since.Add(-Tolerance)) && !at.After(end.Add(Tolerance))
	}
	end := now
	if over, _, is := l.over(steady); is {
		end = now.Add(over - steady)
	}
	if l.drift(now, steady).Abs() <= Tolerance {
		return within(l.Since, end)
	}
	return within(l.Since, l.Last) || within(now.Add(l.began-steady), end)
}

// WasSignedIn reports whether somebody was signed in at a station at an instant by that station's clock, which may be two
// minutes from ours ([Tolerance]).
func (f *File) WasSignedIn(staff, station string, at time.Time) (bool, error) {
	now, steady := f.o.Now(), f.o.Steady()
	f.mu.RLock()
	l := f.open[f.places[place{staff, station}]]
	if l != nil && l.covers(at, now, steady) {
		f.mu.RUnlock()
		return true, nil
	}
	f.mu.RUnlock()
	found := false
	prefix := signedPrefix(staff, station)
	err := f.view(func(tx *bolt.Tx) error {
		c := tx.Bucket([]byte(inSigned)).Cursor()
		beyond := slices.Concat(prefix, nanos(at.Add(Tolerance+1)))
		before := c.Prev
		if key, _ := c.Seek(beyond); key == nil {
			before = c.Last
		}
		key, value := before()
		// A session lasts 12 hours at most, so none that began earlier can reach so far.
		for ; bytes.HasPrefix(key, prefix) && len(key) == len(prefix)+16; key, value = c.Prev() {
			since := time.Unix(0, int64(be64of(key[len(prefix):len(prefix)+8])))
			if since.Before(at.Add(-LongestSession - 2*Tolerance)) {
				return nil
			}
			if len(value) == 8 && !at.After(time.Unix(0, int64(be64of(value))).Add(Tolerance)) {
				found = true
				return nil
			}
		}
		return nil
	})
	return found, err
}
