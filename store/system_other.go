//go:build !(linux || darwin || freebsd)

package store

import "os"

// freeBytes is the space that the disk of a file has for us; ok is false when the system does not say.
func freeBytes(string) (n int64, ok bool) { return 0, false }

// full reports whether an error of the system means that there is no space.
func full(error) bool { return false }

// fullText is full for an error of which only the text is left.
func fullText(string) bool { return false }

// unlock lets go of a file's lock while the file is still mapped; closing it must do.
func unlock(*os.File) {}
