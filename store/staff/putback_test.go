package staff_test

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store/staff"
)

// Whoever was signed in when a backup was made may have signed out since: put back, nobody is in, and it is known until when
// they were. PINs and stations are as they were.
func TestNobodyIsSignedInOnceABackupIsPutBack(t *testing.T) {
	c := newClinic(t)
	in := c.mustSignIn(osei, room, oseis)
	_, _, err := c.Session(in.Token, false)
	require.NoError(t, err)
	c.pass(time.Minute)
	path := filepath.Join(t.TempDir(), "staff.db")
	held, err := c.Copy(path)
	require.NoError(t, err)
	plain := filepath.Join(t.TempDir(), "staff.db")
	_, err = c.Copy(plain)
	require.NoError(t, err)
	until := c.wall

	n, err := staff.EndSessions(path, until)
	require.NoError(t, err)
	require.Equal(t, 1, n)
	require.NoError(t, staff.CheckCopy(path, held), "all that was in it is")
	c.pass(time.Minute)
	open := func(path string) *staff.File {
		f, err := staff.Open(path, key(1), c.options())
		require.NoError(t, err)
		t.Cleanup(func() { require.NoError(t, f.Close()) })
		return f
	}
	_, _, err = open(plain).Session(in.Token, false)
	require.NoError(t, err, "the twin: as it was copied, the session goes on")
	again := open(path)
	_, _, err = again.Session(in.Token, false)
	require.Error(t, err)
	was, err := again.WasSignedIn(osei, room, until.Add(-time.Second))
	require.NoError(t, err)
	require.True(t, was)
	was, err = again.WasSignedIn(osei, room, until.Add(time.Hour))
	require.NoError(t, err)
	require.False(t, was)
	_, err = again.SignIn(t.Context(), c.keys[room], osei, oseis)
	require.NoError(t, err)
	_, err = staff.EndSessions(path, until)
	require.Error(t, err, "somebody has it open")
}
