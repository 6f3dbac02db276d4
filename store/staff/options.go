package staff

import (
	"crypto/rand"
	"io"
	"time"

	bolt "go.etcd.io/bbolt"
)

// Options say how a staff file is opened. The zero value is good for a clinic.
type Options struct {
	// Timeout is how long [Open] waits for another process to let go of the file. Zero means one second.
	Timeout time.Duration
	// Now is the time of day, by a clock that may be set; it is what people are told. Nil means the machine's.
	Now func() time.Time
	// Steady is the time since some instant by a clock that nobody sets; limits are measured by it. Best is one that goes on
	// while the machine sleeps. Nil means Go's, which may not.
	Steady func() time.Duration
	// Random gives keys and salts. Nil means the system's.
	Random io.Reader
	// Cost is what hashing a PIN costs. The zero value means [DefaultCost].
	Cost Cost
	// Locked is told when a wrong PIN of somebody on the list was the tenth in a row at a station, or a later one, so that
	// the badge is locked there. It must be quick. Nil: nobody is.
	Locked func(staff, station string, wrong int)
	// Bolt changes how the file is opened, for tests. Nil leaves it.
	Bolt func(*bolt.Options)
}

func (o Options) filled() Options {
	if o.Timeout == 0 {
		o.Timeout = time.Second
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Steady == nil {
		start := time.Now()
		o.Steady = func() time.Duration { return time.Since(start) }
	}
	if o.Random == nil {
		o.Random = rand.Reader
	}
	if o.Cost == (Cost{}) {
		o.Cost = DefaultCost
	}
	return o
}
