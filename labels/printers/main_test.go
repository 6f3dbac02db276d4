package printers_test

import (
	"testing"

	"go.uber.org/goleak"
)

// TestMain fails when a goroutine is left behind by a test: a printer that hangs is left alone when its time is up.
func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }
