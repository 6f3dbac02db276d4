// Package demo invents a clinic network: three clinics, one laboratory, weeks of cases up to an instant, that day's work
// in progress, and the faults of real days on purpose.
//
// [Generate] depends on its options alone: the same seed, instant, zone and number of weeks give the same events, people
// and protocols. Places, people, numbers and results are invented. The package never records anything, never judges a
// case, and keeps no state between calls.
package demo
