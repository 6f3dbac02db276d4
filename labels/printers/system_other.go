//go:build !linux

package printers

import (
	"net"
	"os"
)

// openFlags is nothing here: opening a device may wait for it.
const openFlags = 0

// canTell: on this system a sender only sees a connection that breaks while it waits, not what was acknowledged.
const canTell = false

func unacknowledged(*net.TCPConn) (int, error) { return 0, nil }

func unread(*os.File, bool) (n int, gone bool, err error) { return 0, false, nil }
