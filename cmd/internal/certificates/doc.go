// Package certificates has the certificate under which pages, the HTTP API and NATS are served beyond this machine: one from
// files of the clinic's own, read again when they change, or one from a small authority of this daemon, for clinics without
// anybody who could give them one.
//
// A [Source] is asked at each handshake ([Source.TLS]) and looks at most once a second whether there is something new. It
// never lets go of a certificate that works: what cannot be read or used is said in the log, and the one before stays.
//
// The authority ([OpenAuthority]) can vouch for the names that were asked for, for private addresses and for this machine, and
// for nothing else: the limits stand in its own certificate, critical, and phones that trust it hold it to them. So whoever
// steals its key can pretend to be this daemon, and not a bank.
//
// Instants are passed in; only [Source.TLS] reads the clock, since a handshake brings none along.
package certificates
