package staff_test

import (
	"context"
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store/staff"
)

// whyOf is why a session is not open, WhyUnmarked while it is.
func (c *clinic) whyOf(token string) staff.Why {
	c.t.Helper()
	_, _, err := c.Session(token, false)
	if err == nil {
		return staff.WhyUnmarked
	}
	var ended *staff.EndedError
	require.ErrorAs(c.t, err, &ended)
	return ended.Why
}

func (c *clinic) was(who, at string, when time.Time) bool {
	c.t.Helper()
	was, err := c.WasSignedIn(who, at, when)
	require.NoError(c.t, err)
	return was
}

func TestASessionEndsWhenNothingIsDone(t *testing.T) {
	c := newClinic(t)
	shared, own := c.mustSignIn(osei, room, oseis), c.mustSignIn(lund, hatch, lunds)
	c.pass(4*time.Minute + 59*time.Second)
	s, _, err := c.Session(shared.Token, true)
	require.NoError(t, err)
	require.Equal(t, c.wall.Add(5*time.Minute), s.Idle, "it was used")
	c.pass(4*time.Minute + 59*time.Second)
	_, _, err = c.Session(shared.Token, false)
	require.NoError(t, err, "a look is no use")
	c.pass(time.Second)
	require.Equal(t, staff.WhyIdle, c.whyOf(shared.Token))
	require.Equal(t, staff.WhyIdle, c.whyOf(shared.Token), "and it is still known why")
	require.Equal(t, staff.WhyUnmarked, c.whyOf(own.Token))
	c.pass(20*time.Minute + time.Second)
	require.Equal(t, staff.WhyIdle, c.whyOf(own.Token))
	_, _, err = c.Session("no such token", true)
	require.ErrorIs(t, err, staff.ErrNoSession)
	require.Zero(t, c.OpenSessions())
}

func TestASessionEndsAfterTwelveHours(t *testing.T) {
	c := newClinic(t)
	in := c.mustSignIn(lund, hatch, lunds)
	for range 36 {
		c.pass(20*time.Minute - time.Second)
		_, _, err := c.Session(in.Token, true)
		require.NoError(t, err)
	}
	s, _, err := c.Session(in.Token, true)
	require.NoError(t, err)
	require.Equal(t, morning.Add(12*time.Hour), s.Ends)
	require.Equal(t, s.Ends, s.Idle, "whichever comes first")
	c.pass(36 * time.Second)
	require.Equal(t, staff.WhyLong, c.whyOf(in.Token))
}

func TestSeveralAreSignedInAtOneScreen(t *testing.T) {
	c := newClinic(t)
	a := c.mustSignIn(osei, room, oseis)
	b := c.mustSignIn(lund, room, lunds)
	require.Equal(t, []string{osei}, b.Others)
	c.pass(time.Minute)
	back, err := c.Switch(c.keys[room], "B:"+osei)
	require.NoError(t, err)
	require.NotEqual(t, a.Token, back.Token, "new, since the old one may be seen by whoever had the screen")
	require.Equal(t, []string{lund}, back.Others)
	require.Equal(t, a.Session.Since, back.Session.Since)
	_, _, err = c.Session(a.Token, true)
	require.ErrorIs(t, err, staff.ErrNoSession)
	_, _, err = c.Session(back.Token, true)
	require.NoError(t, err)

	_, err = c.Switch(c.keys[hatch], osei)
	require.ErrorIs(t, err, staff.ErrPINNeeded, "at another screen")
	_, err = c.Switch(c.keys[room], nobody)
	require.ErrorIs(t, err, staff.ErrPINNeeded)
	_, err = c.Switch("no such key", osei)
	require.ErrorIs(t, err, staff.ErrStation)
	c.pass(4*time.Minute + time.Second)
	_, err = c.Switch(c.keys[room], lund)
	require.ErrorIs(t, err, staff.ErrPINNeeded, "it has ended by itself meanwhile")

	again := c.mustSignIn(osei, room, oseis)
	require.Equal(t, staff.WhyAgain, c.whyOf(back.Token), "one session a person and screen")
	require.NoError(t, c.SignOut(again.Token))
	require.NoError(t, c.SignOut(again.Token))
	require.Equal(t, staff.WhyOut, c.whyOf(again.Token))
	_, err = c.Switch(c.keys[room], osei)
	require.ErrorIs(t, err, staff.ErrPINNeeded, "signed out is signed out")
	require.NoError(t, c.Check())
}

func TestAnAdministratorEndsASession(t *testing.T) {
	c := newClinic(t)
	in := c.mustSignIn(osei, room, oseis)
	open, err := c.Sessions(false, 0)
	require.NoError(t, err)
	require.Len(t, open, 1)
	require.NoError(t, c.EndSession(open[0].Number))
	require.ErrorIs(t, c.EndSession(open[0].Number), staff.ErrNoSession)
	require.Equal(t, staff.WhyEnded, c.whyOf(in.Token))
	all, err := c.Sessions(true, 0)
	require.NoError(t, err)
	require.Equal(t, []staff.Session{{Number: open[0].Number, Staff: osei, Station: room, Since: morning, Last: morning, Ended: morning, Why: staff.WhyEnded}}, all)
}

func TestThePINAgainBeforeWhatCannotBeUndone(t *testing.T) {
	c := newClinic(t)
	in := c.mustSignIn(osei, room, oseis)
	s, err := c.Confirm(t.Context(), in.Token, oseis)
	require.NoError(t, err)
	require.Equal(t, osei, s.Staff)
	_, err = c.Confirm(t.Context(), in.Token, lunds)
	require.ErrorIs(t, err, staff.ErrRefused)
	_, err = c.Confirm(t.Context(), in.Token, oseis)
	require.Equal(t, time.Second, waitOf(t, err).Wait, "it counts as any other")
	_, err = c.Confirm(t.Context(), "no such token", oseis)
	require.ErrorIs(t, err, staff.ErrNoSession)
}

// A queue outlives a sign-in: what counts is who was signed in when it happened, two minutes between the clocks allowed.
func TestWhoWasSignedInWhen(t *testing.T) {
	c := newClinic(t)
	in := c.mustSignIn(osei, room, oseis)
	c.pass(3 * time.Minute)
	require.True(t, c.was(osei, room, c.wall), "and is")
	require.NoError(t, c.SignOut(in.Token))
	end := c.wall
	c.pass(8 * time.Hour)
	for _, row := range []struct {
		when time.Time
		want bool
	}{
		{morning.Add(-2*time.Minute - time.Second), false},
		{morning.Add(-2 * time.Minute), true},
		{morning, true},
		{morning.Add(time.Minute), true},
		{end.Add(2 * time.Minute), true},
		{end.Add(2*time.Minute + time.Second), false},
		{c.wall, false},
		{time.Time{}, false},
		{time.Unix(-1, 0), false},
	} {
		require.Equal(t, row.want, c.was(osei, room, row.when), "%s", row.when)
	}
	require.False(t, c.was(lund, room, morning), "somebody else")
	require.False(t, c.was(osei, hatch, morning), "elsewhere")
	require.False(t, c.was("", "", morning))
	require.False(t, c.was(osei, room+"\x00", morning))
	require.False(t, c.was(osei+"\x00"+room, "", morning))
	c.restart(time.Hour)
	require.True(t, c.was(osei, room, end))
	in = c.mustSignIn(osei, room, oseis) // never used again, and nobody asks
	since := c.wall
	c.pass(time.Hour)
	require.True(t, c.was(osei, room, since.Add(7*time.Minute)), "it ended after five minutes of nothing")
	require.False(t, c.was(osei, room, since.Add(7*time.Minute+time.Second)))
	require.Equal(t, staff.WhyIdle, c.whyOf(in.Token))
	require.True(t, c.was(osei, room, since.Add(7*time.Minute)), "and the list has the same")
	require.False(t, c.was(osei, room, since.Add(7*time.Minute+time.Second)))
}

// The clock of the machine is set while people are signed in: nobody is out at once, nobody is in for ever, and of each
// stretch it is known when it was, by the clock of its day.
func TestTheClockIsSetWhilePeopleAreSignedIn(t *testing.T) {
	for _, step := range []time.Duration{-time.Hour, time.Hour, 10 * 365 * 24 * time.Hour, -24 * time.Hour} {
		t.Run(fmt.Sprint(step), func(t *testing.T) {
			c := newClinic(t)
			first, second := c.mustSignIn(osei, room, oseis), c.mustSignIn(lund, room, lunds)
			c.pass(2 * time.Minute)
			_, _, err := c.Session(first.Token, true)
			require.NoError(t, err)
			before := c.wall
			c.set(step)
			for _, in := range []*staff.SignedIn{first, second} {
				s, _, err := c.Session(in.Token, true)
				require.NoError(t, err, "nobody is out at once")
				require.Equal(t, c.wall.Add(5*time.Minute), s.Idle)
				require.Equal(t, c.wall.Add(12*time.Hour-2*time.Minute), s.Ends, "twelve hours by the clock that nobody sets")
			}
			require.True(t, c.was(osei, room, before), "what was queued under the old clock")
			require.True(t, c.was(osei, room, c.wall), "what is done under the new one")
			require.True(t, c.was(osei, room, c.wall.Add(-2*time.Minute)))
			if step.Abs() < time.Hour*2 {
				require.False(t, c.was(osei, room, morning.Add(step/2)), "never in between")
			}
			require.NoError(t, c.Check())
			c.pass(5 * time.Minute)
			require.Equal(t, staff.WhyIdle, c.whyOf(first.Token), "nobody is in for ever")
			require.Equal(t, staff.WhyIdle, c.whyOf(second.Token))
			third := c.mustSignIn(osei, room, oseis)
			for range 12*30 - 1 {
				c.pass(2 * time.Minute)
				c.set(-90 * time.Second) // a little each time
				_, _, err := c.Session(third.Token, true)
				require.NoError(t, err)
			}
			c.pass(2 * time.Minute)
			require.Equal(t, staff.WhyLong, c.whyOf(third.Token))
			require.NoError(t, c.Check())
			require.Zero(t, c.OpenSessions())
		})
	}
}

// A start of the program, with the machine's other clock at nought, ends no session that was not idle for too long, and
// starts none anew.
func TestSessionsOutliveAStart(t *testing.T) {
	c := newClinic(t)
	in, own := c.mustSignIn(osei, room, oseis), c.mustSignIn(lund, hatch, lunds)
	c.pass(4 * time.Minute)
	_, _, err := c.Session(in.Token, true)
	require.NoError(t, err)
	c.restart(4 * time.Minute)
	require.Equal(t, staff.WhyUnmarked, c.whyOf(in.Token))
	s, _, err := c.Session(own.Token, false)
	require.NoError(t, err)
	require.Equal(t, morning.Add(30*time.Minute), s.Idle)
	c.restart(2 * time.Minute)
	require.Equal(t, staff.WhyIdle, c.whyOf(in.Token))
	require.True(t, c.was(osei, room, morning.Add(9*time.Minute)), "till five minutes after its last use")
	c.restart(-time.Hour)
	require.Equal(t, staff.WhyUnmarked, c.whyOf(own.Token), "of the time between only the clock tells, and it was set back")
	_, _, err = c.Session(own.Token, true)
	require.NoError(t, err)
	for range 12 * 3 {
		_, _, err = c.Session(own.Token, true)
		require.NoError(t, err)
		c.pass(20*time.Minute - time.Second)
		c.restart(-time.Hour)
	}
	c.pass(time.Minute)
	require.Equal(t, staff.WhyLong, c.whyOf(own.Token), "even so not for ever")
	require.NoError(t, c.Check())
}

func TestOldSessionsAreForgotten(t *testing.T) {
	c := newClinic(t)
	for range 100 {
		in := c.mustSignIn(osei, room, oseis)
		require.NoError(t, c.SignOut(in.Token))
		c.pass(24 * time.Hour)
	}
	all, err := c.Sessions(true, 0)
	require.NoError(t, err)
	require.Len(t, all, 91)
	require.False(t, c.was(osei, room, morning))
	require.True(t, c.was(osei, room, c.wall.Add(-90*24*time.Hour)))
	c.set(10 * 365 * 24 * time.Hour)
	in := c.mustSignIn(osei, room, oseis)
	require.NoError(t, c.SignOut(in.Token))
	all, err = c.Sessions(true, 0)
	require.NoError(t, err)
	require.Len(t, all, 92, "a clock set ten years ahead does not empty the list")
	some, err := c.Sessions(true, 5)
	require.NoError(t, err)
	require.Equal(t, all[:5], some)
	require.NoError(t, c.Check())
}

func TestTooManySessions(t *testing.T) {
	c := newClinic(t)
	c.Bound(20)
	first := c.mustSignIn(osei, room, oseis)
	second := c.mustSignIn(lund, room, lunds)
	for i := range 19 {
		c.pass(time.Second)
		_, _, err := c.Session(second.Token, true)
		require.NoError(t, err)
		name := fmt.Sprintf("desk-%d", i)
		c.enrol(name, true)
		c.mustSignIn(osei, name, oseis)
	}
	require.Equal(t, 20, c.OpenSessions())
	require.Equal(t, staff.WhyTooMany, c.whyOf(first.Token), "it had been idle for longest")
	require.Equal(t, staff.WhyUnmarked, c.whyOf(second.Token))
	require.NoError(t, c.Check())
}

func TestDoubtsAreKeptUpToACap(t *testing.T) {
	c := newClinic(t)
	doubt := func(i int) staff.Doubt {
		return staff.Doubt{ID: fmt.Sprintf("0199f1c2-7b1e-7c3a-9d55-%012d", i), Kind: "piece.potted", Clinic: "MBY", By: osei, At: morning, Station: room, SignedIn: lund, From: room,
			Recorded: morning.Add(time.Second), Why: "nurse.osei was not signed in at room-2 when this happened."}
	}
	require.NoError(t, c.NoteDoubts())
	require.NoError(t, c.NoteDoubts(doubt(1), doubt(2), doubt(1)))
	require.NoError(t, c.NoteDoubts(doubt(2)))
	list, dropped, err := c.Doubts(0)
	require.NoError(t, err)
	require.Equal(t, []staff.Doubt{doubt(2), doubt(1)}, list, "each once, the latest first")
	require.Zero(t, dropped)
	for n := 3; n < staff.MostDoubts+10; n += 100 {
		var batch []staff.Doubt
		for i := n; i < min(n+100, staff.MostDoubts+10); i++ {
			batch = append(batch, doubt(i))
		}
		require.NoError(t, c.NoteDoubts(batch...))
	}
	list, dropped, err = c.Doubts(3)
	require.NoError(t, err)
	require.Equal(t, []staff.Doubt{doubt(staff.MostDoubts + 9), doubt(staff.MostDoubts + 8), doubt(staff.MostDoubts + 7)}, list)
	require.EqualValues(t, 9, dropped)
	list, _, err = c.Doubts(0)
	require.NoError(t, err)
	require.Len(t, list, staff.MostDoubts)
	long := doubt(20_000)
	long.Why = string(make([]byte, 100)) + "é" + string([]rune("ü"))
	for len(long.Why) < 1000 {
		long.Why += "é"
	}
	require.NoError(t, c.NoteDoubts(long))
	list, _, err = c.Doubts(1)
	require.NoError(t, err)
	require.LessOrEqual(t, len(list[0].Why), 200)
	require.NoError(t, c.Check())
}

// Many people and screens at once: whatever comes in between, the file fits together, and nobody is in who is not.
func TestManyAtOnce(t *testing.T) {
	c := newClinic(t)
	var wg sync.WaitGroup
	for n := range 6 {
		wg.Go(func() {
			who, at, pin := []string{osei, lund}[n%2], []string{room, hatch}[n/2%2], []string{oseis, lunds}[n%2]
			for i := range 60 {
				in, err := c.signIn(who, at, pin)
				if err != nil { // another of the same waits for its PIN to be looked at
					continue
				}
				_, _, _ = c.Session(in.Token, true)
				_, _ = c.WasSignedIn(who, at, morning)
				switch i % 5 {
				case 0:
					_ = c.SignOut(in.Token)
				case 1:
					_, _ = c.Switch(c.keys[at], who)
				case 2:
					_, _ = c.Confirm(context.Background(), in.Token, pin)
				case 3:
					_ = c.EndSession(in.Session.Number)
				case 4:
					_, _ = c.Sessions(true, 10)
					_ = c.Rekey(key(byte(i)))
				}
			}
		})
	}
	wg.Wait()
	require.NoError(t, c.Check())
	require.NoError(t, c.Rekey(key(1)))
	open, err := c.Sessions(false, 0)
	require.NoError(t, err)
	require.Len(t, open, c.OpenSessions())
	require.NoError(t, c.Unlock(osei, ""))
	c.mustSignIn(osei, room, oseis)
}
