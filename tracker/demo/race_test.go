//go:build race

package demo_test

// fewer cuts the instants that are tried: the package starts no goroutine, and the race detector makes it ten times slower.
const fewer = true
