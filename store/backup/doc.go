// Package backup is how a data folder is copied and put back: an archive of one form, its making and its check, and which
// of many nightly ones are kept.
//
// An archive is a tar: manifest.json, SHA256SUMS, ledger.db, people.db, staff.db, and demo.json if it is the demo's. It is read
// strictly, byte by byte as this package writes it, so that a single changed byte anywhere is found and said where it is.
// By hand, `tar xf FILE && sha256sum -c SHA256SUMS` says the same of what is in it.
//
// The master key of the people file is never in it: whoever finds a backup finds no name. Labels that waited for a printer
// are not in it either, since a label of yesterday must not come out beside today's patient; nor is what NATS carried,
// which is made again from the ledger.
//
// It reads no clock, and knows no daemon.
package backup
