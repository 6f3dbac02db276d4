// Package press prints: it chooses a layout, draws what a label says, and runs one worker a printer over the queue on
// disk.
//
// It decides nothing about tissue, and records nothing by itself: it is given a function that does. It never prints a job
// whose print is not in the ledger, and never one twice that may have come out.
package press
