// Package wiretest reads jobs as a printer would, strictly, so that tests can hold what labels/wire writes against the
// picture it was made from: dot for dot, and with every byte of the job either a picture's data, whose length the job
// announces, or a command that is known.
//
// It knows only the commands that labels/wire writes. It is for tests alone and is never part of a binary.
package wiretest
