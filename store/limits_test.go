package store_test

import (
	"fmt"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
	"github.com/pottrail/pottrail/tracker"
)

func eventAt(n int, at time.Time, fact tracker.Fact, items ...tracker.Name) *tracker.Event {
	e := &tracker.Event{ID: tracker.EventID(fmt.Sprintf("018f0000-0000-7000-8000-%012x", n)), Kind: fact.Kind(), Clinic: "MBY", At: at, By: "nurse.osei", Station: "room-1", Data: fact}
	for _, item := range items {
		e.Items = append(e.Items, tracker.Item{Name: item})
	}
	return e
}

func caseName(t testing.TB, serial int) tracker.Name {
	t.Helper()
	n, err := tracker.CaseName("MBY", 26, serial)
	require.NoError(t, err)
	return n
}

// One bag may stand for many cases, and such a batch is committed in parts; the verdicts come when all is on disk.
func TestABatchThatTouchesManyIsCommittedInParts(t *testing.T) {
	l := storetest.Open(t, storetest.Path(t), store.Options{})
	now := storetest.Morning()
	var all []*tracker.Event
	var pots []tracker.Name
	for i := range 300 {
		pot, err := caseName(t, i+1).WithPot("A")
		require.NoError(t, err)
		pots = append(pots, pot)
	}
	for i := range 3 {
		bag, err := tracker.BagName("MBY", 26, 1000+i)
		require.NoError(t, err)
		all = append(all, eventAt(2*i, now, &tracker.BagPacked{Pots: pots}, bag), eventAt(2*i+1, now.Add(time.Minute), &tracker.CustodyTaken{Place: "van"}, bag))
	}
	before := l.Stats().Commits
	verdicts := storetest.Record(t, l, now.Add(time.Hour), all...)
	require.Greater(t, l.Stats().Commits-before, uint64(1))
	require.EqualValues(t, 6, verdicts[5].Seq)
	require.Equal(t, fromNothing(t, l, now.Add(time.Hour)), judgements(t, l))
}

func TestSerialsAreGivenOnce(t *testing.T) {
	path := storetest.Path(t)
	l := storetest.Open(t, path, store.Options{})
	storetest.Record(t, l, storetest.Morning(), eventAt(1, storetest.Morning(), &tracker.CustodyTaken{Place: "hatch"}, caseName(t, 8)),
		eventAt(2, storetest.Morning(), &tracker.CustodyTaken{Place: "hatch"}, caseName(t, 90_000))) // strangers
	var lock sync.Mutex
	given := map[int]bool{8: true}
	take := func(l *store.Ledger, n int) {
		first, err := l.TakeSerials("MBY", 26, n)
		if err != nil {
			t.Error(err)
			return
		}
		lock.Lock()
		defer lock.Unlock()
		for s := first; s < first+n; s++ {
			if given[s] {
				t.Errorf("serial %d twice, or a stranger's", s)
			}
			given[s] = true
		}
	}
	for range 2 {
		var askers sync.WaitGroup
		for asker := range 6 {
			askers.Go(func() {
				for range 6 {
					take(l, 1+asker%3)
				}
			})
		}
		askers.Wait()
		require.NoError(t, l.Close())
		l = storetest.Open(t, path, store.Options{})
	}
	highest := slices.Max(slices.Collect(func(yield func(int) bool) {
		for s := range given {
			if !yield(s) {
				return
			}
		}
	}))
	require.LessOrEqual(t, highest, 2*6*6*2+3, "a stranger never moves the counter")
	first, err := l.TakeSerials("MBY", 27, 1)
	require.NoError(t, err)
	require.Equal(t, 1, first, "each year begins anew")
	first, err = l.TakeSerials("HCX", 26, 1)
	require.NoError(t, err)
	require.Equal(t, 1, first, "each clinic has its own")
}

func TestSerialsRunOut(t *testing.T) {
	l := storetest.Open(t, storetest.Path(t), store.Options{})
	first, err := l.TakeSerials("MBY", 26, 99_998)
	require.NoError(t, err)
	require.Equal(t, 1, first)
	_, err = l.TakeSerials("MBY", 26, 2)
	require.ErrorIs(t, err, store.ErrSerials)
	first, err = l.TakeSerials("MBY", 26, 1)
	require.NoError(t, err)
	require.Equal(t, 99_999, first)
	_, err = l.TakeSerials("MBY", 26, 1)
	require.ErrorIs(t, err, store.ErrSerials)
	for _, wrong := range []struct {
		clinic  string
		year, n int
	}{{"mby", 26, 1}, {"MBY", 100, 1}, {"MBY", 26, 0}, {"MBY", -1, 1}} {
		_, err = l.TakeSerials(wrong.clinic, wrong.year, wrong.n)
		require.Error(t, err, "%+v", wrong)
		require.NotErrorIs(t, err, store.ErrSerials)
	}
}

func TestCopiesOfALabel(t *testing.T) {
	l := storetest.Open(t, storetest.Path(t), store.Options{})
	pot, err := caseName(t, 1).WithPot("A")
	require.NoError(t, err)
	next := func() tracker.Copy {
		c, err := l.NextCopy(pot)
		require.NoError(t, err)
		return c
	}
	require.Equal(t, tracker.Copy('1'), next())
	require.Equal(t, tracker.Copy('2'), next(), "given to one asker only, though nothing was recorded yet")
	now := storetest.Morning()
	scanned := eventAt(3, now, &tracker.CustodyTaken{Place: "hatch"})
	scanned.Items = []tracker.Item{{Name: pot, Copy: '4'}, {Name: caseName(t, 1), Copy: 'Z'}}
	storetest.Record(t, l, now, eventAt(1, now, &tracker.LabelPrinted{Copy: '1'}, pot), eventAt(2, now, &tracker.LabelPrinted{Copy: '3', Replaces: '1'}, pot), scanned,
		eventAt(4, now, &tracker.LabelSpoiled{Copy: '1', Why: "torn"}, pot))
	require.Equal(t, tracker.Copy('5'), next(), "4 was seen: somebody has printed it and not told yet")
	known, err := l.Codes(pot)
	require.NoError(t, err)
	require.Equal(t, store.Known{Name: pot, Known: true, Printed: []tracker.Copy{'1', '3'}, Spoiled: []tracker.Copy{'1'}, Seen: []tracker.Copy{'4'}, Events: 4}, known)
	storetest.Record(t, l, now, eventAt(5, now, &tracker.LabelPrinted{Copy: 'Z'}, pot))
	_, err = l.NextCopy(pot)
	require.ErrorIs(t, err, store.ErrCopies)
	roll, err := caseName(t, 500).WithPot("B")
	require.NoError(t, err)
	storetest.Record(t, l, now, eventAt(6, now, &tracker.LabelPrinted{Copy: '1', Layout: tracker.LayoutDowntime}, roll), eventAt(7, now, &tracker.LabelBound{To: pot}, roll))
	known, err = l.Codes(roll)
	require.NoError(t, err)
	require.Equal(t, pot, known.For)
	known, err = l.Codes("HCX-26-00001")
	require.NoError(t, err)
	require.Equal(t, store.Known{Name: "HCX-26-00001", Printed: []tracker.Copy{}, Spoiled: []tracker.Copy{}, Seen: []tracker.Copy{}}, known)
}

func TestTheLogOfFlagsIsBounded(t *testing.T) {
	path := storetest.Path(t)
	l := storetest.Open(t, path, store.Options{FlagLog: 20})
	for i, part := range slices.Collect(slices.Chunk(storetest.Life(71, 15), 5)) {
		now := part[len(part)-1].At.Add(time.Duration(i) * time.Minute)
		storetest.Record(t, l, now, part...)
		storetest.CatchUp(t, l, now)
	}
	rows, err := l.FlagChanges(0, 1000)
	require.NoError(t, err)
	require.Len(t, rows, 20)
	require.Greater(t, rows[0].Seq, uint64(20))
	for i, row := range rows {
		require.Equal(t, rows[0].Seq+uint64(i), row.Seq)
	}
	some, err := l.FlagChanges(rows[5].Seq, 3)
	require.NoError(t, err)
	require.Equal(t, rows[5:8], some)
	none, err := l.FlagChanges(rows[19].Seq+1, 3)
	require.NoError(t, err)
	require.Empty(t, none)
	require.NoError(t, l.Close())
	l = storetest.Open(t, path, store.Options{FlagLog: 5})
	e := storetest.Life(72, 3)
	storetest.Record(t, l, e[len(e)-1].At, e...)
	rows, err = l.FlagChanges(0, 1000)
	require.NoError(t, err)
	require.Len(t, rows, 5, "a smaller log is cut")
}

func TestWatchersAreTold(t *testing.T) {
	l := storetest.Open(t, storetest.Path(t), store.Options{})
	changed := l.Changed()
	select {
	case <-changed:
		t.Fatal("nothing happened yet")
	default:
	}
	storetest.Record(t, l, storetest.Morning(), storetest.Life(73, 1)[0])
	<-changed
	require.NotEqual(t, changed, l.Changed())
}

func TestReadingTheLogInPages(t *testing.T) {
	l := storetest.Open(t, storetest.Path(t), store.Options{})
	list := storetest.Life(74, 8)
	storetest.Record(t, l, list[len(list)-1].At, list...)
	page, err := l.EventsFrom(5, 3)
	require.NoError(t, err)
	require.Len(t, page, 3)
	require.EqualValues(t, 5, page[0].Seq)
	own, err := l.ByOrigin(l.Origin(), 5, 3)
	require.NoError(t, err)
	require.Equal(t, page, own)
	end, err := l.EventsFrom(uint64(len(list))+1, 3)
	require.NoError(t, err)
	require.Empty(t, end)
	stranger, err := l.ByOrigin("stranger", 1, 3)
	require.NoError(t, err)
	require.Empty(t, stranger)
}
