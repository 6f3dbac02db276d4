// Package storetest holds what every ledger must do, as tests, and an invented life to test it with.
//
// [Run] is the conformance suite; [Open] opens a ledger whose every hash, index and snapshot is checked at the end of the
// test; [Life] is a stretch of work with everything odd in it: bags, borrowed labels, relabelled pots, strikes, strikes of
// strikes, clocks ahead. It is for tests only, and reads no clock.
package storetest
