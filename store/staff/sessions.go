package staff

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// Session is who is or was signed in where.
type Session struct {
	Number  uint64
	Staff   string
	Station string
	Since   time.Time
	Last    time.Time // use, to within a minute
	Idle    time.Time // of an open one: when it ends if nothing is done
	Ends    time.Time // of an open one: when it ends in any case
	Ended   time.Time // zero while it is open
	Why     Why       // it ended
}

// session is one as it is stored.
type session struct {
	Number  uint64    `json:"number"`
	Hash    []byte    `json:"hash"` // of its token
	Staff   string    `json:"staff"`
	Station string    `json:"station"`
	Since   time.Time `json:"since"`
	Last    time.Time `json:"last"`             // use
	AgeMS   int64     `json:"age_ms"`           // at its last use, by the clock that nobody sets
	RestMS  int64     `json:"rest_ms,omitzero"` // since its last use, when this was written down
	Written time.Time `json:"written"`          // when that was
	IdleMS  int64     `json:"idle_ms"`          // limit
	Ended   time.Time `json:"ended,omitzero"`
	Why     Why       `json:"why,omitzero"`
}

func (s *session) idle() time.Duration { return time.Duration(s.IdleMS) * time.Millisecond }

// live is a session that is open, with its instants by the clock that nobody sets.
type live struct {
	session
	began time.Duration // when it began
	used  time.Duration // last
	saved time.Duration // what the disk says of used
}

// place is where somebody is signed in: once at each station.
type place struct{ staff, station string }

func (l *live) place() place { return place{l.Staff, l.Station} }

// over says when and why a session ends, if it has by now.
func (l *live) over(steady time.Duration) (at time.Duration, why Why, over bool) {
	idle, long := l.used+l.idle(), l.began+LongestSession
	switch {
	case long <= idle && steady >= long:
		return long, WhyLong, true
	case idle < long && steady >= idle:
		return idle, WhyIdle, true
	}
	return 0, WhyUnmarked, false
}

func parseSession(raw []byte) (session, error) {
	s, err := parse[session](inSessions, raw)
	if err == nil && (!protocol.IsStaffKey(s.Staff) || !protocol.IsStaffKey(s.Station) || s.Number == 0 || len(s.Hash) != len(digest{}) ||
		s.AgeMS < 0 || s.AgeMS > most.Milliseconds() || s.RestMS < 0 || s.RestMS > most.Milliseconds() || s.IdleMS <= 0 || s.IdleMS > most.Milliseconds()) {
		err = fmt.Errorf("%w: a session says nothing", ErrDamaged)
	}
	return s, err
}

// most bounds lengths of time that are read.
const most = 366 * 24 * time.Hour

func loadSession(tx *bolt.Tx, number uint64) (session, error) {
	raw := tx.Bucket([]byte(inSessions)).Get(be64(number))
	if raw == nil {
		return session{}, fmt.Errorf("%w: session %d is missing", ErrDamaged, number)
	}
	s, err := parseSession(raw)
	if err == nil && s.Number != number {
		err = fmt.Errorf("%w: session %d does not fit its place", ErrDamaged, number)
	}
	return s, err
}

// nanos is an instant as a key; those before 1970 are as those of its first.
func nanos(t time.Time) []byte { return be64(uint64(max(0, t.UnixNano()))) }

func signedPrefix(staff, station string) []byte {
	return append(tryKey(staff, station), 0)
}

func signedKey(s *session) []byte {
	return slices.Concat(signedPrefix(s.Staff, s.Station), nanos(s.Since), be64(s.Number))
}

// resume takes up the sessions that were open when the file was closed: of the time between, only the clock that may be set
// tells; set back meanwhile, no more has passed than before the end.
func (f *File) resume(open []session) error {
	now, steady := f.begun.wall, f.begun.steady
	for _, s := range open {
		between := time.Duration(s.RestMS)*time.Millisecond + max(0, now.Sub(s.Written))
		s.RestMS = 0
		l := &live{session: s, used: steady - between, saved: steady - between}
		l.began = l.used - time.Duration(s.AgeMS)*time.Millisecond
		f.keep(l)
	}
	f.changing.Lock()
	defer f.changing.Unlock()
	return f.sweep()
}

// keep notes in memory that a session is open, and that others no longer are.
func (f *File) keep(l *live, gone ...*live) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.forget(gone)
	f.open[l.Number] = l
	f.tokens[digest(l.Hash)] = l.Number
	f.places[l.place()] = l.Number
}

// dropped notes in memory that sessions are open no longer.
func (f *File) dropped(gone []*live) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.forget(gone)
}

// forget takes sessions out of memory; the caller holds the lock.
func (f *File) forget(gone []*live) {
	for _, l := range gone {
		delete(f.open, l.Number)
		delete(f.tokens, digest(l.Hash))
		if f.places[l.place()] == l.Number {
			delete(f.places, l.place())
		}
	}
}

// matching lists open sessions, by number.
func (f *File) matching(want func(*live) bool) []*live {
	f.mu.RLock()
	defer f.mu.RUnlock()
	var out []*live
	for _, l := range f.open {
		if want(l) {
			out = append(out, l)
		}
	}
	slices.SortFunc(out, func(a, b *live) int { return int(int64(a.Number) - int64(b.Number)) })
	return out
}

// sweep notes the end of sessions that are over. The caller changes sessions.
func (f *File) sweep() error {
	steady := f.o.Steady()
	gone := f.matching(func(l *live) bool { _, _, over := l.over(steady); return over })
	if len(gone) == 0 {
		return nil
	}
	err := f.update(func(tx *bolt.Tx) error { return f.endAll(tx, gone, WhyUnmarked) })
	if err == nil {
		f.dropped(gone)
	}
	return err
}

// endAll writes down that sessions end, with why unless they are over by themselves.
func (f *File) endAll(tx *bolt.Tx, gone []*live, why Why) error {
	now, steady := f.o.Now(), f.o.Steady()
	for _, l := range gone {
		end, reason := now, why
		if at, over, is := f.isOver(l, steady); is {
			end, reason = now.Add(at-steady), over
		}
		s := f.snapshot(l)
		if err := end1(tx, s, end, reason); err != nil {
			return err
		}
	}
	return f.forgetSessions(tx, now)
}

// snapshot is an open session as it is to be stored now.
func (f *File) snapshot(l *live) session {
	f.mu.RLock()
	defer f.mu.RUnlock()
	s := l.session
	s.AgeMS = (l.used - l.began).Milliseconds()
	return s
}

// end1 writes down that one session ends.
func end1(tx *bolt.Tx, s session, at time.Time, why Why) error {
	s.Ended, s.Why = instant(at), why
	if s.Ended.Before(s.Since) { // the clock was set back
		s.Ended = s.Since
	}
	meta := tx.Bucket([]byte(inMeta))
	return errors.Join(
		putJSON(tx, inSessions, be64(s.Number), s),
		tx.Bucket([]byte(inOpen)).Delete(be64(s.Number)),
		tx.Bucket([]byte(inSigned)).Put(signedKey(&s), nanos(s.Ended)),
		meta.Put([]byte(metaEnded), be64(be64of(meta.Get([]byte(metaEnded)))+1)),
	)
}

// begin1 writes down that a session begins; its number is given here.
func begin1(tx *bolt.Tx, s *session) (err error) {
	if s.Number, err = tx.Bucket([]byte(inSessions)).NextSequence(); err != nil {
		return err
	}
	return errors.Join(
		putJSON(tx, inSessions, be64(s.Number), s),
		tx.Bucket([]byte(inOpen)).Put(be64(s.Number), nil),
		tx.Bucket([]byte(inTokens)).Put(s.Hash, be64(s.Number)),
		tx.Bucket([]byte(inSigned)).Put(signedKey(s), nil),
	)
}

// forgetStep is how many old sessions one change removes at most, so that none takes long.
const forgetStep = 32

// forgetSessions removes sessions that ended and are too many or too old, the oldest first. Too old is none while the clock
// says something else than the one that nobody sets: a clock set ten years ahead must not empty the list.
func (f *File) forgetSessions(tx *bolt.Tx, now time.Time) error {
	meta := tx.Bucket([]byte(inMeta))
	ended := be64of(meta.Get([]byte(metaEnded)))
	passed := now.Sub(f.begun.wall) - (f.o.Steady() - f.begun.steady)
	trusted := passed.Abs() < 24*time.Hour
	var old []session
	c := tx.Bucket([]byte(inSessions)).Cursor()
	for key, raw := c.First(); key != nil && len(old) < forgetStep; key, raw = c.Next() {
		s, err := parseSession(raw)
		if err != nil {
			return err
		}
		if s.Ended.IsZero() { // of yesterday at most: 12 hours
			continue
		}
		if ended-uint64(len(old)) <= KeepSessions && !(trusted && now.Sub(s.Ended) > KeepFor) {
			break
		}
		old = append(old, s)
	}
	if len(old) == 0 {
		return nil
	}
	for _, s := range old {
		err := errors.Join(tx.Bucket([]byte(inSessions)).Delete(be64(s.Number)), tx.Bucket([]byte(inSigned)).Delete(signedKey(&s)))
		if tokens := tx.Bucket([]byte(inTokens)); be64of(tokens.Get(s.Hash)) == s.Number { // not when it goes on under another number
			err = errors.Join(err, tokens.Delete(s.Hash))
		}
		if err != nil {
			return err
		}
	}
	return meta.Put([]byte(metaEnded), be64(ended-uint64(len(old))))
}

// EndSession ends an open session by its number. Errors wrap [ErrNoSession].
func (f *File) EndSession(number uint64) error {
	f.changing.Lock()
	defer f.changing.Unlock()
	gone := f.matching(func(l *live) bool { return l.Number == number })
	if len(gone) == 0 {
		return ErrNoSession
	}
	err := f.update(func(tx *bolt.Tx) error { return f.endAll(tx, gone, WhyEnded) })
	if err == nil {
		f.dropped(gone)
	}
	return err
}

// Sessions lists those that are open, and with ended those that have, at most limit (0: all) of these, the latest first.
func (f *File) Sessions(ended bool, limit int) ([]Session, error) {
	f.changing.Lock()
	err := f.sweep()
	f.changing.Unlock()
	if err != nil && !errors.Is(err, ErrNoSpace) && !errors.Is(err, ErrFatal) {
		return nil, err
	}
	now, steady := f.o.Now(), f.o.Steady()
	out := []Session{}
	for _, l := range f.matching(func(*live) bool { return true }) {
		out = append(out, f.shown(l, now, steady))
	}
	slices.Reverse(out)
	if !ended {
		return out, nil
	}
	n := 0
	err = f.view(func(tx *bolt.Tx) error {
		c := tx.Bucket([]byte(inSessions)).Cursor()
		for key, raw := c.Last(); key != nil && (limit < 1 || n < limit); key, raw = c.Prev() {
			s, err := parseSession(raw)
			if err != nil {
				return err
			}
			if !s.Ended.IsZero() {
				out = append(out, Session{Number: s.Number, Staff: s.Staff, Station: s.Station, Since: s.Since, Last: s.Last, Ended: s.Ended, Why: s.Why})
				n++
			}
		}
		return nil
	})
	return out, err
}

// shown is an open session for others.
func (f *File) shown(l *live, now time.Time, steady time.Duration) Session {
	f.mu.RLock()
	defer f.mu.RUnlock()
	ends := now.Add(l.began + LongestSession - steady)
	idle := now.Add(l.used + l.idle() - steady)
	if ends.Before(idle) {
		idle = ends
	}
	return Session{Number: l.Number, Staff: l.Staff, Station: l.Station, Since: l.Since, Last: l.Last, Idle: idle, Ends: ends}
}

// others lists who else has an open session at a station, by key.
func (f *File) others(l *live, steady time.Duration) []string {
	var out []string
	for _, o := range f.matching(func(o *live) bool {
		_, _, over := o.over(steady)
		return !over && o.Station == l.Station && o.Staff != l.Staff
	}) {
		out = append(out, o.Staff)
	}
	slices.SortFunc(out, strings.Compare)
	return out
}
