// Command mutants asks whether the tests of a package bite: it makes many small faults in the code, one at a time, and
// counts how many of them some test notices.
//
// All faults are built into one test binary, each behind a number that an environment variable chooses, so that the
// package is compiled once and not a thousand times. The instrumented files lie in a temporary folder and reach the
// compiler as an overlay: the tree itself is never touched, and nothing here is part of the program.
//
// A fault that no test notices must stand in testdata/survivors.tsv with the reason why it may live.
package main
