package prints

import "errors"

// Opening a print queue fails with these.
var (
	// ErrInUse says that another process has the file open.
	ErrInUse = errors.New("the print queue is in use by another process")
	// ErrForeign says that the file is no print queue, or a damaged one. It was not touched.
	ErrForeign = errors.New("the file is not a print queue of pottrail, or it is damaged")
	// ErrNewer says that a later release wrote the file. It was not touched.
	ErrNewer = errors.New("the print queue was written by a later release")
	// ErrKey says that the key does not open this file, or is none. [Abandon] opens it without.
	ErrKey = errors.New("the key does not open this print queue")
)

// Using a print queue fails with these.
var (
	// ErrState says that a job is in a state in which what was asked for cannot be.
	ErrState = errors.New("a print job cannot go that way")
	// ErrNoJob says that there is no job of that number, or no longer.
	ErrNoJob = errors.New("there is no such print job")
	// ErrJob says that a job, as it was prepared, is not one.
	ErrJob = errors.New("not a print job")
	// ErrTwice says that there is a job for the same copy of the same label already.
	ErrTwice = errors.New("that copy of the label is in the print queue already")
	// ErrTooLarge says that what is to be sent to a printer is larger than any label.
	ErrTooLarge = errors.New("too large for a label")
	// ErrTooMany says that too many jobs wait for a printer.
	ErrTooMany = errors.New("too many labels wait for that printer")
	// ErrBusy says that a job of the same printer is being sent and not yet settled.
	ErrBusy = errors.New("another label is being sent to that printer")
	// ErrNoSpace says that the disk is full: nothing of what it was returned for was written, and the same may succeed when
	// there is space again.
	ErrNoSpace = errors.New("no space left for the print queue")
	// ErrFatal says that writing or syncing failed, so that nobody knows what the disk holds. The queue takes no more
	// changes until it was closed and opened again; reading goes on.
	ErrFatal = errors.New("the print queue could not be written")
	// ErrDamaged says that something stored does not fit the rest.
	ErrDamaged = errors.New("the print queue is damaged")
	// ErrClosed says that the queue was closed.
	ErrClosed = errors.New("the print queue is closed")
)
