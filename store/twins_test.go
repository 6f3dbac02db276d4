package store_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
	"github.com/pottrail/pottrail/tracker"
)

// A case that shared its room on two days has the flag of each. When the one is cleared the other is told, and nobody hears
// that the flag has gone before it has.
func TestAFlagOfTwoDaysIsClearedOnce(t *testing.T) {
	l := storetest.Open(t, storetest.Path(t), store.Options{})
	monday := storetest.Morning()
	tuesday := monday.Add(24 * time.Hour)
	number := 0
	add := func(at time.Time, name tracker.Name, fact tracker.Fact) []string {
		number++
		id := tracker.EventID("018f0000-0000-7000-8000-" + string([]byte{'0' + byte(number/10), '0' + byte(number%10)}) + "0000000000")
		e := &tracker.Event{ID: id, Kind: fact.Kind(), Clinic: "MBY", At: at, By: "nurse.osei", Station: "room-1", Items: []tracker.Item{storetest.Item(name)}, Data: fact}
		v := storetest.Record(t, l, tuesday.Add(2*time.Hour), e)[0]
		var said []string
		for _, b := range v.Raised {
			if b.Kind == tracker.FlagRoomShared {
				said = append(said, "raised")
			}
		}
		for _, b := range v.Cleared {
			if b.Kind == tracker.FlagRoomShared {
				said = append(said, "cleared")
			}
		}
		return said
	}
	checked := &tracker.PatientChecked{Identifiers: []string{"name", "birth-date"}, Room: "room-1"}
	day := func(at time.Time, next tracker.Name, copies tracker.Copy) {
		add(at, "MBY-26-00001", checked)
		add(at.Add(time.Minute), "MBY-26-00001-A", &tracker.LabelPrinted{Copy: copies})
		add(at.Add(2*time.Minute), next, checked)
		add(at.Add(3*time.Minute), next+"-A", &tracker.LabelPrinted{Copy: '1'})
	}
	day(monday, "MBY-26-00002", '1')
	day(tuesday, "MBY-26-00003", '2')
	open := func() (since []time.Time) {
		flags, err := l.OpenFlags()
		require.NoError(t, err)
		for _, f := range flags {
			if f.Kind == tracker.FlagRoomShared {
				require.Equal(t, tracker.Name("MBY-26-00001"), f.Item)
				since = append(since, f.Since.UTC())
			}
		}
		return since
	}
	require.Equal(t, []time.Time{monday.Add(3 * time.Minute), tuesday.Add(3 * time.Minute)}, open())

	clear := &tracker.RoomCleared{Room: "room-1"}
	require.Empty(t, add(monday.Add(time.Hour), "MBY-26-00001", clear), "told late: Monday was in order, and Tuesday was not")
	require.Equal(t, []time.Time{tuesday.Add(3 * time.Minute)}, open())
	require.NoError(t, l.Check())
	require.Equal(t, []string{"cleared"}, add(tuesday.Add(time.Hour), "MBY-26-00001", clear))
	require.Empty(t, open())

	var told []string
	rows, err := l.FlagChanges(1, 0)
	require.NoError(t, err)
	for _, row := range rows {
		if row.Flag.Kind == tracker.FlagRoomShared {
			told = append(told, string(row.Change)+" "+row.Flag.Since.UTC().Format("Mon"))
		}
	}
	require.Equal(t, []string{"raised Mon", "raised Tue", "changed Tue", "cleared Tue"}, told)
}
