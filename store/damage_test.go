package store_test

import (
	"bytes"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
)

// Whatever is derived may be lost or wrong: Check finds it, and a rebuild mends it. What is not derived can only be found.
func TestCheckFindsAndRebuildMends(t *testing.T) {
	list := storetest.Life(81, 8)
	now := list[len(list)-1].At.Add(time.Hour)
	change := func(bucket string, key func(k []byte) bool, value func(v []byte) []byte) func(tx *bolt.Tx) error {
		return func(tx *bolt.Tx) error {
			b := tx.Bucket([]byte(bucket))
			c := b.Cursor()
			for k, v := c.First(); k != nil; k, v = c.Next() {
				if key(k) {
					if value == nil {
						return c.Delete()
					}
					return b.Put(bytes.Clone(k), value(bytes.Clone(v)))
				}
			}
			t.Errorf("nothing to spoil in %s", bucket)
			return nil
		}
	}
	anyKey := func([]byte) bool { return true }
	snapshot := func(k []byte) bool { return k[len(k)-1] == 0 && bytes.IndexByte(k, 1) < 0 }
	concern := func(k []byte) bool { return bytes.IndexByte(k, 1) >= 0 && !snapshot(k) }
	flip := func(v []byte) []byte { v[len(v)/2] ^= 1; return v }
	stray := func(bucket, key string) func(tx *bolt.Tx) error {
		return func(tx *bolt.Tx) error { return tx.Bucket([]byte(bucket)).Put([]byte(key), nil) }
	}
	for name, row := range map[string]struct {
		spoil func(tx *bolt.Tx) error
		mends bool
	}{
		"a due time is missing":         {change("due", anyKey, nil), true},
		"a due time too many":           {stray("due", "\x80\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00MBY-26-00001"), true},
		"an open case is missing":       {change("open", anyKey, nil), true},
		"an open case too many":         {stray("open", "MBY-26-77777"), true},
		"a flagged case is missing":     {change("flagged", anyKey, nil), true},
		"a snapshot is missing":         {change("things", snapshot, nil), true},
		"a snapshot is another":         {change("things", snapshot, func(v []byte) []byte { return bytes.Replace(v, []byte(`"sealed":true`), []byte(`"sealed":false`), 1) }), true},
		"a snapshot is no JSON":         {change("things", snapshot, func(v []byte) []byte { return v[:len(v)-1] }), true},
		"an event is filed nowhere":     {change("things", concern, nil), true},
		"an id is missing":              {change("ids", anyKey, nil), true},
		"an id too many":                {stray("ids", "0123456789abcdef"), true},
		"an id leads elsewhere":         {change("ids", anyKey, func(v []byte) []byte { v[7] ^= 3; return v }), true},
		"a hash is another":             {change("tree", anyKey, flip), true},
		"a hash is missing":             {change("tree", anyKey, nil), true},
		"the stretches are missing":     {change("runs", anyKey, nil), true},
		"a byte of an entry is changed": {change("entries", anyKey, func(v []byte) []byte { return bytes.Replace(v, []byte("nurse.osei"), []byte("nurse.osey"), 1) }), false},
		"an entry is missing":           {change("entries", anyKey, nil), false},
	} {
		t.Run(name, func(t *testing.T) {
			l, err := store.Open(storetest.Path(t), store.Options{})
			require.NoError(t, err)
			defer func() { require.NoError(t, l.Close()) }()
			storetest.Record(t, l, now, list...)
			storetest.CatchUp(t, l, now)
			require.NoError(t, l.Check())
			good := storetest.Dump(t, l)
			root, err := l.Root("")
			require.NoError(t, err)
			require.NoError(t, l.Spoil(row.spoil))
			require.ErrorIs(t, l.Check(), store.ErrDamaged)
			err = l.Rebuild(now, nil)
			if row.mends {
				require.NoError(t, err)
				require.NoError(t, l.Check())
				require.Equal(t, good, storetest.Dump(t, l))
				return
			}
			if err == nil { // then the root gives it away, to whoever has an earlier one
				now, err := l.Root("")
				require.NoError(t, err)
				require.NotEqual(t, root, now)
			}
		})
	}
}

// A rebuild that was cut short leaves a ledger that says so, takes nothing, and is whole after the next.
func TestARebuildCutShort(t *testing.T) {
	path := storetest.Path(t)
	l := storetest.Open(t, path, store.Options{})
	list := storetest.Life(82, 6)
	now := list[len(list)-1].At.Add(time.Hour)
	storetest.Record(t, l, now, list...)
	storetest.CatchUp(t, l, now)
	good := storetest.Dump(t, l)
	rows, err := l.FlagChanges(1, 10_000)
	require.NoError(t, err)
	err = l.Rebuild(now, func(done, total uint64) {
		if done > total/2 {
			panic("the power went")
		}
	})
	require.ErrorContains(t, err, "the power went")
	require.NoError(t, l.Close())
	l, err = store.Open(path, store.Options{})
	require.NoError(t, err)
	require.True(t, l.HalfBuilt())
	_, err = l.Record(now, storetest.Intakes(list[0]))
	require.ErrorIs(t, err, store.ErrHalfBuilt)
	require.NoError(t, l.Rebuild(now, nil))
	require.False(t, l.HalfBuilt())
	require.Equal(t, good, storetest.Dump(t, l))
	again, err := l.FlagChanges(1, 10_000)
	require.NoError(t, err)
	require.Equal(t, rows, again)
	require.NoError(t, l.Check())
	storetest.Record(t, l, now, list...)
	require.NoError(t, l.Close())
}
