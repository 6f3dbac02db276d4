package web

import (
	"testing"

	"go.uber.org/goleak"
)

// TestMain fails when a goroutine is left behind by a test: whoever hangs up is not waited for.
func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }
