package store_test

import (
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
	"github.com/pottrail/pottrail/tracker"
)

// putBack copies a ledger and makes the copy one of a new origin.
func putBack(t testing.TB, l *store.Ledger, r store.Renewal) (path string, renewed store.Renewed) {
	path = filepath.Join(t.TempDir(), "ledger.db")
	contents, err := l.Copy(t.Context(), path, nil)
	require.NoError(t, err)
	renewed, err = store.Renew(path, r)
	require.NoError(t, err)
	contents.Origin = renewed.Origin
	require.NoError(t, store.CheckCopy(t.Context(), path, contents, nil), "the old log is as it was")
	return path, renewed
}

func TestALedgerPutBackBeginsALogOfItsOwn(t *testing.T) {
	l, _ := lived(t, 81, 3, store.Options{})
	_, err := l.TakeSerials("MBY", 26, 40)
	require.NoError(t, err)
	before := storetest.Dump(t, l)
	last, at := l.Last()
	root, err := l.Root("")
	require.NoError(t, err)

	path, renewed := putBack(t, l, store.Renewal{Serials: 500, Copies: 3, From: at, To: at})
	require.Equal(t, l.Origin(), renewed.Was)
	require.NotEqual(t, l.Origin(), renewed.Origin)
	again := storetest.Open(t, path, store.Options{})
	require.Equal(t, renewed.Origin, again.Origin())
	require.Equal(t, before, storetest.Dump(t, again), "every entry, snapshot and due time is there")
	old, err := again.Root(renewed.Was)
	require.NoError(t, err)
	require.Equal(t, root, old)
	own, err := again.Root("")
	require.NoError(t, err)
	require.Zero(t, own.Size)

	e := storetest.Life(82, 1)[0]
	storetest.Record(t, again, at.Add(time.Hour), e)
	entries, err := again.ByOrigin("", 1, 0)
	require.NoError(t, err)
	require.Len(t, entries, 1)
	require.Equal(t, last+1, entries[0].Seq)
	require.EqualValues(t, 1, entries[0].OSeq, "the new origin's log begins at 1")
	require.NoError(t, again.Rebuild(at.Add(time.Hour), nil), "and a rebuild leaves it so")
	old, err = again.Root(renewed.Was)
	require.NoError(t, err)
	require.Equal(t, root, old)

	second, _ := putBack(t, again, store.Renewal{Serials: 500, From: at, To: at})
	third := storetest.Open(t, second, store.Options{})
	entries, err = third.ByOrigin(renewed.Origin, 1, 0)
	require.NoError(t, err)
	require.Len(t, entries, 1, "put back twice, there are three logs")
}

func TestALedgerPutBackConforms(t *testing.T) {
	storetest.Run(t, func(t testing.TB) *store.Ledger {
		l, err := store.Open(storetest.Path(t), store.Options{})
		require.NoError(t, err)
		defer func() { require.NoError(t, l.Close()) }()
		path, _ := putBack(t, l, store.Renewal{Serials: 500, Copies: 3, From: storetest.Morning(), To: storetest.Morning()})
		again, err := store.Open(path, store.Options{})
		require.NoError(t, err)
		return again
	})
}

func TestSerialsGoOnPastTheMargin(t *testing.T) {
	l := storetest.Open(t, storetest.Path(t), store.Options{})
	take := func(l *store.Ledger, clinic string, year, n int) int {
		first, err := l.TakeSerials(clinic, year, n)
		require.NoError(t, err)
		return first
	}
	take(l, "MBY", 26, 17)
	take(l, "HCX", 26, 99_700)
	take(l, "HCX", 25, 4)
	from := time.Date(2026, 12, 31, 20, 0, 0, 0, time.UTC)
	path, renewed := putBack(t, l, store.Renewal{Serials: 500, From: from, To: from.Add(time.Hour)})
	require.Equal(t, []store.Moved{
		{Clinic: "*", Year: 26, Last: 0, Next: 501}, {Clinic: "*", Year: 27, Last: 0, Next: 501},
		{Clinic: "HCX", Year: 25, Last: 4, Next: 505}, {Clinic: "HCX", Year: 26, Last: 99_700},
		{Clinic: "MBY", Year: 26, Last: 17, Next: 518},
	}, renewed.Serials)
	again := storetest.Open(t, path, store.Options{})
	require.Equal(t, 518, take(again, "MBY", 26, 1))
	require.Equal(t, 519, take(again, "MBY", 26, 1))
	require.Equal(t, 501, take(again, "MBY", 27, 1), "the year began between the backup and now")
	require.Equal(t, 501, take(again, "TRX", 26, 1), "a clinic that first printed after the backup")
	require.Equal(t, 1, take(again, "MBY", 28, 1), "nothing can have been printed of that year")
	_, err := again.TakeSerials("HCX", 26, 1)
	require.ErrorIs(t, err, store.ErrSerials)
	_, err = store.Renew(path, store.Renewal{})
	require.ErrorIs(t, err, store.ErrInUse)
	for _, bad := range []store.Renewal{{Serials: -1}, {Serials: tracker.MaxSerial}, {Copies: 35}, {Origin: "Not One"}, {Origin: storetest.Origin}} {
		broken, err := l.Copy(t.Context(), filepath.Join(t.TempDir(), "x.db"), nil)
		require.NoError(t, err)
		require.Zero(t, broken.Entries)
		_, err = store.Renew(filepath.Join(t.TempDir(), "none.db"), bad)
		require.Error(t, err)
	}
}

// How far a clinic may have got since the backup is told by its busiest day.
func TestTheBusiestDay(t *testing.T) {
	path := storetest.Path(t)
	l, err := store.Open(path, store.Options{})
	require.NoError(t, err)
	for _, day := range []struct{ day, mby, hcx int }{{0, 9, 9}, {40, 2, 0}, {41, 4, 3}, {42, 3, 3}} {
		at := storetest.Morning().AddDate(0, 0, day.day)
		for i := range day.mby + day.hcx {
			clinic := "MBY"
			if i >= day.mby {
				clinic = "HCX"
			}
			name, err := tracker.CaseName(clinic, 26, 100*day.day+i+1)
			require.NoError(t, err)
			for n := range 2 { // twice, and the first counts
				e := newLabel(name, tracker.Copy('1'+byte(n)), at)
				e.ID = tracker.EventID(fmt.Sprintf("018f0000-0000-7000-8000-%012d", 1000*day.day+2*i+n))
				storetest.Record(t, l, at.Add(time.Duration(n)*time.Hour), e)
			}
		}
	}
	require.NoError(t, l.Close())
	most, err := store.Busiest(path, 28)
	require.NoError(t, err)
	require.Equal(t, 4, most)
	most, err = store.Busiest(path, 60)
	require.NoError(t, err)
	require.Equal(t, 9, most)
}

// Labels go on being printed after the backup, then the ledger is lost and put back, over and over: no serial is ever
// handed out twice while fewer than the margin were handed out unseen.
func TestLawNoSerialTwiceWhateverIsLost(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		margin := rapid.IntRange(1, 40).Draw(rt, "margin")
		now := time.Date(2026, 12, 28, 9, 0, 0, 0, time.UTC)
		l, err := store.Open(filepath.Join(t.TempDir(), "ledger.db"), store.Options{})
		require.NoError(rt, err)
		given := map[string]bool{}
		take := func(most int) {
			for left := rapid.IntRange(0, most).Draw(rt, "cases"); left > 0; {
				n := rapid.IntRange(1, min(left, 30)).Draw(rt, "at once")
				clinic := rapid.SampledFrom([]string{"MBY", "HCX"}).Draw(rt, "clinic")
				first, err := l.TakeSerials(clinic, now.Year()%100, n)
				require.NoError(rt, err)
				for i := range n {
					name, err := tracker.CaseName(clinic, now.Year()%100, first+i)
					require.NoError(rt, err)
					require.False(rt, given[string(name)], "%s was handed out before", name)
					given[string(name)] = true
				}
				left -= n
			}
		}
		for range rapid.IntRange(1, 3).Draw(rt, "losses") {
			take(30)
			copied := filepath.Join(t.TempDir(), "ledger.db")
			_, err := l.Copy(t.Context(), copied, nil)
			require.NoError(rt, err)
			from := now
			if rapid.Bool().Draw(rt, "new year") {
				take(margin / 2)
				now = now.AddDate(0, 0, 5)
				take(margin - margin/2)
			} else {
				take(margin)
			}
			require.NoError(rt, l.Close())
			_, err = store.Renew(copied, store.Renewal{Serials: margin, From: from, To: now})
			require.NoError(rt, err)
			l, err = store.Open(copied, store.Options{})
			require.NoError(rt, err)
		}
		take(30)
		require.NoError(rt, l.Close())
	})
}

// A label that was reprinted after the backup has a copy that the ledger does not know: the next one passes over it.
func TestTheNextCopyPassesOverWhatMayBeOnPaper(t *testing.T) {
	l, _ := lived(t, 83, 1, store.Options{})
	_, at := l.Last()
	var pot, other tracker.Name
	for s, err := range l.Snapshots(store.Filter{}) {
		require.NoError(t, err)
		if s.Summary.Name.Thing() == tracker.ThingCase && s.Summary.Known {
			pot, err = s.Summary.Name.WithPot("A")
			require.NoError(t, err)
		}
	}
	known, err := l.Codes(pot)
	require.NoError(t, err)
	first, ok := known.Next()
	require.True(t, ok)
	require.Zero(t, known.PassOver)

	path, _ := putBack(t, l, store.Renewal{Serials: 1, Copies: 3, From: at, To: at})
	again := storetest.Open(t, path, store.Options{})
	known, err = again.Codes(pot)
	require.NoError(t, err)
	require.Equal(t, 3, known.PassOver)
	want := first
	for range 3 {
		want, _ = want.Next()
	}
	shown, ok := known.Next()
	require.True(t, ok)
	require.Equal(t, want, shown)
	taken, err := again.NextCopy(pot)
	require.NoError(t, err)
	require.Equal(t, want, taken)
	after, _ := want.Next()
	taken, err = again.NextCopy(pot)
	require.NoError(t, err)
	require.Equal(t, after, taken, "only the first passes over; the others follow")
	storetest.Record(t, again, at.Add(time.Hour), newLabel(pot, want, at.Add(time.Hour)))
	known, err = again.Codes(pot)
	require.NoError(t, err)
	require.Zero(t, known.PassOver, "a copy printed since says where the numbers are")

	other, err = tracker.CaseName("MBY", 26, 90_000)
	require.NoError(t, err)
	taken, err = again.NextCopy(other)
	require.NoError(t, err)
	require.Equal(t, tracker.Copy('1'), taken, "a case that began since has had no label before")
}

func newLabel(name tracker.Name, copied tracker.Copy, at time.Time) *tracker.Event {
	return &tracker.Event{ID: "018f0000-0000-7000-8000-00000000c001", Kind: tracker.KindLabelPrinted, Clinic: name.Clinic(), At: at, By: "nurse.osei",
		Station: "room-1", Items: []tracker.Item{{Name: name}}, Data: &tracker.LabelPrinted{Copy: copied}}
}

// What was opened after the backup has labels on paper that the ledger knows nothing of, and none of them is printed again:
// its serial is passed over, and when it is opened again by hand, so are the copies. Lost twice, both losses count.
func TestWhatWasOpenedAfterTheBackupKeepsItsLabelsApart(t *testing.T) {
	l := storetest.Open(t, storetest.Path(t), store.Options{})
	_, err := l.TakeSerials("MBY", 26, 10)
	require.NoError(t, err)
	at := storetest.Morning()
	path, _ := putBack(t, l, store.Renewal{Serials: 500, Copies: 3, From: at, To: at.Add(time.Hour)})
	again := storetest.Open(t, path, store.Options{})
	backs := again.PutBacks()
	require.Len(t, backs, 1)
	require.Equal(t, at, backs[0].From)
	name := func(clinic string, year, serial int) tracker.Name {
		n, err := tracker.CaseName(clinic, year, serial)
		require.NoError(t, err)
		return n
	}
	bag, err := tracker.BagName("MBY", 26, 11)
	require.NoError(t, err)
	for n, want := range map[tracker.Name]bool{name("MBY", 26, 10): false, name("MBY", 26, 11): true, bag: true, name("MBY", 26, 510): true, name("MBY", 26, 511): false,
		name("MBY", 25, 11): false, name("TRX", 26, 1): true, name("TRX", 26, 500): true, name("TRX", 26, 501): false} {
		require.Equal(t, want, backs[0].Passes(n), "%s", n)
	}
	require.False(t, backs[0].Passes("MBY/room-2/2026-03-06"))

	lost := name("MBY", 26, 11)
	copyOf := func(l *store.Ledger, n tracker.Name) tracker.Copy {
		known, err := l.Codes(n)
		require.NoError(t, err)
		next, ok := known.Next()
		require.True(t, ok)
		require.Equal(t, backs[0].Passes(n), known.PutBack != nil)
		return next
	}
	opened := storetest.Life(90, 1)[0]
	opened.Items[0].Name = lost
	storetest.Record(t, again, at.Add(2*time.Hour), opened)
	require.Equal(t, tracker.Copy('4'), copyOf(again, lost))
	require.Equal(t, tracker.Copy('1'), copyOf(again, name("MBY", 26, 600)), "the twin: of a new case, the first")

	second, _ := putBack(t, again, store.Renewal{Serials: 500, Copies: 3, From: at.Add(3 * time.Hour), To: at.Add(4 * time.Hour)})
	third := storetest.Open(t, second, store.Options{})
	require.Len(t, third.PutBacks(), 2)
	require.Equal(t, tracker.Copy('7'), copyOf(third, lost), "copy 4 may have been printed and lost again")
}
