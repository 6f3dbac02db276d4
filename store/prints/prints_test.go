package prints_test

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store/prints"
	"github.com/pottrail/pottrail/tracker"
)

// morning is a quarter to four on an invented day.
var morning = time.Date(2026, 3, 6, 9, 45, 0, 0, time.UTC)

func key(fill byte) []byte { return bytes.Repeat([]byte{fill}, 32) }

func openAt(t testing.TB, path string) *prints.Queue {
	t.Helper()
	q, err := prints.Open(path, key(1))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, q.Close()) })
	return q
}

func fresh(t testing.TB) *prints.Queue { return openAt(t, filepath.Join(t.TempDir(), "prints.db")) }

func label(printer string, name tracker.Name, c tracker.Copy) prints.Job {
	return prints.Job{Printer: printer, Name: name, Copy: c, Layout: "pot", Event: "0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77", By: "nurse.osei", Station: "room-2"}
}

// bytesOf stands for what a printer takes: it shows a patient.
const bytesOf = "Marigold Thistlewood 1961-02-03"

func prepared(t testing.TB, q *prints.Queue, j prints.Job) prints.Job {
	t.Helper()
	j, err := q.Prepare(morning, j, []byte(bytesOf))
	require.NoError(t, err)
	return j
}

func queued(t testing.TB, q *prints.Queue, j prints.Job) prints.Job {
	t.Helper()
	j = prepared(t, q, j)
	require.NoError(t, q.Queue(j.ID, morning))
	return j
}

func stateOf(t testing.TB, q *prints.Queue, id uint64) prints.State {
	t.Helper()
	j, err := q.Job(id)
	require.NoError(t, err)
	return j.State
}

func TestALabelGoesItsWay(t *testing.T) {
	q := fresh(t)
	j := prepared(t, q, label("room", "MBY-26-00417-A", '1'))
	require.Equal(t, prints.Prepared, j.State)
	require.Regexp(t, `^[0-9a-f]{32}$`, j.Token)
	_, _, ok, err := q.Take("room", morning)
	require.NoError(t, err)
	require.False(t, ok, "it never leaves before its print is recorded")
	require.NoError(t, q.Queue(j.ID, morning))
	taken, body, ok, err := q.Take("room", morning.Add(time.Second))
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, bytesOf, string(body))
	require.Equal(t, j.Token, taken.Token)
	require.Equal(t, prints.Sending, stateOf(t, q, j.ID), "on disk before the first byte leaves")
	require.Equal(t, 1, taken.Attempts)
	require.NoError(t, q.Sent(j.ID, morning.Add(2*time.Second)))
	changed, err := q.Confirm(j.Name, '2', morning)
	require.NoError(t, err)
	require.Empty(t, changed, "another copy")
	changed, err = q.Confirm(j.Name, '1', morning.Add(time.Minute))
	require.NoError(t, err)
	require.Len(t, changed, 1)
	got, err := q.Job(j.ID)
	require.NoError(t, err)
	require.Equal(t, prints.Confirmed, got.State)
	require.Equal(t, morning.Add(time.Minute), got.Changed)
	require.Equal(t, morning, got.Made)
}

func TestTheFileIsItsOwnersAloneAndTellsNothing(t *testing.T) {
	path := filepath.Join(t.TempDir(), "prints.db")
	q := openAt(t, path)
	for i, c := range "123" {
		j := queued(t, q, label("room", "MBY-26-00417-A", tracker.Copy(c)))
		if i == 0 {
			_, _, ok, err := q.Take("room", morning)
			require.NoError(t, err)
			require.True(t, ok)
			require.NoError(t, q.Sent(j.ID, morning))
		}
	}
	info, err := os.Stat(path)
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	left, err := filepath.Glob(path + ".new-*")
	require.NoError(t, err)
	require.Empty(t, left)
	raw, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Contains(t, string(raw), "MBY-26-00417-A", "the file is the one looked at")
	for _, clear := range []string{bytesOf, "Marigold", "Thistlewood", "1961-02"} {
		require.NotContains(t, string(raw), clear)
	}
}
