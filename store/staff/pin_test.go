package staff_test

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store/staff"
)

func TestWhichPINsAreTaken(t *testing.T) {
	for _, pin := range []string{"844017", "a long night", "Überstunde", strings.Repeat("na so was ", 6) + "gut", "9081726354", "correct horse", "👩‍⚕️ at work", "oktobertag"} {
		require.NoError(t, staff.CheckPIN(osei, pin), pin)
	}
	for pin, says := range map[string]string{
		"":                        "at least 6",
		"84401":                   "at least 6",
		"ÜÜ1ä5":                   "at least 6",
		strings.Repeat("xy8", 22): "at most 64",
		"111111":                  "repeats",
		"121212":                  "repeats",
		"084084084":               "repeats",
		"aaaaaaaaaa":              "repeats",
		"123456":                  "counts",
		"987654":                  "counts",
		"567890":                  "counts",
		"890123":                  "counts",
		"210987":                  "counts",
		"abcdefg":                 "counts",
		"FEDCBA":                  "counts",
		"Password":                "tried first",
		"112233":                  "tried first",
		"nurse.osei":              "on the badge",
		"NurseOsei":               "on the badge",
		"B:nurse.osei":            "on the badge",
		"iesoesrun":               "on the badge",
		"844017 ":                 "space",
		" 844017":                 "space",
		"844\x00017":              "can be typed",
		"844017\n":                "can be typed",
		"844\xff017":              "can be typed",
	} {
		var weak *staff.PINError
		require.ErrorAs(t, staff.CheckPIN(osei, pin), &weak, "%q", pin)
		require.Contains(t, weak.Reason, says, "%q", pin)
		if len(pin) >= staff.ShortestPIN {
			require.NotContains(t, weak.Reason, pin)
		}
	}
}

// However a keyboard puts an accent together, it is the same PIN.
func TestAnAccentIsAnAccent(t *testing.T) {
	c := newClinic(t)
	require.NoError(t, c.SetPIN(t.Context(), osei, "\u00fcberall", ""))
	c.mustSignIn(osei, room, "u\u0308berall")
}

// What hashing costs may be raised later: who signs in has the PIN hashed anew, and it still fits.
func TestPINsAreHashedAnewWhenTheCostChanges(t *testing.T) {
	c := newClinic(t)
	require.NoError(t, c.File.Close())
	dear := c.options()
	dear.Cost = staff.Cost{Memory: 64, Time: 2, Lanes: 1}
	f, err := staff.Open(c.path, key(1), dear)
	require.NoError(t, err)
	c.File = f
	for range 2 {
		c.mustSignIn(osei, room, oseis)
	}
	_, err = c.signIn(osei, room, "844018")
	require.ErrorIs(t, err, staff.ErrRefused)
	people, err := c.People()
	require.NoError(t, err)
	require.Equal(t, morning, people[0].Changed, "nobody changed it")
}

// RFC 9106 has no vector without secret and data; this holds the format, and that nobody changes the cost by the way. The
// figure was worked out by golang.org/x/crypto, on 2026-11-25.
func TestAHashedPIN(t *testing.T) {
	text := staff.HashOf(staff.DefaultCost, "844017")
	require.Regexp(t, `^\$argon2id\$v=19\$m=19456,t=2,p=1\$[A-Za-z0-9+/]{22}\$[A-Za-z0-9+/]{43}$`, text)
	again, err := staff.ParseHashed(text)
	require.NoError(t, err)
	require.Equal(t, text, again)
	for _, bad := range []string{"", "$", text + "x", text[1:], strings.Replace(text, "argon2id", "argon2i", 1), strings.Replace(text, "v=19", "v=16", 1), strings.Replace(text, "m=19456", "m=99999999", 1),
		strings.Replace(text, "m=19456", "m=019456", 1), strings.Replace(text, "m=19456", "m=0", 1), strings.Replace(text, "t=2", "t=-2", 1), strings.Replace(text, ",p=1", "", 1), strings.Replace(text, "p=1", "p=255", 1), text[:len(text)-1] + "="} {
		_, err := staff.ParseHashed(bad)
		require.ErrorIs(t, err, staff.ErrDamaged, bad)
	}
}

// held is chance that comes when it is let, and knows how many wait for it.
type held struct {
	now, most atomic.Int32
	let       chan struct{}
}

func (h *held) Read(p []byte) (int, error) {
	h.most.Store(max(h.most.Load(), h.now.Add(1)))
	defer h.now.Add(-1)
	<-h.let
	return len(p), nil
}

// Two PINs are hashed at once at most, however many come; some wait in line, and who comes when that is full is told so.
func TestFewHashAtOnce(t *testing.T) {
	chance := &held{let: make(chan struct{})}
	f, err := staff.Open(filepath.Join(t.TempDir(), "staff.db"), key(1), staff.Options{Cost: cheap, Random: chance})
	require.NoError(t, err)
	done := make(chan error)
	const more = 6
	for i := range staff.HashesAtOnce + staff.MostWaiting + more {
		go func() { done <- f.Add(t.Context(), fmt.Sprintf("clerk.%d", i), "pw of a clerk", "") }()
	}
	for range more {
		require.ErrorIs(t, <-done, staff.ErrBusy)
	}
	close(chance.let)
	for range staff.HashesAtOnce + staff.MostWaiting {
		require.NoError(t, <-done)
	}
	require.LessOrEqual(t, chance.most.Load(), int32(staff.HashesAtOnce))
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	for range 50 { // whoever goes away leaves their place
		_ = f.Add(gone, "clerk.gone", "pw of a clerk", "")
	}
	require.NoError(t, f.Add(t.Context(), "clerk.last", "pw of a clerk", ""))
	require.NoError(t, f.Close())
}

// Many tries of one badge at once are as one after the other: one is looked at, the others wait.
func TestManyTriesAtOnceAreOne(t *testing.T) {
	c := newClinic(t)
	const many = 30
	var wg sync.WaitGroup
	errs := make([]error, many)
	for i := range many {
		wg.Go(func() { _, errs[i] = c.signIn(osei, room, "844018") })
	}
	wg.Wait()
	looked := 0
	for _, err := range errs {
		if errors.Is(err, staff.ErrRefused) {
			looked++
		}
	}
	require.Equal(t, 1, looked)
}

// Whether a badge is known is not told by the time that an answer takes: the same work is done. Medians of a few, and a wide
// bound, since a machine has other things to do; without the hash of nobody the ratio would be in the hundreds.
// How long a try takes is what hashing takes: so the work is counted, and no clock is asked (BenchmarkTry has the times).
func TestAnUnknownBadgeCostsAsMuchWork(t *testing.T) {
	c := newClinic(t)
	work := func(who string) (costs []staff.Cost) {
		c.CountHashes(func(cost staff.Cost) { costs = append(costs, cost) })
		_, err := c.signIn(who, room, "844018")
		require.ErrorIs(t, err, staff.ErrRefused)
		return costs
	}
	wrong, unknown := work(osei), work(nobody)
	require.Equal(t, []staff.Cost{cheap}, wrong, "a wrong PIN is hashed once")
	require.Equal(t, wrong, unknown, "the PIN of nobody as well, at the same cost")
	require.NoError(t, c.Remove(lund, "admin.falk"))
	require.Equal(t, wrong, work(lund), "and that of whom the list names no longer")
}

// BenchmarkTry is a try with a wrong PIN, and one with the badge of nobody, at the cost that clinics pay.
func BenchmarkTry(b *testing.B) {
	c := newClinic(b)
	require.NoError(b, c.File.Close())
	o := c.options()
	o.Cost = staff.DefaultCost
	f, err := staff.Open(c.path, key(1), o)
	require.NoError(b, err)
	c.File = f
	require.NoError(b, c.SetPIN(b.Context(), osei, oseis, ""))
	tries := func(who func(i int) string) func(*testing.B) {
		return func(b *testing.B) {
			for i := 0; b.Loop(); i++ {
				_, err := c.signIn(who(i), room, "844018")
				b.StopTimer()
				require.ErrorIs(b, err, staff.ErrRefused)
				require.NoError(b, c.Unlock(osei, ""))
				c.pass(time.Hour)
				b.StartTimer()
			}
		}
	}
	b.Run("wrong PIN", tries(func(int) string { return osei }))
	b.Run("nobody", tries(func(i int) string { return fmt.Sprintf("nobody.%d", i) }))
}

func TestNewFilesAreTheOwnersAlone(t *testing.T) {
	path := filepath.Join(t.TempDir(), "staff.db")
	f, err := staff.Open(path, key(1), staff.Options{Cost: cheap})
	require.NoError(t, err)
	require.NoError(t, f.Close())
	require.Equal(t, "-rw-------", modeOf(t, path))
}
