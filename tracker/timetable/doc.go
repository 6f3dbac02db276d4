// Package timetable reckons with working days, opening hours and wall clocks.
//
// A [Calendar] knows which days are worked in one place: weekends, the region's holidays, local closures, from a first
// day to a last; what lies outside is not known, and said to be so. [Hours] are when a place is open, by that calendar.
// Everything is worked out when it is made; then it never changes and may be shared. The package never reads a clock, a
// disk or the machine's own zone, knows nothing of protocols, and imports nothing else of this module.
package timetable
