// Package boltfile is what all our bbolt files have in common: made whole beside their place, opened with a sentence for
// each thing that can be wrong, written in transactions of which it is known whether they can be tried again, and never
// the end of the process when a damaged page is read.
//
// It knows nothing of what the files hold.
package boltfile
