package daemon

import (
	"errors"
	"syscall"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/people"
	"github.com/pottrail/pottrail/store/prints"
	"github.com/pottrail/pottrail/store/staff"
)

// Hint says what to do about an error of [Run] or [Rebuild], or "".
func Hint(err error) string {
	switch {
	case errors.Is(err, ErrNotEmpty):
		return "name a new folder with --data, and look at this one first: nothing is ever put back over something"
	case errors.Is(err, people.ErrKeyMissing):
		return "put the file there, readable by its owner alone; after a restore it comes from where it was kept apart from the backups"
	case errors.Is(err, store.ErrInUse):
		return "another pottrail has this data folder: stop that one, or name another folder with --data"
	case errors.Is(err, store.ErrCopy):
		return "the disk of the copy is damaged, or the ledger itself: `pottrail fsck` tells; older backups stay as they are"
	case errors.Is(err, store.ErrDamaged):
		return "what to do step by step: " + store.DamagedProcedure
	case errors.Is(err, store.ErrForeign):
		return "nothing in it was changed: name another folder with --data, or put a good copy of the ledger there"
	case errors.Is(err, ErrForeign):
		return "nothing in it was changed: name an empty folder, a new one, or one of pottrail with --data"
	case errors.Is(err, store.ErrProtocol):
		return "nothing is lost, and nothing was changed: `pottrail protocol show --clinic KEY --stopped` prints it; mend that, try it with\n" +
			"          `pottrail protocol check FILE`, and `pottrail protocol adopt FILE --clinic KEY --stopped` puts it in force; then start again"
	case errors.Is(err, ErrEvidence):
		return "nothing in it was changed, and nothing is recorded onto it. Keep this folder as it is; ask whoever looks after the machine whether an\n" +
			"          older copy was put back. If so, put back the latest copy of the ledger; if nobody did, the record was altered: make a copy of the\n" +
			"          folder, tell the person responsible for the record, and go on with paper or with an empty folder until it is cleared up"
	case errors.Is(err, ErrSigningKey):
		return "mend that file, or take it away: a new one is then made, and its public part must be given to those who check"
	case errors.Is(err, store.ErrNewer):
		return "nothing in it was changed: use the release that wrote it, or a later one"
	case errors.Is(err, ErrDemo):
		return "nothing in it was changed: name another folder with --data"
	case errors.Is(err, staff.ErrForeign), errors.Is(err, staff.ErrDamaged):
		return "nothing in it was changed, and nothing that was recorded hangs on it: copy the data folder, then put staff.db of the last backup in its place.\n" +
			"          Do not only move it away: then nobody is set up, and nobody signs in"
	case errors.Is(err, staff.ErrNewer):
		return "nothing in it was changed: use the release that wrote it, or a later one"
	case errors.Is(err, people.ErrKeyWrong):
		return "was the master key changed lately? Name the file that holds the new one with --people-key-file, or give that one as the credential"
	case errors.Is(err, people.ErrKeyMissing):
		return "no new key is made, since that would only hide the loss: without it no name can be read; the record itself is whole"
	case errors.Is(err, store.ErrHalfBuilt):
		return "run `pottrail rebuild` over this data folder to the end"
	case errors.Is(err, store.ErrFatal), errors.Is(err, people.ErrFatal), errors.Is(err, prints.ErrFatal):
		return "look at the disk first; what was answered as recorded is there, start again when the disk is well"
	case errors.Is(err, store.ErrNoSpace):
		return "make space on the disk, then start again"
	case errors.Is(err, syscall.EADDRINUSE):
		return "another program listens there: name another address with --http or --nats-listen"
	case errors.Is(err, syscall.EACCES):
		return "this user may not do that: use a folder or a port of their own"
	}
	return ""
}
