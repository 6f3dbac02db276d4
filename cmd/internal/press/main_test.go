package press

import (
	"testing"

	"go.uber.org/goleak"
)

// TestMain fails when a goroutine is left behind by a test: a press that was stopped waits for no printer.
func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }
