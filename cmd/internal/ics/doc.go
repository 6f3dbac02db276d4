// Package ics reads closed days from a calendar file (iCalendar, RFC 5545), for a protocol's calendar.
//
// What it cannot say as whole closed days it refuses with the line and the event's own title, or it says that it left it
// out: no event of a file is ever dropped in silence, and none is guessed at. It knows no zones, opens no file, asks no
// network, and never reads a clock.
package ics
