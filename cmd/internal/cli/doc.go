// Package cli is the command line: one file a command.
//
// Data go to standard output, everything else to standard error. Exit codes: 0 done; 1 done and something is wrong
// (flags, refusals); 2 usage, or input that cannot be read; 3 could not. Commands that need the daemon reach it through
// the Unix socket in the data folder.
//
// It handles no signals and never ends the process: [Run] returns the exit code.
package cli
