//go:build linux

package people_test

import (
	"errors"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"github.com/pottrail/pottrail/store/people"
)

// disk swaps what the file's descriptor stands for, under its feet.
type disk struct {
	t    *testing.T
	file *os.File
	real int
	ill  error // what opening says
}

func (d *disk) open(name string, flag int, mode os.FileMode) (*os.File, error) {
	if d.ill != nil {
		return nil, d.ill
	}
	f, err := os.OpenFile(name, flag, mode)
	if err == nil {
		d.file = f
		d.real, err = unix.Dup(int(f.Fd())) // keeps the lock, too
		d.t.Cleanup(func() { _ = unix.Close(d.real) })
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

// worn opens a file that has free pages to write into, so that a commit fails where it writes and not where it grows.
func worn(t *testing.T) (d *disk, f *people.File, who string, told *[]error) {
	d, who, told = &disk{t: t}, ref(t), new([]error)
	f = newPlace(t).open(t, people.Options{OpenFile: d.open})
	f.OnBroken(func(err error) { *told = append(*told, err) })
	for range 20 {
		require.NoError(t, f.Put(who, ada()))
	}
	return d, f, who, told
}

func TestAFullDiskPasses(t *testing.T) {
	d, f, who, told := worn(t)
	d.become("/dev/full")
	for range 3 {
		require.ErrorIs(t, f.Put(ref(t), ada()), people.ErrNoSpace)
		require.ErrorIs(t, f.NoteReads(people.Read{By: "nurse.osei", Ref: who}), people.ErrNoSpace)
	}
	d.mend()
	require.NoError(t, f.Put(ref(t), ada()))
	n, err := f.Count()
	require.NoError(t, err)
	require.Equal(t, 2, n, "nothing of what was refused")
	require.Empty(t, *told)
}

// A sync that failed: nobody knows what the disk holds, so that nothing more is written before the file was opened anew,
// whatever the disk says meanwhile.
func TestAFailedSyncIsTheEndOfWriting(t *testing.T) {
	d, f, who, told := worn(t)
	d.become("/dev/null")
	require.ErrorIs(t, f.Put(ref(t), ada()), people.ErrFatal)
	d.mend()
	require.ErrorIs(t, f.Put(ref(t), ada()), people.ErrFatal)
	require.ErrorIs(t, f.NoteReads(people.Read{By: "nurse.osei", Ref: who}), people.ErrFatal)
	require.ErrorIs(t, f.KeepRefused(people.Refused{Code: "bad"}), people.ErrFatal)
	require.ErrorIs(t, f.Rotate(""), people.ErrFatal)
	_, err := f.Forget(who, someDay)
	require.ErrorIs(t, err, people.ErrFatal)
	_, ok, err := f.Get(who)
	require.NoError(t, err)
	require.True(t, ok, "reading goes on")
	require.Len(t, *told, 1)
	require.ErrorIs(t, (*told)[0], people.ErrFatal)
}

// The new file is in its place and cannot be opened: no more is read or written, and nothing panics.
func TestAFileThatCannotBeOpenedAfterAChangeOfKeys(t *testing.T) {
	d, f, who, told := worn(t)
	d.ill = errors.New("too many open files")
	require.ErrorIs(t, f.Rotate(""), people.ErrFatal)
	_, _, err := f.Get(who)
	require.Error(t, err)
	_, err = f.Count()
	require.Error(t, err)
	require.ErrorIs(t, f.Put(who, ada()), people.ErrFatal)
	require.Len(t, *told, 1)
	require.NoError(t, f.Close())
}
