package staff

import "time"

// What holds of sessions. Figures of OWASP ASVS 5.0.0 (7.3.1, 7.3.2 ask that they be chosen and written down) and of common
// practice for shared screens in wards, from memory; a clinic's own policy may want less.
const (
	// IdleShared and IdleOwn end a session in which nothing is done, at a station of several people and at one's own.
	IdleShared = 5 * time.Minute
	IdleOwn    = 30 * time.Minute
	// LongestSession ends every session.
	LongestSession = 12 * time.Hour
	// LinkLife is how long a one-time link is good.
	LinkLife = 30 * time.Minute
	// Tolerance is how far two stations' clocks may be apart: that of the rules on the order of events.
	Tolerance = 2 * time.Minute
)

// What is kept at most. Ours.
const (
	// KeepSessions and KeepFor bound the sessions that are kept after they ended.
	KeepSessions = 100_000
	KeepFor      = 90 * 24 * time.Hour
	// MostOpen is the most sessions that are open at once; the one that has been idle for longest makes way.
	MostOpen = 1000
	// MostDoubts is the most doubts that are kept; the oldest make way and are counted.
	MostDoubts = 10_000
	// MostStaff, MostStations and MostLinks bound the lists, those who were taken off them included.
	MostStaff    = 5000
	MostStations = 2000
	MostLinks    = 100
	// mostStrangers is of how many unknown badges wrong PINs are counted; then that list begins anew.
	mostStrangers = 1000
)

// saveEvery is how old what the disk says of the last use of a session may be.
const saveEvery = time.Minute

// seenEvery is how old what the disk says of a station's last use may be.
const seenEvery = 10 * time.Minute
