package daemon

import (
	"testing"

	"go.uber.org/goleak"
)

// TestMain fails when a goroutine is left behind by a test: a daemon that was stopped has stopped everything.
func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }
