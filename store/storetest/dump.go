package storetest

import (
	"fmt"
	"testing"

	"github.com/go-json-experiment/json"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store"
)

// Dump is what readers can see of a ledger, in lines: entries, snapshots, flags, what is due.
func Dump(t testing.TB, l *store.Ledger) []string {
	t.Helper()
	var lines []string
	for from := uint64(1); ; {
		page, err := l.EventsFrom(from, 0)
		require.NoError(t, err)
		if len(page) == 0 {
			break
		}
		for _, entry := range page {
			lines = append(lines, fmt.Sprintf("entry %d %s", entry.Seq, entry.Leaf))
		}
		from += uint64(len(page))
	}
	return append(lines, Snapshots(t, l)...)
}

// Snapshots is every snapshot of a ledger, and what the indexes say, in lines.
func Snapshots(t testing.TB, l *store.Ledger) []string {
	t.Helper()
	var lines []string
	for _, f := range []store.Filter{{}, {Open: true}, {Flagged: true}} {
		for s, err := range l.Snapshots(f) {
			require.NoError(t, err)
			line, err := json.Marshal(s)
			require.NoError(t, err)
			lines = append(lines, fmt.Sprintf("open %t flagged %t %s", f.Open, f.Flagged, line))
		}
	}
	at, ok, err := l.Due()
	require.NoError(t, err)
	return append(lines, fmt.Sprintf("due %v %t", at, ok))
}
