//go:build linux || darwin || freebsd

package store

import (
	"path/filepath"

	"golang.org/x/sys/unix"
)

// freeBytes is the space that the disk of a file has for us; ok is false when the system does not say.
func freeBytes(path string) (n int64, ok bool) {
	var s unix.Statfs_t
	if err := unix.Statfs(filepath.Dir(path), &s); err != nil {
		return 0, false
	}
	return int64(s.Bavail) * int64(s.Bsize), true
}
