// Package store keeps the ledger: every recorded event, and all that is derived from the events, in one bbolt file.
//
// [Ledger.Record] is the way in. It appends a batch, judges what the batch touches, and returns its verdicts only when
// everything is on disk. Beside the entries the file holds, all of it derived and all of it made again by
// [Ledger.Rebuild]: the ids, which events concern which case or bag, a snapshot of each (what [tracker.Judge] said of
// it), when it must be judged again, what is open and what is flagged. Each entry is a leaf of an RFC 6962 tree, one
// tree an origin.
//
// # Laws
//
//   - A verdict that says recorded means: on disk.
//   - The same id again changes nothing and gets the first verdict again.
//   - Snapshots are a function of the set of events, the protocol in force and the instant.
//
// # Caveats
//
// The file must be on a local disk: its lock is no use on a network one. After an error of write or sync nobody knows
// what the disk holds, so the ledger takes no more writes until it is opened again ([ErrFatal]).
//
// It never reads the clock, decides nothing about tissue (package tracker does), knows no patient (package people
// does), and talks to no network.
package store
