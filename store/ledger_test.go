package store_test

import (
	"testing"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
)

func TestEveryLedgerConforms(t *testing.T) {
	storetest.Run(t, func(t testing.TB) *store.Ledger {
		return storetest.Open(t, storetest.Path(t), store.Options{})
	})
}

// With two things in memory at most, everything is read back from the file again and again.
func TestALedgerWithHardlyAnyMemoryConforms(t *testing.T) {
	storetest.Run(t, func(t testing.TB) *store.Ledger {
		return storetest.Open(t, storetest.Path(t), store.Options{Cached: 2})
	})
}
