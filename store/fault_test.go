//go:build linux

package store_test

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
)

// disk swaps what a ledger's file descriptor stands for, under its feet.
type disk struct {
	t    testing.TB
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
// cannot be synced, a pipe's end can do neither.
func (d *disk) become(device string) {
	d.t.Helper()
	f, err := os.OpenFile(device, os.O_RDWR, 0)
	require.NoError(d.t, err)
	defer func() { require.NoError(d.t, f.Close()) }()
	require.NoError(d.t, unix.Dup2(int(f.Fd()), int(d.file.Fd())))
}

func (d *disk) mend() {
	d.t.Helper()
	require.NoError(d.t, unix.Dup2(d.real, int(d.file.Fd())))
}

// worn opens a ledger that has free pages to write into, so that a commit fails where it writes and not where it grows.
func worn(t *testing.T) (*disk, *store.Ledger, string) {
	d := &disk{t: t}
	path := storetest.Path(t)
	l := storetest.Open(t, path, store.Options{OpenFile: d.open})
	t.Cleanup(func() { require.NoError(t, unix.Close(d.real)) })
	for _, e := range storetest.Life(51, 6) {
		storetest.Record(t, l, e.At, e)
	}
	return d, l, path
}

func TestAFullDiskIsNoSpaceAndPasses(t *testing.T) {
	d, l, _ := worn(t)
	more := storetest.Life(52, 60)[300:]
	now := more[len(more)-1].At
	before, _ := l.Last()
	d.become("/dev/full")
	for i := range 5 {
		_, err := l.Record(now, storetest.Intakes(more[i]))
		require.ErrorIs(t, err, store.ErrNoSpace)
	}
	d.mend()
	after, _ := l.Last()
	require.Equal(t, before, after)
	require.NoError(t, l.Check())
	storetest.Record(t, l, now, more...)
}

func TestAFailedSyncIsTheEnd(t *testing.T) {
	d, l, path := worn(t)
	more := storetest.Life(53, 60)[300:]
	now := more[len(more)-1].At
	before, _ := l.Last()
	d.become("/dev/null")
	verdicts, err := l.Record(now, storetest.Intakes(more[0]))
	require.ErrorIs(t, err, store.ErrFatal)
	require.Nil(t, verdicts, "nothing may be answered")
	d.mend()
	_, err = l.Record(now, storetest.Intakes(more[1]))
	require.ErrorIs(t, err, store.ErrFatal, "though the disk is well again: nobody knows what it holds")
	_, err = l.TakeSerials("MBY", 26, 1)
	require.ErrorIs(t, err, store.ErrFatal)
	_, err = l.Recheck(now, 1)
	require.ErrorIs(t, err, store.ErrFatal)
	_, ok, err := l.Snapshot("MBY-26-00001")
	require.NoError(t, err)
	require.True(t, ok, "reads go on")
	require.NoError(t, l.Close())
	l = storetest.Open(t, path, store.Options{})
	after, _ := l.Last()
	require.Equal(t, before, after)
	storetest.Record(t, l, now, more...)
}

func TestAFailedWriteIsTheEnd(t *testing.T) {
	d, l, path := worn(t)
	more := storetest.Life(54, 60)[300:]
	folder := t.TempDir()
	require.NoError(t, unix.Mkfifo(folder+"/pipe", 0o600))
	d.become(folder + "/pipe")
	_, err := l.Record(more[0].At, storetest.Intakes(more[0]))
	require.ErrorIs(t, err, store.ErrFatal)
	require.NotErrorIs(t, err, store.ErrNoSpace)
	d.mend()
	require.NoError(t, l.Close())
	l = storetest.Open(t, path, store.Options{})
	storetest.Record(t, l, more[len(more)-1].At, more...)
}
