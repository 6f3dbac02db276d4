//go:build !linux

package daemon

import "time"

// steadily is the time since the daemon started, by a clock that nobody sets. It may stand still while the machine sleeps.
func steadily() func() time.Duration {
	start := time.Now()
	return func() time.Duration { return time.Since(start) }
}
