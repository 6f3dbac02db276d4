package daemon

import (
	"time"

	"golang.org/x/sys/unix"
)

// steadily is the time since the machine was started, sleep included, which nobody sets. Source: clock_gettime(2),
// CLOCK_BOOTTIME; Go's own clock stands still while the machine sleeps, and a session must not.
func steadily() func() time.Duration {
	start := time.Now()
	return func() time.Duration {
		var t unix.Timespec
		if err := unix.ClockGettime(unix.CLOCK_BOOTTIME, &t); err != nil {
			return time.Since(start) // no Linux of this century
		}
		return time.Duration(t.Nano())
	}
}
