package store

import (
	"io"
	"os"
	"time"
)

// Options say how a ledger is opened. The zero value is good for a clinic.
type Options struct {
	// Timeout is how long [Open] waits for another process to let go of the file. Zero means one second.
	Timeout time.Duration
	// MaxSize is the largest size of the file in bytes; recording past it fails with [ErrNoSpace]. Zero sets none.
	MaxSize int64
	// Reserve is how many bytes of the disk stay free: recording stops with [ErrNoSpace] before that. Zero sets none.
	Reserve int64
	// MapSize is how much address space is mapped at first, in bytes, so that growing does not hold up readers. Zero
	// means 1 GiB, or MaxSize where that is less. It costs no memory.
	MapSize int64
	// Zones finds a time zone by its IANA name. Nil means [time.LoadLocation].
	Zones func(name string) (*time.Location, error)
	// Random makes the origin of a new ledger. Nil means crypto/rand.
	Random io.Reader
	// Origin names the origin of a new ledger, in place of a random one; for tests and the demo. 1 to 64 of the
	// characters a-z, 0-9 and hyphen.
	Origin string
	// Cached is how many cases and bags are kept decoded in memory. Zero means 8192:
	// about 100 MiB when all of them are busy ones.
	Cached int
	// FlagLog is how many changes of flags are kept for those who follow them. Zero means 100,000.
	FlagLog int
	// Kept is told the path of a copy that was made and verified beside the ledger before this release changes its form.
	Kept func(path string)
	// Mend opens a ledger although this release cannot use a protocol that a clinic adopted; the clinic goes by the default
	// until it adopts another. It is for showing such a protocol and adopting another, and for nothing else.
	Mend bool
	// ReadOnly opens a ledger to be read and nothing else: not a byte of the file is changed, recording fails with
	// [ErrReadOnly], and what cannot be read of its state is left out. It is for showing a damaged one.
	ReadOnly bool
	// Rebuilding opens a ledger of which only the entries are to be relied on: nothing derived is looked at, and nothing can be
	// recorded before [Ledger.Rebuild] has made it anew.
	Rebuilding bool
	// Tap is told what each commit is about to write, in order, before it is written; for benchmarks. The puts must not
	// be changed. It may be called while another batch is being prepared.
	Tap func(puts []Put)
	// OpenFile opens the ledger's file in place of [os.OpenFile]; for tests that make writing fail.
	OpenFile func(name string, flag int, mode os.FileMode) (*os.File, error)
}

// Put is one change of one key in one bucket of the file.
type Put struct {
	Bucket string
	Key    []byte
	Value  []byte // may be empty
	Delete bool
}

func (o Options) withDefaults() Options {
	if o.Timeout == 0 {
		o.Timeout = time.Second
	}
	if o.MapSize == 0 {
		o.MapSize = 1 << 30
	}
	if o.MaxSize > 0 && o.MapSize > o.MaxSize {
		o.MapSize = o.MaxSize
	}
	if o.Zones == nil {
		o.Zones = time.LoadLocation
	}
	if o.Cached == 0 {
		o.Cached = 8192
	}
	if o.FlagLog == 0 {
		o.FlagLog = 100_000
	}
	return o
}
