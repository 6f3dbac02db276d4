//go:build unix

package people

import (
	"io/fs"
	"syscall"
)

// ownerOf is the number of the user who owns a file.
func ownerOf(info fs.FileInfo) (uid int, known bool) {
	s, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return 0, false
	}
	return int(s.Uid), true
}
