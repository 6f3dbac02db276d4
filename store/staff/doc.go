// Package staff knows who may sign in and where: people with their PINs, stations with their keys, who is and was signed in
// where, and which physical steps were recorded in a name that nobody vouched for. One bbolt file of its own, beside the
// ledger. It holds no patient, and who has which role stands elsewhere.
//
// A badge is a name that a scanner can read, and proves nothing. A PIN may be short because it counts only at a station that
// has a long key of its own, so a stranger needs both (OWASP ASVS 5.0.0, 6.3.2). PINs are kept as argon2id, sealed under a
// key that the caller gives: who copies the file alone cannot try them out. Of keys, links and sessions only hashes are kept;
// they have 256 random bits, so that nobody needs to slow guessing down.
//
// Wrong PINs make the same badge at the same station wait, ever longer, and at last need another person; other people and
// other stations go on. The rules are in tries.go.
//
// The package reads no clock and draws no chance but through [Options]: one clock that may be set, by which people are told
// the time, and one that goes on evenly, by which limits are measured.
package staff
