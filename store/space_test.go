package store_test

import (
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
)

func TestAFullLedgerSaysSoAndGoesOn(t *testing.T) {
	path := storetest.Path(t)
	l := storetest.Open(t, path, store.Options{MaxSize: 1 << 20})
	list := storetest.Life(41, 400)
	now := list[len(list)-1].At
	took := 0
	for took < len(list) {
		verdicts, err := l.Record(now, storetest.Intakes(list[took:took+10]...))
		if err != nil {
			require.ErrorIs(t, err, store.ErrNoSpace)
			require.Len(t, verdicts, 10)
			for i, v := range verdicts {
				require.False(t, v.OK)
				require.Equal(t, events.CodeNoSpace, v.Error.Code)
				require.Equal(t, string(list[took+i].ID), v.ID)
			}
			break
		}
		took += 10
	}
	require.Less(t, took, len(list), "a MiB cannot hold them all")
	require.Greater(t, took, 100)
	seq, _ := l.Last()
	require.EqualValues(t, took, seq, "nothing of the batch")
	verdicts, err := l.Record(now, storetest.Intakes(list[:5]...))
	require.NoError(t, err, "what is known is answered without space")
	require.True(t, verdicts[0].OK)
	_, ok, err := l.Snapshot(list[0].Items[0].Name)
	require.NoError(t, err)
	require.True(t, ok, "reads go on")
	require.NoError(t, l.Check())
	require.EqualValues(t, 1, l.Stats().NoSpace)
	require.NoError(t, l.Close())

	l = storetest.Open(t, path, store.Options{})
	storetest.Record(t, l, now, list...)
}

func TestTheReserveOfTheDiskIsKept(t *testing.T) {
	l := storetest.Open(t, storetest.Path(t), store.Options{Reserve: 100 << 20})
	list := storetest.Life(42, 2)
	now := list[len(list)-1].At
	var free atomic.Int64
	l.SetFree(func() (int64, bool) { return free.Load(), true })
	free.Store(100<<20 + 100)
	_, err := l.Record(now, storetest.Intakes(list...))
	require.ErrorIs(t, err, store.ErrNoSpace)
	require.ErrorContains(t, err, "reserve")
	free.Store(200 << 20)
	storetest.Record(t, l, now, list...)
	l.SetFree(func() (int64, bool) { return 0, false })
	storetest.Record(t, l, now, storetest.Life(43, 1)...)
}

// While space comes and goes under load, a batch on its way may come to nothing when the next one is prepared on it. What
// was answered is there, once; what was told no-space is not, unless it was sent again.
func TestSpaceComesAndGoesUnderLoad(t *testing.T) {
	l := storetest.Open(t, storetest.Path(t), store.Options{Reserve: 1})
	var tick atomic.Int64
	l.SetFree(func() (int64, bool) {
		if tick.Add(1)%3 == 0 {
			return 0, true
		}
		return 1 << 40, true
	})
	list := storetest.Life(44, 40)
	now := list[len(list)-1].At
	var clients sync.WaitGroup
	var refused atomic.Int64
	for client := range 4 {
		clients.Go(func() {
			for i := client; i < len(list); i += 4 {
				for {
					verdicts, err := l.Record(now, storetest.Intakes(list[i]))
					if err == nil {
						if !verdicts[0].OK {
							t.Errorf("%+v", verdicts[0])
						}
						break
					}
					refused.Add(1)
				}
			}
		})
	}
	clients.Wait()
	require.NotZero(t, refused.Load())
	seq, _ := l.Last()
	require.EqualValues(t, len(list), seq)
	l.SetFree(func() (int64, bool) { return 1 << 40, true })
	storetest.CatchUp(t, l, now)
	require.Equal(t, fromNothing(t, l, now), judgements(t, l))
	first, err := l.TakeSerials("MBY", 26, 1)
	require.NoError(t, err)
	require.Equal(t, 2, first, "1 is known, and 2 nobody has heard of")
	first, err = l.TakeSerials("MBY", 26, 2)
	require.NoError(t, err)
	require.Equal(t, 40, first, "two in a row: every other one up to 39 is known")
	require.Equal(t, time.UTC, now.Location())
}
