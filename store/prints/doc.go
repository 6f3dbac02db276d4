// Package prints is the print queue on disk: what is to be printed where, and what is known of each try. One bbolt file of
// its own, beside the ledger.
//
// A job is prepared before the print is recorded in the ledger, queued after, and marked on disk as sending before its
// first byte leaves; so after a crash at any point it is known whether a label may have come out. What nobody can know
// stays [Unknown] until a person or a first scan settles it: nothing is ever printed twice in silence. The table of all
// moves is in moves.go.
//
// A printer has one line, and one job of it is sent at a time, in the order in which jobs were queued. A job may say until
// when it is wanted; it is not printed after. What the ledger must still be told, that a label which is on record never came
// out, is kept until it was.
//
// What goes to the printer shows a patient: it is sealed under a key that the caller gives, and removed as soon as it can no
// longer be needed. Jobs that are done are kept for looking back, [KeepJobs] of them and [KeepFor]. The package reads no
// clock, talks to no printer, and writes no log.
package prints
