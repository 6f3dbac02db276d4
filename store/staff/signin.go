package staff

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/sealing"
)

// SignedIn is a session that was opened or brought to the front, with the token that it has from now on.
type SignedIn struct {
	Token   string
	Session Session
	Station Station
	Others  []string // whose sessions are open at the station too
}

// proof is what is known when a PIN was right.
type proof struct {
	of     *person
	hashed string // anew, since what hashing costs was changed; "" if it was not
}

// prove finds out whether a PIN is somebody's who is on the list. Badges that are unknown, people who were taken off it, and
// wrong PINs take the same time and give the same error, [ErrRefused].
func (f *File) prove(ctx context.Context, staff, station, pin string) (*proof, error) {
	back, err := f.hashes.turn(ctx) // first, so that who only waits in line has not tried
	if err != nil {
		return nil, err
	}
	defer back()
	p, wrong, err := f.countTry(staff, station)
	if err != nil {
		return nil, err
	}
	var kept *hashed
	if p != nil {
		if text, err := sealing.Unseal(f.sealKey(), p.PIN, p.about()); err == nil {
			h, err := parseHashed(string(text))
			if err != nil {
				return nil, err
			}
			kept = &h
		}
	}
	if !f.hashes.fits(kept, pin) {
		if locks := wrong >= WrongAtStation; p != nil && locks && f.o.Locked != nil {
			f.o.Locked(p.Key, station, wrong)
		}
		return nil, ErrRefused
	}
	out := &proof{of: p}
	if kept.cost != f.hashes.cost { // now that the PIN is known
		h, err := f.hashes.make(pin)
		if err != nil {
			return nil, err
		}
		out.hashed = h.String()
	}
	return out, nil
}

// proved writes down that a PIN was right, unless somebody changed it meanwhile. The caller changes sessions, so that no key is
// changed meanwhile.
func (f *File) proved(tx *bolt.Tx, proof *proof, station string) error {
	p, known, err := loadPerson(tx, proof.of.Key)
	switch {
	case err != nil:
		return err
	case !known || !p.Removed.IsZero() || !p.Changed.Equal(proof.of.Changed):
		return ErrRefused
	}
	if proof.hashed != "" {
		if err = f.seal(&p, proof.hashed); err == nil {
			err = putJSON(tx, inStaff, []byte(p.Key), p)
		}
	}
	return errors.Join(err, passed(tx, p.Key, station, instant(f.o.Now())))
}

// SignIn opens a session at the station of a key, for a badge as it was scanned or typed and its PIN. An older one of the
// same person there ends. Errors wrap [ErrStation], [ErrRefused] or [ErrBusy], or are a [WaitError].
func (f *File) SignIn(ctx context.Context, secret, badgeText, pin string) (*SignedIn, error) {
	at, err := f.Station(secret)
	if err != nil {
		return nil, err
	}
	p, err := f.prove(ctx, badge(badgeText), at.Key, pin)
	if err != nil {
		return nil, err
	}
	token, err := f.newSecret()
	if err != nil {
		return nil, err
	}
	f.changing.Lock()
	defer f.changing.Unlock()
	var l *live
	var gone []*live
	err = f.update(func(tx *bolt.Tx) error {
		if err := f.proved(tx, p, at.Key); err != nil {
			return err
		}
		l, gone, err = f.openSession(tx, p.of.Key, at, token)
		return err
	})
	if err != nil {
		return nil, err
	}
	f.keep(l, gone...)
	return f.signedIn(l, token, at), nil
}

// openSession writes a new session down; an older one of the same person there ends, and with too many the one that has been
// idle for longest. Those are to be dropped from memory, and the new one kept, when it is on disk.
func (f *File) openSession(tx *bolt.Tx, staff string, at Station, token string) (l *live, gone []*live, err error) {
	now, steady := instant(f.o.Now()), f.o.Steady()
	hash := hashOf(token)
	l = &live{session: session{Hash: hash[:], Staff: staff, Station: at.Key, Since: now, Last: now, Written: now, IdleMS: at.idle().Milliseconds()}, began: steady, used: steady, saved: steady}
	over := f.matching(func(o *live) bool { _, _, over := o.over(steady); return over })
	again := f.matching(func(o *live) bool { return o.place() == l.place() && !slices.Contains(over, o) })
	var many []*live
	if all := f.matching(func(o *live) bool { return !slices.Contains(over, o) && !slices.Contains(again, o) }); len(all) >= f.most {
		f.mu.RLock()
		slices.SortFunc(all, func(a, b *live) int { return cmp.Compare(a.used, b.used) })
		f.mu.RUnlock()
		many = all[:len(all)-f.most+1]
	}
	err = errors.Join(f.endAll(tx, over, WhyUnmarked), f.endAll(tx, again, WhyAgain), f.endAll(tx, many, WhyTooMany))
	if err == nil {
		err = begin1(tx, &l.session)
	}
	return l, slices.Concat(over, again, many), err
}

func (f *File) signedIn(l *live, token string, at Station) *SignedIn {
	steady := f.o.Steady()
	return &SignedIn{Token: token, Session: f.shown(l, f.o.Now(), steady), Station: at, Others: f.others(l, steady)}
}

// Switch brings the session of a badge to the front that is open at the station of a key. It has a new token from now on, and
// the old one is good no longer. Errors wrap [ErrStation] or [ErrPINNeeded].
func (f *File) Switch(secret, badgeText string) (*SignedIn, error) {
	at, err := f.Station(secret)
	if err != nil {
		return nil, err
	}
	token, err := f.newSecret()
	if err != nil {
		return nil, err
	}
	f.changing.Lock()
	defer f.changing.Unlock()
	steady := f.o.Steady()
	who := place{badge(badgeText), at.Key}
	found := f.matching(func(l *live) bool { _, _, over := l.over(steady); return l.place() == who && !over })
	if len(found) == 0 {
		return nil, ErrPINNeeded
	}
	l := found[0]
	if l, err = f.use(l); err != nil {
		return nil, err
	}
	s := f.snapshot(l)
	old, hash := s.Hash, hashOf(token)
	s.Hash = hash[:]
	err = f.update(func(tx *bolt.Tx) error {
		tokens := tx.Bucket([]byte(inTokens))
		return errors.Join(tokens.Delete(old), tokens.Put(s.Hash, be64(s.Number)), putJSON(tx, inSessions, be64(s.Number), s))
	})
	if err != nil {
		return nil, err
	}
	f.mu.Lock()
	delete(f.tokens, digest(old))
	l.Hash = s.Hash
	l.saved = l.used
	f.tokens[hash] = l.Number
	f.mu.Unlock()
	return f.signedIn(l, token, at), nil
}

// SignOut ends the session of a token. One that has ended is no error.
func (f *File) SignOut(token string) error {
	f.changing.Lock()
	defer f.changing.Unlock()
	l := f.byToken(token)
	if l == nil {
		return nil
	}
	gone := []*live{l}
	err := f.update(func(tx *bolt.Tx) error { return f.endAll(tx, gone, WhyOut) })
	if err == nil {
		f.dropped(gone)
	}
	return err
}

func (f *File) byToken(token string) *live {
	f.mu.RLock()
	defer f.mu.RUnlock()
	return f.open[f.tokens[hashOf(token)]]
}

// Session is who has the session of a token, and who else is signed in at that station; with use it counts as use of it. An
// [EndedError] says that and why it has ended, or wraps nothing known: [ErrNoSession].
func (f *File) Session(token string, use bool) (Session, []string, error) {
	l := f.byToken(token)
	steady := f.o.Steady()
	if l == nil {
		return Session{}, nil, f.whyEnded(token)
	}
	if _, why, over := f.isOver(l, steady); over {
		f.changing.Lock()
		defer f.changing.Unlock()
		_ = f.sweep() // if it cannot be written now, it is later
		return Session{}, nil, &EndedError{why}
	}
	if use && f.needsWriting(l, steady) {
		f.changing.Lock()
		defer f.changing.Unlock()
		if l = f.byToken(token); l == nil {
			return Session{}, nil, f.whyEnded(token)
		}
		var err error
		if l, err = f.use(l); err != nil {
			return Session{}, nil, err
		}
	}
	return f.shown(l, f.o.Now(), steady), f.others(l, steady), nil
}

// isOver is live.over with its instants guarded.
func (f *File) isOver(l *live, steady time.Duration) (time.Duration, Why, bool) {
	f.mu.RLock()
	defer f.mu.RUnlock()
	return l.over(steady)
}

// needsWriting notes a use in memory, and reports whether the disk must be told: of a use a minute after the last it knows
// of, or that the clock was set.
func (f *File) needsWriting(l *live, steady time.Duration) bool {
	now := instant(f.o.Now())
	f.mu.Lock()
	defer f.mu.Unlock()
	if steady-l.saved >= saveEvery || l.drift(now, steady).Abs() > Tolerance {
		return true
	}
	l.used, l.Last = max(l.used, steady), now
	return false
}

// drift is by how much the clock that may be set went ahead of the other since a session began.
func (l *live) drift(now time.Time, steady time.Duration) time.Duration {
	return now.Sub(l.Since) - (steady - l.began)
}

// use notes a use of an open session in memory and on disk. After the clock was set it goes on under another number, so that
// of each stretch it is known when it was, by the clock of its day. The caller changes sessions. What cannot be written for
// want of space is written later.
func (f *File) use(l *live) (*live, error) {
	now, steady := instant(f.o.Now()), f.o.Steady()
	s := f.snapshot(l)
	f.mu.RLock()
	set := l.drift(now, steady).Abs() > Tolerance
	next := *l
	f.mu.RUnlock()
	next.used, next.Last, next.Written, next.AgeMS = steady, now, now, (steady - next.began).Milliseconds()
	next.saved = steady
	err := f.update(func(tx *bolt.Tx) error {
		if !set {
			return putJSON(tx, inSessions, be64(next.Number), next.session)
		}
		next.Since = instant(now.Add(next.began - steady))
		return errors.Join(end1(tx, s, s.Last, WhyClock), begin1(tx, &next.session))
	})
	if err != nil {
		if !errors.Is(err, ErrNoSpace) && !errors.Is(err, ErrFatal) {
			return nil, err
		}
		f.mu.Lock()
		l.used, l.Last = steady, now
		f.mu.Unlock()
		return l, nil
	}
	if set {
		f.keep(&next, l)
		return &next, nil
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	l.used, l.saved, l.Last, l.Written = steady, steady, now, now
	return l, nil
}

// saveUses writes down the last use of each open session, as far as it can, and how long ago that is.
func (f *File) saveUses() {
	open, now, steady := f.matching(func(*live) bool { return true }), instant(f.o.Now()), f.o.Steady()
	if len(open) == 0 {
		return
	}
	_ = f.update(func(tx *bolt.Tx) error {
		for _, l := range open {
			s := f.snapshot(l)
			s.Written = now
			s.RestMS = min(steady-time.Duration(s.AgeMS)*time.Millisecond-l.began, most).Milliseconds()
			if err := putJSON(tx, inSessions, be64(s.Number), s); err != nil {
				return err
			}
		}
		return nil
	})
}

// whyEnded says why the session of a token is not open.
func (f *File) whyEnded(token string) error {
	hash := hashOf(token)
	why, known := WhyUnmarked, false
	err := f.view(func(tx *bolt.Tx) error {
		number := tx.Bucket([]byte(inTokens)).Get(hash[:])
		if number == nil {
			return nil
		}
		s, err := loadSession(tx, be64of(number))
		why, known = s.Why, err == nil && !s.Ended.IsZero()
		return err
	})
	switch {
	case err != nil:
		return err
	case known:
		return &EndedError{why}
	}
	return ErrNoSession
}

// Confirm checks the PIN of whoever has the session of a token again. Errors are those of [File.Session] and [File.SignIn].
func (f *File) Confirm(ctx context.Context, token, pin string) (Session, error) {
	s, _, err := f.Session(token, true)
	if err != nil {
		return Session{}, err
	}
	p, err := f.prove(ctx, s.Staff, s.Station, pin)
	if err != nil {
		return s, err
	}
	f.changing.Lock()
	defer f.changing.Unlock()
	return s, f.update(func(tx *bolt.Tx) error { return f.proved(tx, p, s.Station) })
}
