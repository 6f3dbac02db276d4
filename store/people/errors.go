package people

import "errors"

// What can go wrong with the file and its key.
var (
	// ErrInUse says that another process has the file open.
	ErrInUse = errors.New("the people file is in use by another process")
	// ErrForeign says that the file is no people file, or a damaged one.
	ErrForeign = errors.New("the file is not a people file of pottrail, or it is damaged")
	// ErrNewer says that a later release wrote the file.
	ErrNewer = errors.New("the people file was written by a later release")
	// ErrKeyMode says that others than the owner can read the file with the master key.
	ErrKeyMode = errors.New("the key file can be read by others")
	// ErrKeyOwner says that the file with the master key belongs to another user.
	ErrKeyOwner = errors.New("the key file belongs to another user")
	// ErrKeyGiven says that the master key is put in its place by something else, so that it cannot be changed there.
	ErrKeyGiven = errors.New("the key file is given to the program and cannot be replaced by it")
	// ErrForgotten says that a ref stood for a patient whose record was destroyed: it stands for nobody any more.
	ErrForgotten = errors.New("the patient's record was destroyed")
	// ErrKeyMissing says that there is a people file and no key to open it with. No new key is made, since that would
	// only hide the loss.
	ErrKeyMissing = errors.New("the key file is missing")
	// ErrKeyWrong says that the key does not open this file.
	ErrKeyWrong = errors.New("the key file belongs to another people file, or is damaged")
	// ErrSealed says that a record cannot be opened: it was changed or damaged.
	ErrSealed = errors.New("a sealed record cannot be opened")
	// ErrNoSpace says that the disk is full: nothing of what it was returned for was written, and the same may succeed when
	// there is space again.
	ErrNoSpace = errors.New("no space left for the people file")
	// ErrFatal says that writing or syncing failed, so that nobody knows what the disk holds. The file takes no more changes
	// until it was closed and opened again; reading goes on.
	ErrFatal = errors.New("the people file could not be written")
	// ErrRef says that a ref is not one that [NewRef] makes.
	ErrRef = errors.New("not a ref of a patient")
)
