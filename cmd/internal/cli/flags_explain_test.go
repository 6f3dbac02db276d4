package cli

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// TestEveryNumberOfAFlagIsSaidWithItsSource: what a kind is judged by stands in the protocol, and is said with a basis.
func TestEveryNumberOfAFlagIsSaidWithItsSource(t *testing.T) {
	p := protocol.Default()
	said := 0
	for _, info := range tracker.FlagCatalog() {
		limits := limitsOf(info.Kind, p)
		if len(tracker.FlagKeys(info.Kind)) > 0 && info.Kind != tracker.FlagRoleDoubtful { // the default has no staff
			require.NotEmpty(t, limits, info.Kind)
		}
		for _, s := range limits {
			require.NotEmpty(t, s.Says, info.Kind)
			said++
		}
	}
	require.Greater(t, said, 60)
}
