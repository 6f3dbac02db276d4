package prints_test

import (
	"cmp"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/store/prints"
	"github.com/pottrail/pottrail/tracker"
)

// modelJob is a job as somebody with a sheet of paper would keep it.
type modelJob struct {
	id       uint64
	printer  string
	name     tracker.Name
	copy     tracker.Copy
	state    prints.State
	next     time.Time
	until    time.Time
	attempts int
	line     int  // when it was queued
	mayBeOut bool // a try ended so that a label may have come out, or one was seen
	recorded bool
}

// queueModel is the queue as it ought to be, beside the one on disk.
type queueModel struct {
	t    *rapid.T
	path string
	q    *prints.Queue
	now  time.Time
	jobs []*modelJob
	last uint64
	line int
}

func quick(path string) (*prints.Queue, error) {
	return prints.OpenWith(path, key(1), func(o *bolt.Options) { o.NoSync = true }) // a killed process loses nothing of it
}

// some is one of the jobs; one that nobody has ever heard of when there is none.
func (m *queueModel) some() *modelJob {
	if len(m.jobs) == 0 {
		return &modelJob{id: 1 << 40}
	}
	return m.jobs[rapid.IntRange(0, len(m.jobs)-1).Draw(m.t, "job")]
}

// expect holds the outcome of a step against the paper: allowed leads to a state, passed leaves things as they are, all
// else is forbidden.
func (m *queueModel) expect(err error, j *modelJob, allowed []prints.State, to prints.State, passed ...prints.State) bool {
	switch {
	case j.state == "" && to == prints.Prepared: // dropping nothing
		require.NoError(m.t, err)
	case j.state == "":
		require.ErrorIs(m.t, err, prints.ErrNoJob)
	case slices.Contains(allowed, j.state):
		require.NoError(m.t, err)
		j.state = to
		j.next = time.Time{}
		return true
	case slices.Contains(passed, j.state):
		require.NoError(m.t, err)
	default:
		require.ErrorIs(m.t, err, prints.ErrState)
	}
	return false
}

func (m *queueModel) actions() map[string]func(*rapid.T) {
	one := func(states ...prints.State) []prints.State { return states }
	return map[string]func(*rapid.T){
		"": func(t *rapid.T) {
			for _, j := range m.jobs {
				got, err := m.q.Job(j.id)
				require.NoError(t, err)
				require.Equal(t, j.state, got.State)
				require.Equal(t, j.attempts, got.Attempts)
			}
			require.NoError(t, m.q.Check())
		},
		"time passes": func(t *rapid.T) {
			m.now = m.now.Add(time.Duration(rapid.IntRange(1, 90).Draw(t, "seconds")) * time.Second)
		},
		"prepare": func(t *rapid.T) {
			j := &modelJob{printer: rapid.SampledFrom([]string{"a", "ab"}).Draw(t, "printer"), name: pot(rapid.IntRange(1, 4).Draw(t, "pot")),
				copy: tracker.Copy(rapid.SampledFrom([]byte("12Z")).Draw(t, "copy")), state: prints.Prepared}
			in := label(j.printer, j.name, j.copy)
			if rapid.Bool().Draw(t, "limited") {
				j.until = m.now.Add(3 * time.Minute)
				in.Until = j.until
			}
			got, err := m.q.Prepare(m.now, in, []byte(string(j.name)+j.copy.String()))
			if slices.ContainsFunc(m.jobs, func(o *modelJob) bool { return o.name == j.name && o.copy == j.copy }) {
				require.ErrorIs(t, err, prints.ErrTwice)
				return
			}
			require.NoError(t, err)
			require.Greater(t, got.ID, m.last, "no number is given out twice")
			j.id, m.last = got.ID, got.ID
			m.jobs = append(m.jobs, j)
		},
		"queue": func(*rapid.T) {
			j := m.some()
			if m.expect(m.q.Queue(j.id, m.now), j, one(prints.Prepared), prints.Queued, prints.Queued, prints.Sending, prints.Sent, prints.Unknown, prints.Confirmed) {
				m.line++
				j.recorded, j.line = true, m.line
			}
		},
		"drop": func(*rapid.T) {
			j := m.some()
			if m.expect(m.q.Drop(j.id), j, one(prints.Prepared), prints.Prepared) {
				m.jobs = slices.DeleteFunc(m.jobs, func(o *modelJob) bool { return o == j })
			}
		},
		"take": func(t *rapid.T) { m.take(rapid.SampledFrom([]string{"a", "ab"}).Draw(t, "printer")) },
		"sent": func(*rapid.T) {
			j := m.some()
			if m.expect(m.q.Sent(j.id, m.now), j, one(prints.Sending), prints.Sent, prints.Sent, prints.Confirmed) {
				j.mayBeOut = true
			}
		},
		"again": func(t *rapid.T) {
			j := m.some()
			next := m.now.Add(time.Duration(rapid.IntRange(0, 60).Draw(t, "wait")) * time.Second)
			if m.expect(m.q.Again(j.id, m.now, next, "no paper"), j, one(prints.Sending), prints.Queued, prints.Queued, prints.Confirmed) {
				j.next = next
			}
		},
		"lost": func(*rapid.T) {
			j := m.some()
			if m.expect(m.q.Lost(j.id, m.now, "it went away"), j, one(prints.Sending), prints.Unknown, prints.Unknown, prints.Confirmed) {
				j.mayBeOut = true
			}
		},
		"refuse": func(*rapid.T) {
			j := m.some()
			m.expect(m.q.Refuse(j.id, m.now, "wrong language"), j, one(prints.Queued, prints.Sending), prints.NotPrinted, prints.NotPrinted, prints.Confirmed)
		},
		"came out": func(*rapid.T) {
			j := m.some()
			m.expect(m.q.Settle(j.id, m.now, true, "nurse.osei", "room-2"), j, one(prints.Sent, prints.Unknown), prints.Confirmed, prints.Confirmed)
		},
		"never came": func(*rapid.T) {
			j := m.some()
			m.expect(m.q.Settle(j.id, m.now, false, "nurse.osei", "room-2"), j, one(prints.Sent, prints.Unknown), prints.NotPrinted, prints.NotPrinted)
		},
		"call off": func(*rapid.T) {
			j := m.some()
			m.expect(m.q.CallOff(j.id, m.now, "nurse.osei", "room-2"), j, one(prints.Queued), prints.NotPrinted, prints.NotPrinted)
		},
		"scan": func(t *rapid.T) {
			j := m.some()
			changed, err := m.q.Confirm(j.name, j.copy, m.now)
			require.NoError(t, err)
			require.Equal(t, j.state != "" && j.state != prints.Confirmed, len(changed) == 1)
			j.state, j.mayBeOut = prints.Confirmed, true
		},
		"account": func(t *rapid.T) { require.NoError(t, m.q.Accounted(m.some().id)) },
		"crash": func(t *rapid.T) {
			require.NoError(t, m.q.Close())
			q, err := quick(m.path)
			require.NoError(t, err)
			m.q = q
			for _, j := range m.jobs {
				if j.state == prints.Sending {
					j.state, j.mayBeOut = prints.Unknown, true
				}
			}
		},
	}
}

// take says what must come out: the oldest that waits at that printer, if it is due, and nothing while one is under way.
func (m *queueModel) take(printer string) {
	var want *modelJob
	var busy bool
	for _, j := range m.jobs {
		busy = busy || j.printer == printer && j.state == prints.Sending
	}
	if !busy {
		inLine := slices.Clone(m.jobs)
		slices.SortStableFunc(inLine, func(a, b *modelJob) int { return cmp.Compare(a.line, b.line) })
		for _, j := range inLine {
			if j.printer != printer || j.state != prints.Queued {
				continue
			}
			if !j.until.IsZero() && !m.now.Before(j.until) {
				j.state = prints.NotPrinted
				continue
			}
			if !m.now.Before(j.next) {
				want = j
			}
			break
		}
	}
	got, body, ok, err := m.q.Take(printer, m.now)
	if busy {
		require.ErrorIs(m.t, err, prints.ErrBusy)
		return
	}
	require.NoError(m.t, err)
	require.Equal(m.t, want != nil, ok)
	if want == nil {
		return
	}
	require.Equal(m.t, want.id, got.ID)
	require.Equal(m.t, string(want.name)+want.copy.String(), string(body))
	require.False(m.t, want.mayBeOut, "what may have come out is never sent again")
	require.True(m.t, want.recorded, "what is not in the ledger is never sent")
	want.state = prints.Sending
	want.attempts++
}

// Any order of calls, with a crash anywhere, agrees with a sheet of paper.
func TestTheQueueKeepsToAModel(t *testing.T) {
	folder := t.TempDir()
	rapid.Check(t, func(t *rapid.T) {
		path := filepath.Join(folder, "prints.db")
		if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
			t.Fatal(err)
		}
		q, err := quick(path)
		require.NoError(t, err)
		m := &queueModel{t: t, path: path, q: q, now: morning}
		defer func() { require.NoError(t, m.q.Close()) }()
		t.Repeat(m.actions())
	})
}
