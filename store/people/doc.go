// Package people keeps who the patients are, apart from everything else: one bbolt file of sealed records, each under a
// random ref, which is all that events know.
//
// A record is sealed with a key of its own (XChaCha20-Poly1305), and that key with the master key, which lies in a file
// that nobody else can read, beside it or elsewhere. [File.Rotate] changes the master key. [File.Forget] destroys a record
// for good: the keys of all others are sealed anew under a new master key in a new file, so that neither a free page nor what
// a disk keeps of the old file can be opened. Copies and backups made before, with a copy of the key, are not reached by that.
//
// Messages that intake refused are kept here as well, sealed, up to a cap, since they may hold what they should not; and notes
// of who was shown whom.
//
// A [Person] never prints, logs or marshals as anything but "[patient]". The package writes no log, reads no clock, and
// never puts an identifier into an error.
package people
