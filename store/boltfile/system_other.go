//go:build !(linux || darwin || freebsd)

package boltfile

import "os"

// full reports whether an error of the system means that there is no space.
func full(error) bool { return false }

// fullText is full for an error of which only the text is left.
func fullText(string) bool { return false }

// unlock lets go of a file's lock while the file is still mapped; closing it must do.
func unlock(*os.File) {}
