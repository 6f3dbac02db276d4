package printers

import (
	"errors"
	"net"
	"os"

	"golang.org/x/sys/unix"
)

// openFlags open a device without waiting for it, and without making it this process's terminal.
const openFlags = unix.O_NONBLOCK | unix.O_NOCTTY

// canTell: this system says how much of what was written has been acknowledged.
const canTell = true

// unacknowledged returns how many bytes the other side has not acknowledged, its end counted as one, and the error that
// the connection has met since.
func unacknowledged(conn *net.TCPConn) (n int, err error) {
	rc, err := conn.SyscallConn()
	if err != nil {
		return 0, err
	}
	var met int
	control := rc.Control(func(fd uintptr) {
		// The order matters: a reset that comes between the two is seen by the second.
		if n, err = unix.IoctlGetInt(int(fd), unix.SIOCOUTQ); err == nil {
			met, err = unix.GetsockoptInt(int(fd), unix.SOL_SOCKET, unix.SO_ERROR)
		}
	})
	switch {
	case control != nil:
		return 0, control
	case err != nil:
		return 0, err
	case met != 0:
		return 0, unix.Errno(met)
	}
	return n, nil
}

// unread returns how many bytes wait in a FIFO or a serial line, and whether their reader has gone. Other devices do not
// say: what the driver took is then all that can be known.
func unread(f *os.File, fifo bool) (n int, gone bool, err error) {
	rc, err := f.SyscallConn()
	if err != nil {
		return 0, false, err
	}
	question := uint(unix.TIOCOUTQ)
	if fifo {
		question = unix.TIOCINQ // FIONREAD by its other name
	}
	control := rc.Control(func(fd uintptr) {
		// The order matters: bytes that still wait after the reader had gone are lost.
		if fifo {
			state := []unix.PollFd{{Fd: int32(fd)}}
			if _, err = unix.Poll(state, 0); err != nil && !errors.Is(err, unix.EINTR) {
				return
			}
			gone = state[0].Revents&unix.POLLERR != 0
		}
		n, err = unix.IoctlGetInt(int(fd), question)
	})
	switch {
	case control != nil:
		return 0, false, control
	case !fifo && (errors.Is(err, unix.ENOTTY) || errors.Is(err, unix.EINVAL)):
		return 0, false, nil
	}
	return n, gone, err
}
