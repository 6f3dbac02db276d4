package staff_test

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store/staff"
)

func TestWrongPINsMakeTheBadgeWaitAtThatStation(t *testing.T) {
	c := newClinic(t)
	for i, want := range []time.Duration{1, 2, 4, 8, 16, 32, 60, 60, 60} {
		_, err := c.signIn(osei, room, "844018")
		require.ErrorIs(t, err, staff.ErrRefused, "wrong PIN %d", i+1)
		_, err = c.signIn(osei, room, oseis)
		require.Equal(t, staff.WaitError{Wait: want * time.Second}, waitOf(t, err), "the right one too")
		c.pass(want*time.Second - time.Nanosecond)
		_, err = c.signIn(osei, room, oseis)
		require.Equal(t, staff.WaitError{Wait: time.Nanosecond}, waitOf(t, err))
		c.mustSignIn(osei, hatch, oseis) // elsewhere, at any moment
		c.mustSignIn(lund, room, lunds)  // others, there
		c.pass(time.Nanosecond)
	}
	_, err := c.signIn(osei, room, "844018")
	require.ErrorIs(t, err, staff.ErrRefused)
	_, err = c.signIn(osei, room, oseis)
	require.Equal(t, staff.WaitError{Wait: 15 * time.Minute, Locked: true}, waitOf(t, err), "the tenth locks it there")
	people, err := c.People()
	require.NoError(t, err)
	require.Equal(t, []staff.Locked{{Station: room, Wrong: 10, Last: c.wall, OpensAfter: 15 * time.Minute}}, people[0].Locked)
	c.mustSignIn(osei, hatch, oseis)
	c.mustSignIn(lund, room, lunds)
}

func TestALockOpensByAPersonOrForOneTryEachQuarterOfAnHour(t *testing.T) {
	locked := func() *clinic {
		c := newClinic(t)
		for range staff.WrongAtStation {
			_, err := c.signIn(osei, room, "844018")
			require.ErrorIs(t, err, staff.ErrRefused)
			c.pass(time.Minute)
		}
		_, err := c.signIn(osei, room, oseis)
		require.True(t, waitOf(t, err).Locked)
		return c
	}
	c := locked()
	require.NoError(t, c.Unlock(osei, room))
	c.mustSignIn(osei, room, oseis)
	c = locked()
	require.NoError(t, c.Unlock(osei, ""))
	c.mustSignIn(osei, room, oseis)
	c = locked()
	require.NoError(t, c.Unlock(osei, hatch), "another station's is none of it")
	_, err := c.signIn(osei, room, oseis)
	require.True(t, waitOf(t, err).Locked)
	require.NoError(t, c.SetPIN(t.Context(), osei, "773901", "admin.falk"))
	c.mustSignIn(osei, room, "773901")

	c = locked()
	c.pass(14 * time.Minute)
	c.mustSignIn(osei, room, oseis)
	_, err = c.signIn(osei, room, "844018")
	require.ErrorIs(t, err, staff.ErrRefused, "and all is forgotten")

	c = locked()
	tries := staff.WrongAtStation
	for range 100 {
		c.pass(15 * time.Minute)
		_, err := c.signIn(osei, room, "844018")
		if !errors.Is(err, staff.ErrRefused) {
			require.Equal(t, staff.WaitError{Locked: true}, waitOf(t, err), "until a person helps")
			break
		}
		tries++
	}
	require.Equal(t, staff.MostAtStation, tries)
	c.pass(1000 * time.Hour)
	_, err = c.signIn(osei, room, oseis)
	require.Equal(t, staff.WaitError{Locked: true}, waitOf(t, err))
	c.mustSignIn(osei, hatch, oseis)
	c.restart(time.Minute)
	_, err = c.signIn(osei, room, oseis)
	require.Equal(t, staff.WaitError{Locked: true}, waitOf(t, err), "a new start forgets nothing")
}

// Ten thousand guesses of one badge at one station, as fast as it lets: twenty are looked at, others do not notice, and the
// same badge works at every other station meanwhile.
func TestTenThousandGuessesAtOneStation(t *testing.T) {
	c := newClinic(t)
	looked, blocked := 0, 0
	for i := range 10_000 {
		_, err := c.signIn(osei, room, fmt.Sprintf("%06d", 100_000+i*7))
		if errors.Is(err, staff.ErrRefused) {
			looked++
		} else {
			waitOf(t, err)
			blocked++
		}
		c.pass(time.Duration(1+i%60) * time.Second)
		if i%100 == 0 {
			c.mustSignIn(osei, hatch, oseis)
			c.mustSignIn(lund, room, lunds)
		}
	}
	require.Equal(t, staff.MostAtStation, looked)
	require.Equal(t, 10_000, looked+blocked)
	t.Logf("10,000 guesses in %s: %d were looked at", c.wall.Sub(morning), looked)
	require.NoError(t, c.Check())
}

// Guesses at many stations: at most a hundred in a row of one badge, by NIST SP 800-63B. Then that badge needs a person, and
// nobody else notices.
func TestGuessesAtManyStationsStopAtAHundred(t *testing.T) {
	c := newClinic(t)
	for i := range 30 {
		c.enrol(fmt.Sprintf("desk-%d", i), false)
	}
	looked := 0
	for round := range 2000 {
		_, err := c.signIn(osei, fmt.Sprintf("desk-%d", round%30), "844018")
		if errors.Is(err, staff.ErrRefused) {
			looked++
		}
		c.pass(time.Minute)
	}
	require.Equal(t, staff.MostWrong, looked)
	_, err := c.signIn(osei, hatch, oseis)
	require.Equal(t, staff.WaitError{Locked: true, Everywhere: true}, waitOf(t, err))
	people, err := c.People()
	require.NoError(t, err)
	require.Equal(t, "", people[0].Locked[0].Station)
	require.Zero(t, people[0].Locked[0].OpensAfter)
	c.mustSignIn(lund, "desk-0", lunds)
	require.NoError(t, c.SetPIN(t.Context(), osei, oseis, "admin.falk"), "the machine's owner helps, whatever was tried")
	c.mustSignIn(osei, "desk-0", oseis)
}

// One right PIN begins the count of a hundred anew: it counts those in a row.
func TestARightPINBeginsAnew(t *testing.T) {
	c := newClinic(t)
	for range 60 {
		for range 4 {
			_, err := c.signIn(osei, room, "844018")
			require.ErrorIs(t, err, staff.ErrRefused)
			c.pass(time.Minute)
		}
		c.mustSignIn(osei, room, oseis)
	}
}

// Somebody goes through the staff with one PIN at one station: badges that were never right there wait for it, and those who
// work there do not.
func TestOnePINTriedOnEverybody(t *testing.T) {
	c := newClinic(t)
	c.mustSignIn(lund, room, lunds)
	for i := range 40 {
		require.NoError(t, c.Add(t.Context(), fmt.Sprintf("clerk.%d", i), fmt.Sprintf("pw of clerk %d", i), "admin.falk"))
	}
	looked := 0
	for i := range 40 {
		if _, err := c.signIn(fmt.Sprintf("clerk.%d", i), room, "summer-2026"); errors.Is(err, staff.ErrRefused) {
			looked++
		}
	}
	require.Equal(t, staff.WrongStrangers, looked, "at once")
	c.mustSignIn(lund, room, lunds)
	_, err := c.signIn("clerk.30", room, "pw of clerk 30")
	require.NoError(t, err, "a right PIN of somebody who works there frees the station")
	for i := range staff.WrongStrangers + 3 {
		_, _ = c.signIn(fmt.Sprintf("clerk.%d", i+20), room, "summer-2026")
		c.pass(2 * time.Second)
	}
	_, err = c.signIn("clerk.39", room, "pw of clerk 39")
	require.False(t, waitOf(t, err).Locked)
	require.LessOrEqual(t, waitOf(t, err).Wait, time.Minute)
	c.pass(time.Minute)
	c.mustSignIn("clerk.39", room, "pw of clerk 39")
}

// What is on no list waits and locks as what is; so nothing tells them apart.
func TestAnUnknownBadgeIsAsAnyOther(t *testing.T) {
	type said struct {
		refused bool
		wait    staff.WaitError
	}
	course := func(who string) (out []said) {
		c := newClinic(t)
		for i := range 400 {
			_, err := c.signIn(who, room, "844018")
			s := said{refused: errors.Is(err, staff.ErrRefused)}
			if !s.refused {
				s.wait = waitOf(t, err)
			}
			out = append(out, s)
			c.pass(time.Duration(1+i*7%97) * time.Second)
		}
		require.NoError(t, c.Check())
		return out
	}
	want := course(osei)
	require.Equal(t, want, course(nobody))
	require.Equal(t, want, course("no badge at all"))
}

// Badges that nobody has do not fill the disk.
func TestUnknownBadgesAreForgottenWhenTheyAreMany(t *testing.T) {
	c := newClinic(t)
	for i := range 2500 {
		_, _ = c.signIn(fmt.Sprintf("nobody.%d", i), room, "844018")
		c.pass(time.Minute)
	}
	require.LessOrEqual(t, c.Strangers(), 2002, "two rows each of a thousand")
	require.NoError(t, c.Check())
}

// A clock that is set back lets nobody wait for longer than the wait is; one that is set forward forgets no count.
func TestWaitsWhenTheClockIsSet(t *testing.T) {
	for _, step := range []time.Duration{-time.Hour, -10 * 365 * 24 * time.Hour, time.Hour, 10 * 365 * 24 * time.Hour} {
		c := newClinic(t)
		for range 5 {
			_, err := c.signIn(osei, room, "844018")
			require.ErrorIs(t, err, staff.ErrRefused)
			c.pass(time.Minute)
		}
		_, err := c.signIn(osei, room, "844018")
		require.ErrorIs(t, err, staff.ErrRefused)
		c.set(step)
		if step < 0 {
			_, err = c.signIn(osei, room, oseis)
			require.Equal(t, 32*time.Second, waitOf(t, err).Wait, "the wait begins anew")
			c.pass(32 * time.Second)
		}
		_, err = c.signIn(osei, room, "844018")
		require.ErrorIs(t, err, staff.ErrRefused, "by %s", step)
		_, err = c.signIn(osei, room, oseis)
		require.Equal(t, 60*time.Second, waitOf(t, err).Wait, "the count goes on")
		c.pass(time.Minute)
		c.mustSignIn(osei, room, oseis)
	}
}

// The twin: without counting, ten thousand guesses find a PIN of four digits sooner than not.
func TestWithoutCountingAGuesserGetsIn(t *testing.T) {
	c := newClinic(t)
	require.NoError(t, c.SetPIN(t.Context(), osei, "004417", "admin.falk"))
	found := false
	for i := 0; i < 10_000 && !found; i += 1 {
		require.NoError(t, c.Unlock(osei, ""))
		_, err := c.signIn(osei, room, fmt.Sprintf("%06d", i))
		found = err == nil
		if i == 0 { // as quick as it goes; the station's wait for strangers is past once somebody was right there
			c.mustSignIn(osei, hatch, "004417")
			c.pass(time.Second)
			require.NoError(t, c.Unlock(osei, ""))
			c.mustSignIn(osei, room, "004417")
		}
	}
	require.True(t, found)
}

// Whoever looks after the machine is told of a lock, by the key of somebody on the list and never by what somebody held under
// a scanner.
func TestALockIsTold(t *testing.T) {
	c := newClinic(t)
	require.NoError(t, c.File.Close())
	var told []string
	o := c.options()
	o.Locked = func(who, at string, wrong int) { told = append(told, fmt.Sprint(who, " ", at, " ", wrong)) }
	f, err := staff.Open(c.path, key(1), o)
	require.NoError(t, err)
	c.File = f
	for range staff.WrongAtStation {
		_, _ = c.signIn(osei, room, "844018")
		_, _ = c.signIn(nobody, hatch, "844018")
		c.pass(time.Minute)
	}
	_, _ = c.signIn(osei, room, "844018")
	require.Equal(t, []string{"nurse.osei room-2 10"}, told)
}
