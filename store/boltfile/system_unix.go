//go:build linux || darwin || freebsd

package boltfile

import (
	"errors"
	"os"
	"strings"

	"golang.org/x/sys/unix"
)

// full reports whether an error of the system means that there is no space, by disk, quota or limit.
func full(err error) bool {
	return errors.Is(err, unix.ENOSPC) || errors.Is(err, unix.EDQUOT) || errors.Is(err, unix.EFBIG)
}

// fullText is full for an error of which only the text is left.
func fullText(text string) bool {
	return strings.HasSuffix(text, unix.ENOSPC.Error()) || strings.HasSuffix(text, unix.EDQUOT.Error()) || strings.HasSuffix(text, unix.EFBIG.Error())
}

// unlock lets go of a file's lock while the file is still mapped.
func unlock(f *os.File) { _ = unix.Flock(int(f.Fd()), unix.LOCK_UN) }
