// Package protocol holds a clinic's rules as data: media, studies, what serves what, limits, targets, places.
//
// One TOML file is one protocol. [Parse] reads it strictly, and [Default] is the one inside the binary, with the
// source of every number beside it. The package never judges a case, never reads a file or a clock, and imports nothing
// else of this module.
package protocol
