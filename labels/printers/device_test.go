//go:build linux

package printers_test

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
	"golang.org/x/term"

	"github.com/pottrail/pottrail/labels/printers"
)

// fifo makes a FIFO and opens its reading end without waiting for a writer.
func fifo(t *testing.T) (path string, reader *os.File) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "lp0")
	require.NoError(t, unix.Mkfifo(path, 0o600))
	reader, err := os.OpenFile(path, os.O_RDONLY|unix.O_NONBLOCK, 0)
	require.NoError(t, err)
	t.Cleanup(func() { _ = reader.Close() })
	return path, reader
}

// wait is how tests read from a FIFO that nobody writes to yet: its end comes only after the first byte.
func wait(t *testing.T, r *os.File, buf []byte) (n int) {
	t.Helper()
	require.Eventually(t, func() bool {
		m, _ := r.Read(buf[:1])
		return m == 1
	}, 5*time.Second, time.Millisecond)
	m, _ := io.ReadFull(r, buf[1:])
	return 1 + m
}

func TestADeviceTakesEveryByte(t *testing.T) {
	for _, n := range []int{1, 2000, 300_000} {
		t.Run(fmt.Sprint(n), func(t *testing.T) {
			nothingRuns(t)
			path, reader := fifo(t)
			job, sent := label(n), make(chan error, 1)
			go func() { sent <- open(t, printers.WayDevice, path).Send(within(t, 10*time.Second), job) }()
			got := make([]byte, n)
			require.Equal(t, n, wait(t, reader, got))
			require.NoError(t, <-sent)
			require.True(t, bytes.Equal(job.Body, got))
		})
	}
}

// TestADeviceThatVanishes takes n bytes and goes: the label is never called sent unless the reader had all of it.
func TestADeviceThatVanishes(t *testing.T) {
	for _, size := range []int{2000, 300_000} {
		for _, n := range []int{0, 1, size / 2, size - 1} {
			t.Run(fmt.Sprintf("%d of %d", n, size), func(t *testing.T) {
				nothingRuns(t)
				path, reader := fifo(t)
				sent := make(chan error, 1)
				go func() { sent <- open(t, printers.WayDevice, path).Send(within(t, 10*time.Second), label(size)) }()
				if n > 0 {
					require.Equal(t, n, wait(t, reader, make([]byte, n)))
				}
				gone := time.Now()
				require.NoError(t, reader.Close())
				err := <-sent
				require.Less(t, time.Since(gone), 5*time.Second, "nobody is waited for who has gone")
				oneOutcome(t, err, nil)
				require.NotErrorIs(t, err, printers.ErrRefused)
				if n > 0 {
					require.ErrorIs(t, err, printers.ErrUnknown)
				}
			})
		}
	}
}

func TestADeviceThatHangs(t *testing.T) {
	for _, size := range []int{2000, 300_000} {
		nothingRuns(t)
		path, _ := fifo(t)
		begun := time.Now()
		err := open(t, printers.WayDevice, path).Send(within(t, 100*time.Millisecond), label(size))
		oneOutcome(t, err, printers.ErrUnknown)
		require.ErrorContains(t, err, "its time was up")
		require.Less(t, time.Since(begun), 5*time.Second)
	}
	t.Run("and is called off", func(t *testing.T) {
		path, reader := fifo(t)
		ctx, cancel := context.WithCancel(t.Context())
		sent := make(chan error, 1)
		go func() { sent <- open(t, printers.WayDevice, path).Send(ctx, label(300_000)) }()
		wait(t, reader, make([]byte, 1))
		cancel()
		oneOutcome(t, <-sent, printers.ErrUnknown)
	})
}

func TestADeviceWithNobodyAtItsOtherEnd(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lp0")
	require.NoError(t, unix.Mkfifo(path, 0o600))
	err := open(t, printers.WayDevice, path).Send(within(t, 10*time.Second), label(2000))
	oneOutcome(t, err, printers.ErrNotSent)
	require.ErrorContains(t, err, "nobody at its other end")
}

func TestWhatIsNoDevice(t *testing.T) {
	folder := t.TempDir()
	file := filepath.Join(folder, "labels.pwg")
	require.NoError(t, os.WriteFile(file, []byte("kept"), 0o600))
	rows := []struct {
		label, path string
		known       error
		says        string
	}{
		{"nothing", folder + "/lp0", printers.ErrNotSent, "is the printer plugged in and on?"},
		{"an ordinary file", file, printers.ErrRefused, `reach the printer by "spool"`},
		{"a folder", folder, printers.ErrRefused, `reach the printer by "spool"`},
	}
	for _, row := range rows {
		t.Run(row.label, func(t *testing.T) {
			s := open(t, printers.WayDevice, row.path)
			err := s.Send(within(t, 10*time.Second), label(2000))
			oneOutcome(t, err, row.known)
			require.ErrorContains(t, err, row.says)
			_, err = s.Look(t.Context())
			require.ErrorContains(t, err, row.says)
		})
	}
	b, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, "kept", string(b), "nothing is made shorter")
	require.NoFileExists(t, folder+"/lp0", "nothing is made")
}

func TestADeviceWithoutSpaceOrEnd(t *testing.T) {
	s := open(t, printers.WayDevice, "/dev/null")
	require.NoError(t, s.Send(within(t, 10*time.Second), label(2000)), "a driver that takes all and says nothing")
	says, err := s.Look(t.Context())
	require.NoError(t, err)
	require.Equal(t, "/dev/null is there", says)
	err = open(t, printers.WayDevice, "/dev/full").Send(within(t, 10*time.Second), label(2000))
	oneOutcome(t, err, printers.ErrNotSent)
	require.ErrorIs(t, err, unix.ENOSPC)
}

// TestASerialLine is a terminal's two ends: what is written to the one comes out of the other, byte by byte.
func TestASerialLine(t *testing.T) {
	nothingRuns(t)
	far, err := os.OpenFile("/dev/ptmx", os.O_RDWR|unix.O_NOCTTY, 0)
	require.NoError(t, err)
	defer far.Close()
	require.NoError(t, unix.IoctlSetPointerInt(int(far.Fd()), unix.TIOCSPTLCK, 0))
	number, err := unix.IoctlGetInt(int(far.Fd()), unix.TIOCGPTN)
	require.NoError(t, err)
	path := fmt.Sprintf("/dev/pts/%d", number)
	near, err := os.OpenFile(path, os.O_RDWR|unix.O_NOCTTY, 0)
	require.NoError(t, err)
	defer near.Close()
	_, err = term.MakeRaw(int(near.Fd()))
	require.NoError(t, err)

	job, sent := label(100_000), make(chan error, 1)
	go func() { sent <- open(t, printers.WayDevice, path).Send(within(t, 10*time.Second), job) }()
	got := make([]byte, len(job.Body))
	_, err = io.ReadFull(far, got)
	require.NoError(t, err)
	require.NoError(t, <-sent)
	require.True(t, bytes.Equal(job.Body, got))
}
