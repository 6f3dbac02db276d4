package store_test

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
	"github.com/pottrail/pottrail/tracker"
)

var release = flag.String("release", "", "write testdata/ledgers/NAME.db and its export as this release makes them")

var oldLedgers = filepath.Join("..", "testdata", "ledgers")

// exported is a ledger as `pottrail export` prints it.
func exported(t testing.TB, l *store.Ledger) []byte {
	var out []byte
	for from := uint64(1); ; {
		page, err := l.EventsFrom(from, 0)
		require.NoError(t, err)
		if len(page) == 0 {
			return out
		}
		for _, entry := range page {
			out = append(events.AppendExport(out, entry.Leaf, entry.Seq), '\n')
		}
		from += uint64(len(page))
	}
}

// TestALedgerOfThisRelease writes a ledger down for the releases to come, when asked with -release.
func TestALedgerOfThisRelease(t *testing.T) {
	path := storetest.Path(t)
	l, err := store.Open(path, store.Options{Origin: "an-old-node"})
	require.NoError(t, err)
	list := storetest.Life(2611, 4)
	now := list[len(list)-1].At.Add(time.Hour)
	for _, e := range list {
		storetest.Record(t, l, e.At, e)
	}
	_, err = l.TakeSerials("MBY", 26, 7)
	require.NoError(t, err)
	storetest.CatchUp(t, l, now)
	export := exported(t, l)
	small := path + ".copy" // without the room to grow that a ledger in use has
	_, err = l.Copy(t.Context(), small, nil)
	require.NoError(t, err)
	storetest.Close(t, l)
	if *release == "" {
		return
	}
	ledger, err := os.ReadFile(small)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(oldLedgers, *release+".db"), ledger, 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(oldLedgers, *release+".ndjson"), export, 0o644))
}

// Each ledger that a release has left in testdata/ledgers is opened, brought up to this release's form, and holds what it
// held, byte for byte; then it goes on.
func TestLedgersOfEarlierReleasesAreOpened(t *testing.T) {
	found, err := filepath.Glob(filepath.Join(oldLedgers, "*.db"))
	require.NoError(t, err)
	require.NotEmpty(t, found)
	for _, old := range found {
		t.Run(strings.TrimSuffix(filepath.Base(old), ".db"), func(t *testing.T) {
			data, err := os.ReadFile(old)
			require.NoError(t, err)
			want, err := os.ReadFile(strings.TrimSuffix(old, ".db") + ".ndjson")
			require.NoError(t, err)
			path := storetest.Path(t)
			require.NoError(t, os.WriteFile(path, data, 0o600))
			l := storetest.Open(t, path, store.Options{})
			require.Equal(t, "an-old-node", l.Origin())
			require.Equal(t, string(want), string(exported(t, l)))
			_, recorded := l.Last()
			now := recorded.Add(48 * time.Hour)
			storetest.CatchUp(t, l, now)
			require.NoError(t, l.Check())

			fresh := storetest.Open(t, storetest.Path(t), store.Options{Origin: "an-old-node"})
			for line := range bytes.Lines(want) {
				e, err := events.DecodeRecorded(bytes.TrimSpace(line))
				require.NoError(t, err)
				at := e.Record.Recorded
				plain := *e
				plain.Record = tracker.Record{}
				storetest.Record(t, fresh, at, &plain)
			}
			storetest.CatchUp(t, fresh, now)
			require.Equal(t, flagsOf(t, fresh), flagsOf(t, l), "and what is wrong is what this release says of the same events")

			first, err := l.TakeSerials("MBY", 26, 1)
			require.NoError(t, err)
			require.GreaterOrEqual(t, first, 8)
		})
	}
}

// flagsOf lists what is wrong, in words.
func flagsOf(t testing.TB, l *store.Ledger) (out []string) {
	list, err := l.OpenFlags()
	require.NoError(t, err)
	for _, f := range list {
		out = append(out, fmt.Sprintf("%v %s %s: %s", f.Severity, f.Kind, f.Item, f.Text))
	}
	return out
}
