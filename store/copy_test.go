package store_test

import (
	"bytes"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
	"github.com/pottrail/pottrail/tracker"
)

// lived is a ledger with some cases in it.
func lived(t testing.TB, seed uint64, cases int, o store.Options) (l *store.Ledger, path string) {
	path = storetest.Path(t)
	l = storetest.Open(t, path, o)
	for _, e := range storetest.Life(seed, cases) {
		storetest.Record(t, l, e.At, e)
	}
	return l, path
}

func TestACopyIsTheLedgerAndIsChecked(t *testing.T) {
	l, path := lived(t, 71, 4, store.Options{})
	copied := filepath.Join(t.TempDir(), "copy.db")
	var told int64
	contents, err := l.Copy(t.Context(), copied, func(done, total int64) { told = done; require.LessOrEqual(t, done, total) })
	require.NoError(t, err)
	info, err := os.Stat(copied)
	require.NoError(t, err)
	require.Equal(t, info.Size(), told)
	require.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	seq, recorded := l.Last()
	require.Equal(t, seq, contents.Entries)
	require.True(t, recorded.Equal(contents.Recorded))
	root, err := l.Root("")
	require.NoError(t, err)
	require.Equal(t, []store.Checkpoint{root}, contents.Roots)
	require.NoError(t, store.CheckCopy(t.Context(), copied, contents, nil))
	before := storetest.Dump(t, l)

	_, err = l.Copy(t.Context(), copied, nil)
	require.ErrorIs(t, err, os.ErrExist, "never over a file that is there")
	require.NoError(t, l.Close())
	again := copied + "2"
	closed, err := store.CopyFile(t.Context(), path, again, store.Options{}, nil)
	require.NoError(t, err)
	require.Equal(t, contents, closed)
	require.NoError(t, store.CheckCopy(t.Context(), again, contents, nil))
	_, err = l.Copy(t.Context(), again+"3", nil)
	require.ErrorIs(t, err, store.ErrClosed)

	other := storetest.Open(t, copied, store.Options{})
	require.Equal(t, before, storetest.Dump(t, other))
}

func TestACopyThatIsNotTheSameIsToldBy(t *testing.T) {
	l, _ := lived(t, 72, 2, store.Options{})
	copied := filepath.Join(t.TempDir(), "copy.db")
	contents, err := l.Copy(t.Context(), copied, nil)
	require.NoError(t, err)
	for _, test := range []struct {
		name   string
		change func(c *store.Contents)
		says   string
	}{
		{"one entry fewer", func(c *store.Contents) { c.Entries++ }, "entries in place of"},
		{"another origin", func(c *store.Contents) { c.Origin = "other" }, `its origin is "test-origin"`},
		{"another root", func(c *store.Contents) { c.Roots[0].Root = store.Checkpoint{}.Root }, "an entry was changed"},
		{"a log more", func(c *store.Contents) { c.Roots = append(c.Roots, store.Checkpoint{Origin: "b", Size: 1}) }, "the log of b is not in it"},
		{"a log fewer", func(c *store.Contents) { c.Roots = nil }, "1 logs in place of 0"},
		{"another time", func(c *store.Contents) { c.Recorded = c.Recorded.Add(1) }, "of another time"},
		{"another fold", func(c *store.Contents) { c.Fold++ }, "fold"},
	} {
		want := contents
		want.Roots = append([]store.Checkpoint(nil), contents.Roots...)
		test.change(&want)
		err := store.CheckCopy(t.Context(), copied, want, nil)
		require.ErrorIs(t, err, store.ErrCopy, test.name)
		require.ErrorContains(t, err, test.says, test.name)
	}
	require.NoError(t, store.CheckCopy(t.Context(), copied, contents, nil))
	for _, change := range []func(tx *bolt.Tx) error{
		func(tx *bolt.Tx) error { // a byte of an entry
			b := tx.Bucket([]byte("entries"))
			leaf := bytes.Clone(b.Get([]byte{0, 0, 0, 0, 0, 0, 0, 2}))
			leaf[len(leaf)/2] ^= 1
			return b.Put([]byte{0, 0, 0, 0, 0, 0, 0, 2}, leaf)
		},
		func(tx *bolt.Tx) error { return tx.Bucket([]byte("entries")).Delete([]byte{0, 0, 0, 0, 0, 0, 0, 3}) },
		func(tx *bolt.Tx) error { return tx.DeleteBucket([]byte("due")) },
	} {
		bad := filepath.Join(t.TempDir(), "bad.db")
		_, err := l.Copy(t.Context(), bad, nil)
		require.NoError(t, err)
		db, err := bolt.Open(bad, 0o600, nil)
		require.NoError(t, err)
		require.NoError(t, db.Update(change))
		require.NoError(t, db.Close())
		require.Error(t, store.CheckCopy(t.Context(), bad, contents, nil))
	}
}

// 256 record at once while copies are made: each copy holds all that was acknowledged before it was begun.
func TestACopyUnderLoadHoldsWhatWasAcknowledged(t *testing.T) {
	const recorders, each = 256, 4
	l := storetest.Open(t, storetest.Path(t), store.Options{})
	events := storetest.Life(73, recorders*each/12)
	require.GreaterOrEqual(t, len(events), recorders)
	per := len(events) / recorders
	var acknowledged sync.Map // id → true
	var count atomic.Int64
	var all sync.WaitGroup
	now := events[len(events)-1].At
	for i := range recorders {
		all.Go(func() {
			for _, e := range events[i*per : (i+1)*per] {
				verdicts, err := l.Record(now, storetest.Intakes(e))
				if err != nil || !verdicts[0].OK {
					t.Errorf("not recorded: %v %v", err, verdicts)
					return
				}
				acknowledged.Store(e.ID, true)
				count.Add(1)
			}
		})
	}
	copies := 0
	for done := make(chan struct{}); ; copies++ {
		if copies == 0 {
			go func() { all.Wait(); close(done) }()
		}
		before := map[tracker.EventID]bool{}
		acknowledged.Range(func(id, _ any) bool { before[id.(tracker.EventID)] = true; return true })
		path := filepath.Join(t.TempDir(), "copy.db")
		contents, err := l.Copy(t.Context(), path, nil)
		require.NoError(t, err)
		require.NoError(t, store.CheckCopy(t.Context(), path, contents, nil))
		copied, err := store.Open(path, store.Options{})
		require.NoError(t, err)
		require.NoError(t, copied.Check())
		for from := uint64(1); ; {
			page, err := copied.EventsFrom(from, 0)
			require.NoError(t, err)
			if len(page) == 0 {
				break
			}
			for _, entry := range page {
				e, err := entry.Event()
				require.NoError(t, err)
				delete(before, e.ID)
			}
			from += uint64(len(page))
		}
		require.Empty(t, before, "acknowledged before the copy was begun, and not in it")
		require.NoError(t, copied.Close())
		select {
		case <-done:
			require.EqualValues(t, recorders*per, count.Load())
			t.Logf("%d copies while %d events were recorded", copies+1, count.Load())
			return
		default:
		}
	}
}

func TestACopyThatFindsNoSpaceLeavesNothing(t *testing.T) {
	l, path := lived(t, 74, 1, store.Options{})
	require.NoError(t, l.Close())
	copied := filepath.Join(t.TempDir(), "copy.db")
	_, err := store.CopyFile(t.Context(), path, copied, store.Options{Reserve: 1 << 62}, nil)
	require.ErrorIs(t, err, store.ErrNoSpace)
	require.NoFileExists(t, copied)
}

func entriesOf(t testing.TB, l *store.Ledger) []store.Entry {
	list, err := l.EventsFrom(1, 0)
	require.NoError(t, err)
	return list
}

// Whatever single byte of a copy changes: it is noticed, or no entry has changed.
func TestLawAChangedByteIsNoticedOrIsOfNoEntry(t *testing.T) {
	l, _ := lived(t, 75, 2, store.Options{})
	dir := t.TempDir()
	copied := filepath.Join(dir, "copy.db")
	contents, err := l.Copy(t.Context(), copied, nil)
	require.NoError(t, err)
	good, err := os.ReadFile(copied)
	require.NoError(t, err)
	want := entriesOf(t, l)
	rapid.Check(t, func(rt *rapid.T) {
		bad := bytes.Clone(good)
		bad[rapid.IntRange(0, len(bad)-1).Draw(rt, "at")] ^= byte(1 << rapid.IntRange(0, 7).Draw(rt, "bit"))
		path := filepath.Join(dir, "bad.db")
		require.NoError(rt, os.WriteFile(path, bad, 0o600))
		if store.CheckCopy(t.Context(), path, contents, nil) != nil {
			return
		}
		opened, err := store.Open(path, store.Options{})
		if err != nil {
			return
		}
		defer func() { require.NoError(rt, opened.Close()) }()
		// What is derived has no root; the archive's SHA-256 finds that, and a rebuild makes it anew.
		require.Equal(rt, want, entriesOf(t, opened))
	})
}

// A release that changes how a ledger is filed makes a copy beside it first, and keeps the last two.
func TestACopyIsMadeBeforeTheFormIsChanged(t *testing.T) {
	l, path := lived(t, 76, 2, store.Options{})
	list := storetest.Life(77, 3)
	for round := range 4 {
		e := list[round]
		storetest.Record(t, l, e.At.Add(24*time.Hour), e)
		before := storetest.Dump(t, l)
		seq, _ := l.Last()
		require.NoError(t, l.Close())
		if round%2 == 0 {
			require.NoError(t, store.Unfile(path))
		} else {
			require.NoError(t, store.AgeSnapshots(path))
		}
		var kept []string
		var err error
		l, err = store.Open(path, store.Options{Kept: func(path string) { kept = append(kept, path) }})
		require.NoError(t, err)
		require.Len(t, kept, 1)
		require.Regexp(t, `ledger\.db\.before-fold\d+-at-\d+$`, kept[0])
		again, _ := l.Last()
		require.Equal(t, seq, again)
		require.NotEmpty(t, before)
		names, err := filepath.Glob(path + ".before-*")
		require.NoError(t, err)
		require.Len(t, names, min(round+1, 2))
		require.Contains(t, names, kept[0])
	}
	require.NoError(t, l.Close())

	require.NoError(t, store.Meta(path, "format", []byte{0, 0, 0, 9}))
	_, err := store.Open(path, store.Options{})
	require.ErrorIs(t, err, store.ErrNewer)
	require.ErrorContains(t, err, "ledger format 9, this one reads up to 1); use that release, or go back to ledger.db.before-fold")
}

func TestTheFormIsNotChangedWithoutSpaceForTheCopy(t *testing.T) {
	l, path := lived(t, 78, 1, store.Options{})
	require.NoError(t, l.Close())
	require.NoError(t, store.Unfile(path))
	was, err := os.ReadFile(path)
	require.NoError(t, err)
	_, err = store.Open(path, store.Options{Reserve: 1 << 62})
	require.ErrorIs(t, err, store.ErrNoSpace)
	require.ErrorContains(t, err, "nothing was changed yet")
	is, err := os.ReadFile(path)
	require.NoError(t, err)
	require.True(t, bytes.Equal(was, is))
}
