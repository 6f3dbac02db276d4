//go:build linux

package prints_test

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"
	"golang.org/x/sys/unix"

	"github.com/pottrail/pottrail/store/prints"
)

// disk swaps what a queue's file descriptor stands for, under its feet.
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

// worn opens a queue that has free pages to write into, so that a commit fails where it writes and not where it grows.
func worn(t *testing.T) (*disk, *prints.Queue, string) {
	d := &disk{t: t}
	path := used(t)
	q, err := prints.OpenWith(path, key(1), func(o *bolt.Options) { o.OpenFile = d.open })
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, q.Close()); _ = unix.Close(d.real) })
	for serial := range 20 {
		require.NoError(t, q.Drop(prepared(t, q, label("lab", pot(100+serial), '1')).ID))
	}
	return d, q, path
}

// A full disk: nothing is half done, and all goes on when there is space again.
func TestAFullDiskPasses(t *testing.T) {
	d, q, _ := worn(t)
	j, _, ok, err := q.Take("room", morning)
	require.NoError(t, err)
	require.True(t, ok)
	d.become("/dev/full")
	for range 3 {
		require.ErrorIs(t, q.Sent(j.ID, morning), prints.ErrNoSpace)
		_, err = q.Prepare(morning, label("room", pot(200), '1'), []byte(bytesOf))
		require.ErrorIs(t, err, prints.ErrNoSpace)
	}
	require.Equal(t, prints.Sending, stateOf(t, q, j.ID))
	d.mend()
	require.NoError(t, q.Check())
	require.NoError(t, q.Sent(j.ID, morning))
	prepared(t, q, label("room", pot(200), '1'))
}

// A sync that failed: nobody knows what the disk holds, so that nothing more is taken before the queue was opened anew.
func TestAFailedSyncIsTheEnd(t *testing.T) {
	d, q, path := worn(t)
	j, _, _, err := q.Take("room", morning)
	require.NoError(t, err)
	scanned := prepared(t, q, label("lab", pot(300), '1'))
	_, err = q.Confirm(scanned.Name, scanned.Copy, morning)
	require.NoError(t, err)
	d.become("/dev/null")
	require.ErrorIs(t, q.Sent(j.ID, morning), prints.ErrFatal)
	d.mend()
	require.ErrorIs(t, q.Sent(j.ID, morning), prints.ErrFatal, "though the disk is well again")
	_, _, _, err = q.Take("room", morning)
	require.ErrorIs(t, err, prints.ErrFatal)
	_, err = q.Confirm(scanned.Name, scanned.Copy, morning)
	require.ErrorIs(t, err, prints.ErrFatal, "what is read may be what the failed write left in memory")
	require.Equal(t, prints.Sending, stateOf(t, q, j.ID), "reading goes on")
	require.NoError(t, q.Close())
	q = openAt(t, path)
	require.Equal(t, prints.Unknown, stateOf(t, q, j.ID), "and a person is asked")
	require.NoError(t, q.Check())
}
