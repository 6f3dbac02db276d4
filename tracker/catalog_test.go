package tracker_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// Contract page on flags: an answer settles the kinds that its tables mark so, and no other.
func TestTheCatalogSaysWhatAnAnswerSettles(t *testing.T) {
	settled := map[tracker.FlagKind]bool{}
	for _, kind := range []tracker.FlagKind{
		"fixative-time-missing", "cold-ischaemia-long", "medium-expired", "label-before-check", "label-superseded", "read-back-missing",
		"pieces-differ", "bag-short", "bag-extra", "custody-broken", "wrong-destination", "pot-damaged", "fixation-short", "fixation-long",
		"clock-doubtful", "case-opened-twice", "unknown-item", "role-doubtful",
	} {
		settled[kind] = true
	}
	seen := map[tracker.FlagKind]bool{}
	for _, info := range tracker.FlagCatalog() {
		require.Equal(t, settled[info.Kind], info.Answer, info.Kind)
		require.False(t, seen[info.Kind], "%s is explained twice", info.Kind)
		seen[info.Kind] = true
		require.NotEmpty(t, info.Title)
		require.NotEmpty(t, info.Help)
	}
}
