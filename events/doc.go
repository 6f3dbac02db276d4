// Package events is how a fact is written down: the envelope, the one JSON spelling for wire, disk and export, the
// verdicts that answer it, and the subjects it travels under.
//
// [Decode] is the intake: strict, and every refusal is a [*Refusal] with a code, a field and a sentence. [Encode] is the
// one canonical spelling: decoding what it wrote gives the same event, and two events say the same when their spellings
// are the same bytes ([Same]).
//
// What a fact must hold is read off the field tags of package tracker, so a new kind needs no code here unless one of
// its fields depends on another.
//
// It never reads a clock, a disk or a network, keeps no state between calls, and judges only whether an event is well
// formed, never whether it makes sense.
package events
