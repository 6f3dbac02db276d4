package store_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
)

// What a rebuild makes is what grew batch by batch, byte for byte.
func TestARebuildGivesTheSame(t *testing.T) {
	path := storetest.Path(t)
	l := storetest.Open(t, path, store.Options{})
	list := storetest.Life(21, 25)
	for i, e := range list {
		storetest.Record(t, l, e.At.Add(time.Duration(i%7)*time.Minute), e)
	}
	now := list[len(list)-1].At.Add(50 * time.Hour)
	storetest.CatchUp(t, l, now)
	grown := storetest.Dump(t, l)
	rows, err := l.FlagChanges(1, 100_000)
	require.NoError(t, err)
	root, err := l.Root("")
	require.NoError(t, err)

	var told []uint64
	require.NoError(t, l.Rebuild(now, func(done, total uint64) {
		require.LessOrEqual(t, done, total)
		told = append(told, done)
	}))
	require.NotEmpty(t, told)
	require.IsNonDecreasing(t, told)
	require.Equal(t, grown, storetest.Dump(t, l))
	again, err := l.FlagChanges(1, 100_000)
	require.NoError(t, err)
	require.Equal(t, rows, again, "nothing changed, so nobody is told anything")
	rooted, err := l.Root("")
	require.NoError(t, err)
	require.Equal(t, root, rooted)
	require.NoError(t, l.Check())

	later := now.Add(9 * 24 * time.Hour)
	require.NoError(t, l.Rebuild(later, nil))
	rebuilt := storetest.Dump(t, l)
	require.NotEqual(t, grown, rebuilt)
	other := storetest.Open(t, storetest.Path(t), store.Options{})
	for i, e := range list {
		storetest.Record(t, other, e.At.Add(time.Duration(i%7)*time.Minute), e)
	}
	storetest.CatchUp(t, other, later)
	require.Equal(t, storetest.Dump(t, other), rebuilt)

	first := storetest.Record(t, l, later, list...)
	storetest.Record(t, l, later, list...)
	require.Len(t, first, len(list), "ids are known after a rebuild")
	seq, _ := l.Last()
	require.EqualValues(t, len(list), seq)
	require.NoError(t, l.Close())
	l = storetest.Open(t, path, store.Options{})
	require.Equal(t, rebuilt, storetest.Dump(t, l))
}
