package daemon

import "runtime/debug"

const (
	// garbagePercent is how much garbage may pile up beside what is in use, in per cent, before it is collected: folding
	// makes much of it, and at Go's own 100 a fifth of all time under load went into collecting.
	garbagePercent = 300
	// memoryLimit is from where on it is collected more often, in bytes. The ledger's map is not in it.
	memoryLimit = 400 << 20
)

// setCollector tells the garbage collector how much memory it may use. GOGC and GOMEMLIMIT, when an administrator has
// set them, are left alone.
func setCollector(getenv func(string) string) {
	if getenv("GOGC") == "" {
		debug.SetGCPercent(garbagePercent)
	}
	if getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(memoryLimit)
	}
}
