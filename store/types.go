package store

import (
	"time"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// Intake is one event to be recorded. Its Record is ignored: the ledger gives its own.
type Intake struct {
	Event  *tracker.Event // must not be changed afterwards
	SentAt time.Time      // the sender's clock at sending; zero when it was not told
}

// Snapshot is what was last judged of a case or bag.
type Snapshot struct {
	tracker.Judgement
	// Protocol is the SHA-256 of the protocol it was judged by, in part: its first 16 hexadecimal digits.
	Protocol string `json:"protocol"`
}

// Entry is one event as it is stored.
type Entry struct {
	Seq    uint64 // position in this ledger, from 1
	OSeq   uint64 // position within its origin, from 1
	Origin string
	Leaf   []byte // the stored bytes, as hashed; [events.AppendExport] makes a line of them
}

// Event decodes the entry, its position included.
func (n Entry) Event() (*tracker.Event, error) {
	e, err := events.DecodeRecorded(n.Leaf)
	if err != nil {
		return nil, err
	}
	e.Record.Seq = n.Seq
	return e, nil
}

// FlagChange is one row of the log of flags.
type FlagChange struct {
	Seq uint64    // position in the log, gapless, from 1
	At  time.Time // when it was found, by the recorder's clock
	events.FlagChange
}

// Rechecked is what [Ledger.Recheck] found.
type Rechecked struct {
	Judged  int          // how many cases and bags
	Changes []FlagChange // of their flags
	More    bool         // more is due: call again
}

// Stats are figures for metrics; they count from when the ledger was opened, unless said otherwise.
type Stats struct {
	Entries   uint64        // in the ledger, ever
	Commits   uint64        // batches that are on disk
	Recorded  uint64        // events in them
	Repeats   uint64        // events sent again
	Refused   uint64        // events with a known id and other content, or a bad protocol
	NoSpace   uint64        // batches turned away for want of space
	Judged    uint64        // judgements of a case or bag
	Syncing   time.Duration // spent in commits
	FileBytes int64         // of the ledger's file
	// LongestRead is the longest that one reading transaction was open: so long pages that were given up could not be used
	// again. A hot copy of the file is one such transaction; all others are meant to stay below a second.
	LongestRead time.Duration
	DiskFree    int64 // bytes free where it lies; -1 when not known
}
