package store

import "errors"

// Opening a ledger fails with these.
var (
	// ErrInUse is returned by [Open] when another process has the ledger open.
	ErrInUse = errors.New("the ledger is in use by another process")
	// ErrForeign is returned by [Open] when the file is no ledger, or a damaged one. Nothing is changed.
	ErrForeign = errors.New("the file is not a ledger of pottrail, or it is damaged")
	// ErrProtocol is returned by [Open] when this release cannot use a protocol that a clinic adopted: nothing may be judged by
	// other rules in silence. [Options.Mend] opens the ledger all the same, to adopt another. Nothing is changed.
	ErrProtocol = errors.New("a protocol that was adopted cannot be used by this release")
	// ErrNewer is returned by [Open] when a later release wrote the file. Nothing is changed.
	ErrNewer = errors.New("the ledger was written by a later release")
)

// Writing to a ledger fails with these.
var (
	// ErrNoSpace says that the disk, its reserve or the ledger's largest size is used up: nothing of what it was
	// returned for is recorded, reads go on, and the same may succeed when there is space again.
	ErrNoSpace = errors.New("no space left for the ledger")
	// ErrFatal says that writing or syncing failed, so that nobody knows what the disk holds. The ledger takes no more
	// writes; stop, open it again and send again what was not answered.
	ErrFatal = errors.New("the ledger could not be written")
	// ErrHalfBuilt says that a rebuild did not finish: call [Ledger.Rebuild] again before recording.
	ErrHalfBuilt = errors.New("the ledger's indexes are half built")
	// ErrReadOnly says that the ledger was opened to be read only.
	ErrReadOnly = errors.New("the ledger can only be read")
	// ErrClosed says that the ledger was closed.
	ErrClosed = errors.New("the ledger is closed")
)

// Numbers run out with these.
var (
	// ErrSerials says that a clinic has used its 99,999 serials of a year.
	ErrSerials = errors.New("no serials left")
	// ErrCopies says that a thing has had its 35 labels.
	ErrCopies = errors.New("no copies left")
)

// ErrDamaged says that something stored does not fit the rest: a changed byte, a missing index.
var ErrDamaged = errors.New("the ledger is damaged")
