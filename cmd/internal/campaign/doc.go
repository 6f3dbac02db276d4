// Command campaign tries to break the promises of the program, test by test, and prints a line for each: seed, cycles, what
// was acknowledged, stored, lost and doubled, how long it took.
//
//	go run ./cmd/internal/campaign              all of them, at full length
//	go run ./cmd/internal/campaign flips        some of them
//	go run ./cmd/internal/campaign -short flips as the ordinary tests do it
//
// Each test has a control, in which the promise is broken on purpose: a control in which nothing is noticed fails, since
// then the test would notice nothing either. It exits with 1 when anything was lost or doubled, or a control noticed
// nothing. Tests run their short form with the others.
//
// It is a tool for whoever changes the program, and no part of it.
package main
