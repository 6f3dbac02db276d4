package staff

import (
	"errors"
	"fmt"
	"time"
)

// Opening a staff file fails with these.
var (
	// ErrInUse says that another process has the file open.
	ErrInUse = errors.New("the staff file is in use by another process")
	// ErrForeign says that the file is no staff file, or a damaged one. It was not touched.
	ErrForeign = errors.New("the file is not a staff file of pottrail, or it is damaged")
	// ErrNewer says that a later release wrote the file. It was not touched.
	ErrNewer = errors.New("the staff file was written by a later release")
	// ErrKey says that the key does not open the PINs of this file, or is none. [Abandon] opens it without them.
	ErrKey = errors.New("the key does not open this staff file")
)

// Using a staff file fails with these.
var (
	// ErrRefused says that badge and PIN do not prove anybody: the badge is unknown, the person was taken off the list, or the
	// PIN is wrong. Nobody is told which.
	ErrRefused = errors.New("badge and PIN do not fit")
	// ErrStaffKey says that a text is no staff key, or none that may name a station.
	ErrStaffKey = errors.New("not a key: letters, digits, dots and hyphens, 80 at most, neither first nor last a dot or hyphen")
	// ErrKnown says that somebody is on the list already.
	ErrKnown = errors.New("is on the list already")
	// ErrNobody says that nobody of that key is on the list.
	ErrNobody = errors.New("is not on the list")
	// ErrLink says that a one-time link is not good: unknown, used, or too old. Nobody is told which.
	ErrLink = errors.New("the link is not good")
	// ErrSetUp says that somebody is on the list, so that there is no first run any more.
	ErrSetUp = errors.New("somebody is set up already")
	// ErrStation says that a key belongs to no station that is enrolled.
	ErrStation = errors.New("the station is not enrolled")
	// ErrNoStation says that no station of that name is enrolled.
	ErrNoStation = errors.New("no such station is enrolled")
	// ErrPINNeeded says that a badge alone will not do, since no session of theirs is open at the station.
	ErrPINNeeded = errors.New("the PIN is needed")
	// ErrNoSession says that there is no such session, or that it has ended.
	ErrNoSession = errors.New("there is no such session")
	// ErrBusy says that too many wait for their PIN to be looked at.
	ErrBusy = errors.New("too many sign in at this moment")
	// ErrTooMany says that the list is full.
	ErrTooMany = errors.New("the list is full")
	// ErrNoSpace says that the disk is full: nothing of what it was returned for was written.
	ErrNoSpace = errors.New("no space left for the staff file")
	// ErrFatal says that writing or syncing failed, so that nobody knows what the disk holds. The file takes no more changes
	// until it was closed and opened again; reading goes on.
	ErrFatal = errors.New("the staff file could not be written")
	// ErrDamaged says that something stored does not fit the rest.
	ErrDamaged = errors.New("the staff file is damaged")
	// ErrClosed says that the file was closed.
	ErrClosed = errors.New("the staff file is closed")
)

// WaitError says that a badge must wait before a PIN is looked at again, the right one too.
type WaitError struct {
	Wait time.Duration // 0: until somebody unlocks it
	// Locked says that so many were wrong that another person can unlock it, and not only time.
	Locked bool
	// Everywhere says that it holds for the badge at each station, and not at this one alone.
	Everywhere bool
}

// Error says how long.
func (e *WaitError) Error() string {
	if e.Wait == 0 {
		return "too many wrong PINs: another person must unlock the badge"
	}
	return fmt.Sprintf("too many wrong PINs: wait %s", e.Wait.Round(time.Second))
}

// PINError says why a PIN is not taken. It never holds the PIN.
type PINError struct{ Reason string }

// Error is the reason.
func (e *PINError) Error() string { return e.Reason }

// Why a session ended.
type Why string

// The ways in which a session ends.
const (
	WhyIdle     Why = "idle"       // nothing was done for too long
	WhyLong     Why = "long"       // 12 hours
	WhyOut      Why = "signed-out" // by its person
	WhyAgain    Why = "again"      // the same person signed in there again
	WhyEnded    Why = "ended"      // by somebody else
	WhyRemoved  Why = "removed"    // the person or the station was taken off the list
	WhyPIN      Why = "pin"        // the PIN was changed
	WhyClock    Why = "clock"      // the machine's clock was set: it goes on under another number
	WhyTooMany  Why = "too-many"   // sessions were open; this one had been idle for longest
	WhyUnmarked Why = ""           // it has not ended
)

// EndedError says that a session has ended.
type EndedError struct{ Why Why }

// Error says why.
func (e *EndedError) Error() string { return "the session has ended: " + string(e.Why) }
