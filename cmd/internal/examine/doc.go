// Package examine looks at the files of a data folder in another process, and survives what they do to it: a damaged bbolt
// file can end the process that reads it, by a signal that Go cannot catch.
//
// [Run] starts the program again as a child, tells it what to look at on its standard input, and reads what it finds, a
// line of JSON at a time: how far it is, each thing that is wrong, what was looked at, and that it came to its end. A child
// that ended without saying so, or that fell silent, is a finding too. [Child] is the other side.
//
// Nothing is changed in any file, and no line tells who a patient is.
package examine
