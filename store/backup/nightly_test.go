package backup_test

import (
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/store/backup"
)

func london(t testing.TB) *time.Location {
	zone, err := time.LoadLocation("Europe/London")
	require.NoError(t, err)
	return zone
}

func names(list []backup.Kept) (out []string) {
	for _, k := range list {
		out = append(out, k.At.Format(time.DateOnly))
	}
	return out
}

// After half a year of nights there are the last seven days' and the last ones of four weeks, this one counted.
func TestSevenDaysAndFourWeeksStay(t *testing.T) {
	r := backup.Rotation{Daily: 7, Weekly: 4, Zone: london(t)}
	var kept []backup.Kept
	start := time.Date(2026, 5, 1, 4, 30, 0, 0, time.UTC)
	for night := range 200 {
		at := start.AddDate(0, 0, night)
		kept = append(kept, backup.Kept{Name: backup.FileName("abc", at), At: at})
		gone := r.Expired(kept)
		require.NotContains(t, gone, kept[len(kept)-1])
		require.LessOrEqual(t, len(gone), 2, "one comes, a day's and a week's go at most")
		kept = slices.DeleteFunc(slices.Clone(kept), func(k backup.Kept) bool { return slices.Contains(gone, k) })
	}
	require.Equal(t, []string{"2026-11-01", "2026-11-08", "2026-11-10", "2026-11-11", "2026-11-12", "2026-11-13", "2026-11-14", "2026-11-15", "2026-11-16"}, names(kept),
		"a Sunday's is the latest of its week")
}

func TestLawTheLatestStaysAndNeverMoreThanAsked(t *testing.T) {
	zone := london(t)
	rapid.Check(t, func(rt *rapid.T) {
		r := backup.Rotation{Daily: rapid.IntRange(1, 9).Draw(rt, "daily"), Weekly: rapid.IntRange(0, 6).Draw(rt, "weekly"), Zone: zone}
		var all []backup.Kept
		for i, hours := range rapid.SliceOfN(rapid.IntRange(0, 4000), 1, 60).Draw(rt, "hours") {
			at := time.Date(2026, 1, 1, 0, i, 0, 0, time.UTC).Add(time.Duration(hours) * time.Hour)
			all = append(all, backup.Kept{Name: backup.FileName("abc", at), At: at})
		}
		latest := all[0]
		for _, k := range all {
			if k.At.After(latest.At) {
				latest = k
			}
		}
		gone := r.Expired(all)
		require.NotContains(rt, gone, latest)
		require.LessOrEqual(rt, len(all)-len(gone), r.Daily+r.Weekly+1)
		require.GreaterOrEqual(rt, len(all)-len(gone), min(len(all), 1))
	})
}

// What somebody else put there, another origin's and a half-made one are never removed.
func TestOnlyOurOwnAreRotated(t *testing.T) {
	dir := t.TempDir()
	at := time.Date(2026, 11, 25, 4, 30, 0, 0, time.UTC)
	others := []string{"notes.txt", "pottrail-abc-notatime.tar", backup.FileName("other", at), backup.FileName("abc", at) + ".part", "pottrail-abc.tar"}
	for _, name := range others {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), nil, 0o600))
	}
	for night := range 10 {
		require.NoError(t, os.WriteFile(filepath.Join(dir, backup.FileName("abc", at.AddDate(0, 0, -night))), nil, 0o600))
	}
	removed, err := backup.Rotation{Daily: 2, Zone: time.UTC}.Rotate(dir, "abc")
	require.NoError(t, err)
	require.Len(t, removed, 8)
	list, err := backup.List(dir, "abc")
	require.NoError(t, err)
	require.Equal(t, []string{"2026-11-25", "2026-11-24"}, names(list))
	for _, name := range others {
		require.FileExists(t, filepath.Join(dir, name))
	}
	_, err = backup.List(filepath.Join(dir, "none"), "abc")
	require.ErrorIs(t, err, os.ErrNotExist)
}

func TestTheNightIsTheClinics(t *testing.T) {
	s := backup.Schedule{Hour: 4, Minute: 30, Zone: london(t)}
	for _, test := range []struct{ after, next, last string }{
		{"2026-07-01T03:29:59Z", "2026-07-01T03:30:00Z", "2026-06-30T03:30:00Z"},
		{"2026-07-01T03:30:00Z", "2026-07-02T03:30:00Z", "2026-07-01T03:30:00Z"},
		{"2026-10-24T12:00:00Z", "2026-10-25T04:30:00Z", "2026-10-24T03:30:00Z"}, // clocks go back in that night
		{"2026-03-28T12:00:00Z", "2026-03-29T03:30:00Z", "2026-03-28T04:30:00Z"}, // and forward in this one
		{"2026-12-31T23:59:59Z", "2027-01-01T04:30:00Z", "2026-12-31T04:30:00Z"},
	} {
		after, err := time.Parse(time.RFC3339, test.after)
		require.NoError(t, err)
		require.Equal(t, test.next, s.Next(after).UTC().Format(time.RFC3339), test.after)
		require.Equal(t, test.last, s.Last(after).UTC().Format(time.RFC3339), test.after)
	}
}

// Whatever night it is: a backup stays no longer than is said when somebody's record is destroyed, while one is made each night.
func TestLawNoNightlyBackupOutlivesWhatIsSaid(t *testing.T) {
	zone := london(t)
	longest := 0
	rapid.Check(t, func(rt *rapid.T) {
		r := backup.Rotation{Daily: rapid.IntRange(1, 30).Draw(rt, "daily"), Weekly: rapid.IntRange(0, 12).Draw(rt, "weekly"), Zone: zone}
		s := backup.Schedule{Hour: rapid.IntRange(0, 23).Draw(rt, "hour"), Minute: 30, Zone: zone}
		at := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC).Add(time.Duration(rapid.IntRange(0, 365*24).Draw(rt, "begin")) * time.Hour)
		var kept []backup.Kept
		for range 150 {
			at = s.Next(at)
			kept = append(kept, backup.Kept{Name: at.UTC().Format(time.RFC3339), At: at})
			for _, gone := range r.Expired(kept) {
				kept = slices.DeleteFunc(kept, func(k backup.Kept) bool { return k == gone })
			}
			oldest := kept[0].At
			require.Less(rt, at.Sub(oldest), time.Duration(r.Longest()+1)*24*time.Hour)
			longest = max(longest, int(at.Sub(oldest)/(24*time.Hour)))
		}
	})
	require.Greater(t, longest, 30, "the twin: they do stay")
}
