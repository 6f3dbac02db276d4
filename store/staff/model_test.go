package staff_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/store/staff"
)

// paperSession is a session as somebody at the door would note it, by a watch that nobody sets.
type paperSession struct {
	who, at     string
	token       string
	began, used time.Duration
	idle        time.Duration
	ended       bool
	why         staff.Why
	// The stretches during which they were signed in, by the wall clock of their time.
	stretches [][2]time.Time
}

// paperTry is what that somebody notes of wrong PINs.
type paperTry struct {
	wrong int
	last  time.Time
	right bool
}

// doorModel is the staff file as it ought to be, beside the one on disk.
type doorModel struct {
	t        *rapid.T
	c        *clinic
	pins     map[string]string // of those on the list
	sessions []*paperSession
	pairs    map[[2]string]*paperTry
	all      map[string]int
	any      map[string]*paperTry
	set      bool // the clock was set: of stretches the paper says less
}

var (
	modelPeople   = []string{osei, lund, nobody}
	modelStations = []string{room, hatch}
	modelPINs     = []string{oseis, lunds, "not a PIN of theirs"}
)

func (m *doorModel) pair(who, at string) *paperTry {
	k := [2]string{who, at}
	if m.pairs[k] == nil {
		m.pairs[k] = &paperTry{}
	}
	return m.pairs[k]
}

func (m *doorModel) station(at string) *paperTry {
	if m.any[at] == nil {
		m.any[at] = &paperTry{}
	}
	return m.any[at]
}

func doubled(wrong int) time.Duration {
	wait := time.Duration(0)
	for range wrong {
		wait = min(max(time.Second, 2*wait), time.Minute)
	}
	return wait
}

// must is how long a badge must wait by the paper; locked that time may not help.
func (m *doorModel) must(who, at string) (wait time.Duration, refused bool) {
	p, now := m.pair(who, at), m.c.wall
	for _, t := range []*paperTry{p, m.station(at)} {
		if t.last.After(now) { // the clock was set back: the wait begins anew
			t.last = now
		}
	}
	left := func(t *paperTry, of time.Duration) time.Duration { return max(0, of-now.Sub(t.last)) }
	switch {
	case m.all[who] >= staff.MostWrong, p.wrong >= staff.MostAtStation:
		return 0, true
	case p.wrong >= staff.WrongAtStation:
		wait = left(p, staff.LockedFor)
	default:
		wait = left(p, doubled(p.wrong))
	}
	if wait == 0 && !p.right {
		wait = left(m.station(at), doubled(m.station(at).wrong-staff.WrongStrangers+1))
	}
	return wait, wait > 0
}

// over ends on paper what is over by the watch.
func (m *doorModel) over() {
	for _, s := range m.sessions {
		long, idle := s.began+staff.LongestSession, s.used+s.idle
		if at := min(long, idle); !s.ended && m.c.steady >= at {
			why := staff.WhyIdle
			if long <= idle {
				why = staff.WhyLong
			}
			m.end(s, at, why)
		}
	}
}

func (m *doorModel) end(s *paperSession, at time.Duration, why staff.Why) {
	s.ended, s.why = true, why
	s.stretches[len(s.stretches)-1][1] = m.c.wall.Add(at - m.c.steady)
}

func (m *doorModel) use(s *paperSession) { s.used = m.c.steady }

// at finds the open session of somebody at a station.
func (m *doorModel) at(who, at string) *paperSession {
	for _, s := range m.sessions {
		if !s.ended && s.who == who && s.at == at {
			return s
		}
	}
	return nil
}

func (m *doorModel) actions() map[string]func(*rapid.T) {
	person := func(t *rapid.T) string { return rapid.SampledFrom(modelPeople).Draw(t, "who") }
	station := func(t *rapid.T) string { return rapid.SampledFrom(modelStations).Draw(t, "where") }
	some := func(t *rapid.T) *paperSession {
		if len(m.sessions) == 0 {
			return &paperSession{token: "nobody ever signed in", ended: true}
		}
		return m.sessions[rapid.IntRange(0, len(m.sessions)-1).Draw(t, "session")]
	}
	return map[string]func(*rapid.T){
		"": func(t *rapid.T) {
			m.over()
			require.NoError(t, m.c.Check())
			for _, s := range m.sessions {
				_, _, err := m.c.Session(s.token, false)
				var ended *staff.EndedError
				switch {
				case !s.ended:
					require.NoError(t, err)
				case errors.As(err, &ended):
					require.Equal(t, s.why, ended.Why)
				default:
					require.ErrorIs(t, err, staff.ErrNoSession)
				}
			}
		},
		"time passes": func(t *rapid.T) {
			m.c.pass(time.Duration(rapid.SampledFrom([]int{1, 1, 2, 5, 30, 60, 61, 240, 300, 900, 1800, 40_000}).Draw(t, "seconds")) * time.Second)
			m.over()
		},
		"the clock is set": func(t *rapid.T) {
			m.c.set(time.Duration(rapid.SampledFrom([]int{-40_000, -600, -5, 5, 600, 40_000, 300_000_000}).Draw(t, "by seconds")) * time.Second)
			m.set = true
		},
		"sign in": func(t *rapid.T) {
			who, at, pin := person(t), station(t), rapid.SampledFrom(modelPINs).Draw(t, "PIN")
			wait, refused := m.must(who, at)
			in, err := m.c.signIn("B:"+who, at, pin)
			if refused {
				require.Equal(t, wait, waitOf(t, err).Wait)
				return
			}
			p := m.pair(who, at)
			if m.pins[who] != pin {
				require.ErrorIs(t, err, staff.ErrRefused)
				p.wrong++
				p.last = m.c.wall
				m.all[who]++
				if !p.right {
					m.station(at).wrong++
					m.station(at).last = m.c.wall
				}
				return
			}
			require.NoError(t, err)
			*p = paperTry{right: true}
			m.all[who] = 0
			m.any[at] = &paperTry{}
			if old := m.at(who, at); old != nil {
				m.end(old, m.c.steady, staff.WhyAgain)
			}
			idle := staff.IdleOwn
			if at == room {
				idle = staff.IdleShared
			}
			m.sessions = append(m.sessions, &paperSession{who: who, at: at, token: in.Token, began: m.c.steady, used: m.c.steady, idle: idle, stretches: [][2]time.Time{{m.c.wall, {}}}})
		},
		"use": func(t *rapid.T) {
			s := some(t)
			_, _, err := m.c.Session(s.token, true)
			require.Equal(t, s.ended, err != nil)
			if !s.ended {
				m.use(s)
			}
		},
		"switch": func(t *rapid.T) {
			who, at := person(t), station(t)
			s := m.at(who, at)
			in, err := m.c.Switch(m.c.keys[at], who)
			if s == nil {
				require.ErrorIs(t, err, staff.ErrPINNeeded)
				return
			}
			require.NoError(t, err)
			_, _, err = m.c.Session(s.token, true)
			require.ErrorIs(t, err, staff.ErrNoSession)
			s.token = in.Token
			m.use(s)
		},
		"sign out": func(t *rapid.T) {
			s := some(t)
			require.NoError(t, m.c.SignOut(s.token))
			if !s.ended {
				m.end(s, m.c.steady, staff.WhyOut)
			}
		},
		"unlock": func(t *rapid.T) {
			who := person(t)
			err := m.c.Unlock(who, "")
			if m.pins[who] == "" {
				require.ErrorIs(t, err, staff.ErrNobody)
				return
			}
			require.NoError(t, err)
			m.all[who] = 0
			for _, at := range modelStations {
				m.pairs[[2]string{who, at}] = &paperTry{right: m.pair(who, at).right}
			}
		},
		"was signed in": func(t *rapid.T) {
			who, at := person(t), station(t)
			when := m.c.wall.Add(-time.Duration(rapid.IntRange(-200, 50_000).Draw(t, "seconds ago")) * time.Second)
			want := false
			for _, s := range m.sessions {
				for _, span := range s.stretches {
					end := span[1]
					if end.IsZero() {
						end = m.c.wall
					}
					want = want || s.who == who && s.at == at && !when.Before(span[0].Add(-staff.Tolerance)) && !when.After(end.Add(staff.Tolerance))
				}
			}
			was := m.c.was(who, at, when)
			if !m.set {
				require.Equal(t, want, was, "%s at %s", who, when)
				return
			}
			ever := slices.ContainsFunc(m.sessions, func(s *paperSession) bool { return s.who == who && s.at == at })
			require.True(t, ever || !was, "who was never signed in there never was")
			if now := m.at(who, at); now != nil {
				require.True(t, m.c.was(who, at, m.c.wall), "who is, is")
			}
		},
		"start anew": func(t *rapid.T) {
			m.c.restart(0)
			for _, s := range m.sessions { // the watch begins at nought
				s.began -= m.watch()
				s.used -= m.watch()
			}
			m.c.steady = 0
		},
		"list": func(t *rapid.T) {
			open, err := m.c.Sessions(false, 0)
			require.NoError(t, err)
			require.Equal(t, len(open), len(slices.DeleteFunc(slices.Clone(m.sessions), func(s *paperSession) bool { return s.ended })))
		},
	}
}

// watch is what the watch said before the last start.
func (m *doorModel) watch() time.Duration { return m.c.stopped }

// Any order of calls agrees with a sheet of paper: who waits, who is in, who was, and why not.
func TestTheDoorKeepsToAModel(t *testing.T) {
	folder := t.TempDir()
	n := 0
	rapid.Check(t, func(rt *rapid.T) {
		n++
		path := filepath.Join(folder, fmt.Sprintf("staff-%d.db", n))
		c := &clinic{t: t, path: path, clock: &clock{wall: morning, steady: time.Hour}, keys: map[string]string{}}
		c.start()
		defer func() {
			require.NoError(rt, c.File.Close())
			require.NoError(rt, os.Remove(path))
		}()
		require.NoError(rt, c.Add(t.Context(), osei, oseis, "admin.falk"))
		require.NoError(rt, c.Add(t.Context(), lund, lunds, "admin.falk"))
		c.enrol(room, true)
		c.enrol(hatch, false)
		m := &doorModel{t: rt, c: c, pins: map[string]string{osei: oseis, lund: lunds}, pairs: map[[2]string]*paperTry{}, all: map[string]int{}, any: map[string]*paperTry{}}
		rt.Repeat(m.actions())
	})
}
