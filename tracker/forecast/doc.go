// Package forecast looks ahead over rounds, opening hours and processor runs: when something that stands at a place can be
// at a laboratory, which run it makes, how long it then is in fixative, which departures keep that inside a window, and
// until when fresh tissue can leave and still be started at its bench.
//
// A [Network] is made once from plain data and never changes. Nothing waits for ever: a question has an instant after which
// nothing is considered. What cannot be known, because there is no round or run, or because a calendar ends, is an error
// that says so; it never guesses. Windows are elapsed time, timetables wall clock.
//
// The package reads no clock and knows no case and no protocol; it imports timetable alone.
package forecast
