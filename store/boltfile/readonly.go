package boltfile

import (
	"time"

	bolt "go.etcd.io/bbolt"
)

// ReadOnly are the options for looking at a file without changing it: it may be one that nobody may write to. Others may
// look at the same time, and nobody can open it to write.
func ReadOnly(timeout time.Duration) *bolt.Options {
	o := Options(timeout)
	o.ReadOnly = true
	return o
}
