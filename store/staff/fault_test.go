//go:build linux

package staff_test

import (
	"fmt"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"
	"golang.org/x/sys/unix"

	"github.com/pottrail/pottrail/store/staff"
)

// disk swaps what a file descriptor stands for, under the file's feet.
type disk struct {
	t    *testing.T
	file *os.File
	real int
}

func (d *disk) open(name string, flag int, mode os.FileMode) (*os.File, error) {
	f, err := os.OpenFile(name, flag, mode)
	if err == nil {
		d.file = f
		d.real, err = unix.Dup(int(f.Fd())) // keeps the lock, too
	}
	return f, err
}

// become makes every write and sync go to a device: /dev/full refuses writes for want of space, /dev/null takes them and
// cannot be synced.
func (d *disk) become(device string) {
	f, err := os.OpenFile(device, os.O_RDWR, 0)
	require.NoError(d.t, err)
	defer func() { require.NoError(d.t, f.Close()) }()
	require.NoError(d.t, unix.Dup2(int(f.Fd()), int(d.file.Fd())))
}

func (d *disk) mend() { require.NoError(d.t, unix.Dup2(d.real, int(d.file.Fd()))) }

// worn opens a clinic's staff file that has free pages to write into, so that a commit fails where it writes and not where it
// grows.
func worn(t *testing.T) (*disk, *clinic) {
	d := &disk{t: t}
	c := newClinic(t)
	require.NoError(t, c.File.Close())
	o := c.options()
	o.Bolt = func(b *bolt.Options) { b.OpenFile = d.open }
	f, err := staff.Open(c.path, key(1), o)
	require.NoError(t, err)
	c.File = f
	t.Cleanup(func() { _ = unix.Close(d.real) })
	for i := range 30 {
		who := fmt.Sprintf("clerk.%d", i)
		require.NoError(t, c.Add(t.Context(), who, "pw of "+who, ""))
	}
	return d, c
}

// A full disk: nothing is half done, who is signed in stays so, and all goes on when there is space again.
func TestAFullDiskPasses(t *testing.T) {
	d, c := worn(t)
	in := c.mustSignIn(osei, room, oseis)
	c.pass(2 * time.Minute)
	d.become("/dev/full")
	for range 3 {
		_, err := c.signIn(lund, room, lunds)
		require.ErrorIs(t, err, staff.ErrNoSpace, "a try that cannot be counted is none")
		require.ErrorIs(t, c.Remove(lund, ""), staff.ErrNoSpace)
		require.ErrorIs(t, c.SignOut(in.Token), staff.ErrNoSpace)
		_, _, err = c.Session(in.Token, true)
		require.NoError(t, err)
		c.pass(time.Minute + time.Second)
	}
	d.mend()
	require.NoError(t, c.Check())
	c.mustSignIn(lund, room, lunds)
	require.NoError(t, c.SignOut(in.Token))
}

// A sync that failed: nobody knows what the disk holds, so that nothing more is taken before the file was opened anew.
func TestAFailedSyncIsTheEnd(t *testing.T) {
	d, c := worn(t)
	in := c.mustSignIn(osei, room, oseis)
	d.become("/dev/null")
	require.ErrorIs(t, c.Remove(lund, ""), staff.ErrFatal)
	d.mend()
	require.ErrorIs(t, c.Remove(lund, ""), staff.ErrFatal, "though the disk is well again")
	_, _, err := c.Session(in.Token, true)
	require.NoError(t, err, "who is signed in stays so")
	require.NoError(t, c.File.Close())
	c.start()
	require.NoError(t, c.Check())
	c.mustSignIn(lund, room, lunds)
}
