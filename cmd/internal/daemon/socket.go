package daemon

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"runtime"
)

// longestSocket is the longest path of a Unix socket that every system takes, in bytes.
const longestSocket = 100

// DialSocket reaches the daemon that owns a data folder.
func DialSocket(ctx context.Context, dir string) (net.Conn, error) {
	var conn net.Conn
	err := atSocket(dir, func(path string) error {
		var dialer net.Dialer
		var err error
		conn, err = dialer.DialContext(ctx, "unix", path)
		return err
	})
	if err != nil {
		var op *net.OpError
		if errors.As(err, &op) {
			err = op.Err // the address would be said twice
		}
		return nil, err
	}
	return conn, nil
}

// listenSocket opens the socket for commands. The ledger's lock is held by now, so that a socket that is there is left
// over from a process that was killed.
func listenSocket(f folder) (net.Listener, error) {
	if err := os.Remove(f.path(fileSocket)); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("the socket for commands: %w", err)
	}
	var l net.Listener
	err := atSocket(f.dir, func(path string) error {
		var err error
		if l, err = net.Listen("unix", path); err != nil {
			return err
		}
		return os.Chmod(f.path(fileSocket), 0o600)
	})
	if err != nil {
		return nil, fmt.Errorf("the socket for commands: %w", err)
	}
	if u, ok := l.(*net.UnixListener); ok {
		u.SetUnlinkOnClose(false) // its path may be one of the detour below; the daemon removes it
	}
	return l, nil
}

// atSocket calls with a path of the folder's socket that is short enough. A longer one goes by way of the folder's open
// descriptor, which Linux shows as a path.
func atSocket(dir string, do func(path string) error) error {
	path := filepath.Join(dir, fileSocket)
	if len(path) <= longestSocket {
		return do(path)
	}
	if runtime.GOOS != "linux" {
		return fmt.Errorf("the path %s is too long for a socket: use a data folder with a shorter one", path)
	}
	open, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer open.Close()
	return do(fmt.Sprintf("/proc/self/fd/%d/%s", open.Fd(), fileSocket))
}
