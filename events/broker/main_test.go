package broker_test

import (
	"testing"

	"go.uber.org/goleak"
)

// TestMain fails when a goroutine is left behind by a test: a stopped server, publisher or recorder holds nobody.
func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }
