// Package evidence is what is handed to those who need not trust us: signed checkpoints of the record, and proof files.
//
// Every entry of a node's log is a leaf of an RFC 6962 tree, one tree an origin. A [Checkpoint] is the size and the root
// of such a tree in the text of C2SP tlog-checkpoint, signed as a note (Ed25519, golang.org/x/mod/sumdb/note). A [Proof]
// is a case's entries, byte for byte as they were hashed, with the path of each to the root of a checkpoint, and a signed
// [Statement] of which entries they are. [Verify] checks one with nothing but the public key, and says the first thing
// that does not hold; [Inspect] holds checkpoints that were made earlier against a tree as it is now.
//
// What it shows: that these entries are in the record that the checkpoint is of, unaltered, and that the node called
// them all there was of the case. What it does not: that what was scanned is true, nor that nothing was left unscanned.
// Who holds the key and the only copy can write another record and sign that: a checkpoint is worth what others hold of
// it, on paper, in the mail, at the laboratory.
//
// It reads no clock, no disk and no network.
package evidence
