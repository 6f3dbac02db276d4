package staff_test

import (
	"bytes"
	"context"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/staff"
)

// morning is a quarter to ten on an invented day.
var morning = time.Date(2026, 3, 6, 9, 45, 0, 0, time.UTC)

func key(fill byte) []byte { return bytes.Repeat([]byte{fill}, 32) }

// clock is a machine's two clocks: one that may be set, and one that goes on.
type clock struct {
	wall   time.Time
	steady time.Duration
}

func (c *clock) pass(d time.Duration) { c.wall = c.wall.Add(d); c.steady += d }
func (c *clock) set(by time.Duration) { c.wall = c.wall.Add(by) }

// cheap hashes PINs in no time.
var cheap = staff.Cost{Memory: 8, Time: 1, Lanes: 1}

func (c *clock) options() staff.Options {
	return staff.Options{Now: func() time.Time { return c.wall }, Steady: func() time.Duration { return c.steady }, Cost: cheap,
		Bolt: func(o *bolt.Options) { o.NoSync = true }} // a killed process loses nothing of it
}

// clinic is a staff file with people and stations.
type clinic struct {
	t    testing.TB
	path string
	*clock
	*staff.File
	keys    map[string]string // of stations
	stopped time.Duration     // the clock that nobody sets, when the file was last closed
}

const (
	osei   = "nurse.osei"
	lund   = "porter.lund"
	room   = "room-2"
	hatch  = "hatch"
	oseis  = "844017"
	lunds  = "a long night"
	nobody = "nurse.nobody"
)

func newClinic(t testing.TB) *clinic {
	c := &clinic{t: t, path: filepath.Join(t.TempDir(), "staff.db"), clock: &clock{wall: morning, steady: time.Hour}, keys: map[string]string{}}
	c.start()
	t.Cleanup(func() { require.NoError(t, c.File.Close()) })
	require.NoError(t, c.Add(t.Context(), osei, oseis, "admin.falk"))
	require.NoError(t, c.Add(t.Context(), lund, lunds, "admin.falk"))
	c.enrol(room, true)
	c.enrol(hatch, false)
	return c
}

func (c *clinic) start() {
	f, err := staff.Open(c.path, key(1), c.options())
	require.NoError(c.t, err)
	c.File = f
}

// restart closes the file and opens it with the machine's other clock at nought, as after a start of the machine.
func (c *clinic) restart(away time.Duration) {
	require.NoError(c.t, c.File.Close())
	c.wall = c.wall.Add(away)
	c.stopped, c.steady = c.steady, 0
	c.start()
}

func (c *clinic) enrol(name string, shared bool) {
	token, until, err := c.NewLink(staff.Station{Key: name, Clinic: "MBY", Place: name, Shared: shared, By: "admin.falk"})
	require.NoError(c.t, err)
	require.Equal(c.t, c.wall.Add(30*time.Minute), until)
	s, secret, err := c.Enrol(token)
	require.NoError(c.t, err)
	require.Equal(c.t, name, s.Key)
	c.keys[name] = secret
}

func (c *clinic) signIn(who, at, pin string) (*staff.SignedIn, error) {
	return c.SignIn(context.Background(), c.keys[at], who, pin)
}

func (c *clinic) mustSignIn(who, at, pin string) *staff.SignedIn {
	c.t.Helper()
	in, err := c.signIn(who, at, pin)
	require.NoError(c.t, err)
	return in
}

// waitOf is how long a badge must wait, and whether it is locked.
func waitOf(t require.TestingT, err error) staff.WaitError {
	var w *staff.WaitError
	require.ErrorAs(t, err, &w)
	return *w
}

func TestABadgeAndItsPINAtAnEnrolledStation(t *testing.T) {
	c := newClinic(t)
	in := c.mustSignIn("B:"+osei, room, oseis)
	require.Len(t, in.Token, 43, "256 bits")
	require.Equal(t, osei, in.Session.Staff)
	require.Equal(t, room, in.Session.Station)
	require.Equal(t, morning, in.Session.Since)
	require.Equal(t, morning.Add(5*time.Minute), in.Session.Idle, "a screen of several people")
	require.Equal(t, morning.Add(12*time.Hour), in.Session.Ends)
	own := c.mustSignIn(lund, hatch, lunds)
	require.Equal(t, morning.Add(30*time.Minute), own.Session.Idle)
	require.NotEqual(t, in.Token, own.Token)

	got, others, err := c.Session(in.Token, true)
	require.NoError(t, err)
	require.Equal(t, osei, got.Staff)
	require.Empty(t, others)
	for name, row := range map[string]struct{ who, pin string }{
		"a wrong PIN":            {osei, "844018"},
		"somebody else's PIN":    {osei, lunds},
		"an unknown badge":       {nobody, oseis},
		"no badge":               {"P:hatch", oseis},
		"nothing":                {"", ""},
		"a very long PIN":        {osei, string(bytes.Repeat([]byte("8"), 1<<20))},
		"a space behind the PIN": {osei, oseis + " "},
	} {
		c.pass(time.Minute)
		_, err := c.signIn(row.who, hatch, row.pin)
		require.ErrorIs(t, err, staff.ErrRefused, name)
		require.Equal(t, staff.ErrRefused.Error(), err.Error(), "nobody is told what was wrong")
	}
	_, err = c.SignIn(t.Context(), "no such key", osei, oseis)
	require.ErrorIs(t, err, staff.ErrStation, "the right PIN is worth nothing elsewhere")
	require.NoError(t, c.Check())
}

func TestWhoWasTakenOffTheListIsAsUnknown(t *testing.T) {
	c := newClinic(t)
	in := c.mustSignIn(osei, room, oseis)
	require.NoError(t, c.Remove(osei, "admin.falk"))
	_, _, err := c.Session(in.Token, true)
	var ended *staff.EndedError
	require.ErrorAs(t, err, &ended)
	require.Equal(t, staff.WhyRemoved, ended.Why)
	_, err = c.signIn(osei, room, oseis)
	require.ErrorIs(t, err, staff.ErrRefused)
	require.ErrorIs(t, c.Remove(osei, "admin.falk"), staff.ErrNobody)
	require.ErrorIs(t, c.SetPIN(t.Context(), osei, "773901", "admin.falk"), staff.ErrNobody)
	require.ErrorIs(t, c.Unlock(osei, ""), staff.ErrNobody)
	known, err := c.Known(osei)
	require.NoError(t, err)
	require.False(t, known)
	require.True(t, c.InForce())
	c.pass(time.Minute)
	require.NoError(t, c.Add(t.Context(), osei, "773901", "admin.falk"))
	c.mustSignIn(osei, room, "773901")
	require.ErrorIs(t, c.Add(t.Context(), osei, oseis, "admin.falk"), staff.ErrKnown)
	people, err := c.People()
	require.NoError(t, err)
	require.Len(t, people, 2)
	require.Equal(t, staff.Person{Key: osei, Added: morning, AddedBy: "admin.falk", Changed: c.wall, ChangedBy: "admin.falk"}, people[0])
	require.NoError(t, c.Check())
}

func TestANewPINEndsWhatTheOldOneOpened(t *testing.T) {
	c := newClinic(t)
	in := c.mustSignIn(osei, room, oseis)
	other := c.mustSignIn(lund, room, lunds)
	require.NoError(t, c.SetPIN(t.Context(), osei, "773901", osei))
	_, _, err := c.Session(in.Token, true)
	var ended *staff.EndedError
	require.ErrorAs(t, err, &ended)
	require.Equal(t, staff.WhyPIN, ended.Why)
	_, _, err = c.Session(other.Token, true)
	require.NoError(t, err)
	_, err = c.signIn(osei, room, oseis)
	require.ErrorIs(t, err, staff.ErrRefused)
	c.pass(time.Second)
	c.mustSignIn(osei, room, "773901")
}

func TestAStationIsEnrolledOnceByALink(t *testing.T) {
	c := newClinic(t)
	token, _, err := c.NewLink(staff.Station{Key: "desk-1", By: "admin.falk"})
	require.NoError(t, err)
	_, _, err = c.Enrol(token + "x")
	require.ErrorIs(t, err, staff.ErrLink)
	_, secret, err := c.Enrol(token)
	require.NoError(t, err)
	_, _, err = c.Enrol(token)
	require.ErrorIs(t, err, staff.ErrLink, "once")
	s, err := c.File.Station(secret)
	require.NoError(t, err)
	require.Equal(t, staff.Station{Key: "desk-1", By: "admin.falk", Enrolled: morning, Seen: morning}, s)

	old, _, err := c.NewLink(staff.Station{Key: "desk-1", Shared: true, By: osei})
	require.NoError(t, err)
	in, err := c.SignIn(t.Context(), secret, osei, oseis)
	require.NoError(t, err, "until the new link is used the old key is good")
	c.pass(29 * time.Minute)
	_, fresh, err := c.Enrol(old)
	require.NoError(t, err)
	_, err = c.File.Station(secret)
	require.ErrorIs(t, err, staff.ErrStation)
	_, _, err = c.Session(in.Token, true)
	require.Error(t, err)
	_, err = c.File.Station(fresh)
	require.NoError(t, err)

	late, _, err := c.NewLink(staff.Station{Key: "desk-2"})
	require.NoError(t, err)
	c.pass(30 * time.Minute)
	_, _, err = c.Enrol(late)
	require.ErrorIs(t, err, staff.ErrLink)
	early, _, err := c.NewLink(staff.Station{Key: "desk-2"})
	require.NoError(t, err)
	c.set(-time.Hour)
	_, _, err = c.Enrol(early)
	require.ErrorIs(t, err, staff.ErrLink, "a clock that was set back does not make it good for longer")

	require.NoError(t, c.RemoveStation("desk-1"))
	require.ErrorIs(t, c.RemoveStation("desk-1"), staff.ErrNoStation)
	_, err = c.File.Station(fresh)
	require.ErrorIs(t, err, staff.ErrStation)
	for _, bad := range []string{"", "room 2", "räum", ".x", string(bytes.Repeat([]byte("x"), 81))} {
		_, _, err = c.NewLink(staff.Station{Key: bad})
		require.ErrorIs(t, err, staff.ErrStaffKey)
	}
	require.NoError(t, c.Check())
}

func TestTheLinkOfTheFirstRun(t *testing.T) {
	c := &clinic{t: t, path: filepath.Join(t.TempDir(), "staff.db"), clock: &clock{wall: morning}}
	c.start()
	defer func() { require.NoError(t, c.File.Close()) }()
	setUp := func(token, who, pin, at string) error {
		_, _, err := c.SetUp(t.Context(), token, who, pin, at)
		return err
	}
	require.False(t, c.InForce())
	require.ErrorIs(t, setUp("", osei, oseis, "desk-1"), staff.ErrLink)
	first, _, err := c.NewSetUpLink()
	require.NoError(t, err)
	second, until, err := c.NewSetUpLink()
	require.NoError(t, err)
	require.Equal(t, morning.Add(30*time.Minute), until)
	require.ErrorIs(t, setUp(first, osei, oseis, "desk-1"), staff.ErrLink, "a new one is in its place")
	require.ErrorIs(t, setUp("x", "?", "1", ""), staff.ErrLink, "without a link nobody is told what else is wrong")
	var weak *staff.PINError
	require.ErrorAs(t, setUp(second, osei, "123456", "desk-1"), &weak)
	require.ErrorIs(t, setUp(second, "nurse osei", oseis, "desk-1"), staff.ErrStaffKey)
	require.ErrorIs(t, setUp(second, osei, oseis, ""), staff.ErrStaffKey)
	c.pass(30*time.Minute - time.Second)
	in, stationKey, err := c.SetUp(t.Context(), second, osei, oseis, "desk-1")
	require.NoError(t, err)
	require.Equal(t, osei, in.Session.Staff)
	require.True(t, in.Station.Shared, "until somebody says that it is one's own")
	require.True(t, c.InForce())
	_, err = c.SignIn(t.Context(), stationKey, osei, oseis)
	require.NoError(t, err)
	require.ErrorIs(t, setUp(second, lund, lunds, "desk-2"), staff.ErrLink, "once")
	_, _, err = c.NewSetUpLink()
	require.ErrorIs(t, err, staff.ErrSetUp)
	require.NoError(t, c.Check())
	c.restart(time.Hour)
	require.True(t, c.InForce())
}

func TestALinkOfTheFirstRunGrowsOld(t *testing.T) {
	for name, meanwhile := range map[string]func(c *clinic){
		"half an hour":                          func(c *clinic) { c.pass(30 * time.Minute) },
		"half an hour with the clock set back":  func(c *clinic) { c.pass(30 * time.Minute); c.set(-time.Hour) },
		"a start of the program":                func(c *clinic) { c.restart(0) },
		"somebody put on the list by a command": func(c *clinic) { require.NoError(c.t, c.Add(c.t.Context(), lund, lunds, "admin.falk")) },
		"and taken off again, so nobody is left": func(c *clinic) {
			require.NoError(c.t, errorsOf(c.Add(c.t.Context(), lund, lunds, ""), c.Remove(lund, "")))
		},
	} {
		c := &clinic{t: t, path: filepath.Join(t.TempDir(), "staff.db"), clock: &clock{wall: morning}}
		c.start()
		token, _, err := c.NewSetUpLink()
		require.NoError(t, err)
		meanwhile(c)
		_, _, err = c.SetUp(t.Context(), token, osei, oseis, "desk-1")
		require.ErrorIs(t, err, staff.ErrLink, name)
		require.NoError(t, c.File.Close())
	}
}

func errorsOf(all ...error) error {
	for _, err := range all {
		if err != nil {
			return err
		}
	}
	return nil
}
