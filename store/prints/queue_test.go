package prints_test

import (
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/prints"
	"github.com/pottrail/pottrail/tracker"
)

func pot(serial int) tracker.Name { return tracker.Name(fmt.Sprintf("MBY-26-%05d-A", serial)) }

func ids(jobs []prints.Job) (out []uint64) {
	for _, j := range jobs {
		out = append(out, j.ID)
	}
	return out
}

// Labels come out in the order in which they were asked for, also when the first has to wait: else one patient's label
// would come out between those of the next.
func TestLabelsComeOutInOrder(t *testing.T) {
	q := fresh(t)
	first, second := queued(t, q, label("room", pot(1), '1')), queued(t, q, label("room", pot(2), '1'))
	other := queued(t, q, label("lab", pot(3), '1'))
	j, _, ok, err := q.Take("room", morning)
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, first.ID, j.ID)
	_, _, _, err = q.Take("room", morning)
	require.ErrorIs(t, err, prints.ErrBusy, "one at a time")
	j, _, ok, err = q.Take("lab", morning)
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, other.ID, j.ID, "another printer is another line")
	require.NoError(t, q.Again(first.ID, morning, morning.Add(time.Minute), "no  paper\n"))
	got, err := q.Job(first.ID)
	require.NoError(t, err)
	require.Equal(t, "no paper", got.Problem)
	_, _, ok, err = q.Take("room", morning.Add(time.Minute-1))
	require.NoError(t, err)
	require.False(t, ok, "the second does not overtake the first")
	at, ok, err := q.NextDue("room")
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, morning.Add(time.Minute), at)
	j, _, ok, err = q.Take("room", morning.Add(time.Minute))
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, first.ID, j.ID)
	require.Equal(t, 2, j.Attempts)
	require.NoError(t, q.Refuse(first.ID, morning, "too wide for this printer"))
	j, _, _, err = q.Take("room", morning.Add(time.Minute))
	require.NoError(t, err)
	require.Equal(t, second.ID, j.ID)
	_, ok, err = q.NextDue("nowhere")
	require.NoError(t, err)
	require.False(t, ok)
}

// A clock that was set back does not hold a label for as long as it went back.
func TestAClockSetBackHoldsNothing(t *testing.T) {
	q := fresh(t)
	j := queued(t, q, label("room", pot(1), '1'))
	_, _, _, err := q.Take("room", morning)
	require.NoError(t, err)
	require.NoError(t, q.Again(j.ID, morning, morning.Add(time.Second), "no paper"))
	_, _, ok, err := q.Take("room", morning.Add(-time.Hour))
	require.NoError(t, err)
	require.True(t, ok)
}

// A printer that is switched on in the morning does not print what was wanted the day before.
func TestALabelThatNobodyWantsAnyMore(t *testing.T) {
	q := fresh(t)
	old := label("room", pot(1), '1')
	old.Until = morning.Add(30 * time.Minute)
	j := queued(t, q, old)
	lasting := queued(t, q, label("room", pot(2), '1'))
	at, _, err := q.NextDue("room")
	require.NoError(t, err)
	require.True(t, at.IsZero(), "at once")
	_, _, _, err = q.Take("room", morning)
	require.NoError(t, err)
	require.NoError(t, q.Again(j.ID, morning, morning.Add(time.Hour), "it is switched off"))
	at, _, err = q.NextDue("room")
	require.NoError(t, err)
	require.Equal(t, old.Until, at)
	_, _, ok, err := q.Take("room", old.Until.Add(-1))
	require.NoError(t, err)
	require.False(t, ok)
	got, body, ok, err := q.Take("room", old.Until)
	require.NoError(t, err)
	require.True(t, ok, "the next one follows at once")
	require.Equal(t, lasting.ID, got.ID)
	require.Equal(t, bytesOf, string(body))
	gone, err := q.Job(j.ID)
	require.NoError(t, err)
	require.Equal(t, prints.NotPrinted, gone.State)
	require.Contains(t, gone.Problem, "print it again")
	owed, err := q.Owed()
	require.NoError(t, err)
	require.Equal(t, []uint64{j.ID}, ids(owed))
}

func TestWhatIsNoJobIsNotTaken(t *testing.T) {
	q := fresh(t)
	good := label("room", pot(1), '1')
	for name, spoil := range map[string]func(j *prints.Job){
		"no printer":             func(j *prints.Job) { j.Printer = "" },
		"a printer with a break": func(j *prints.Job) { j.Printer = "room\x00lab" },
		"a long station":         func(j *prints.Job) { j.Station = fmt.Sprintf("%0201d", 0) },
		"not a name":             func(j *prints.Job) { j.Name = "MBY-26-417" },
		"a name in small":        func(j *prints.Job) { j.Name = "mby-26-00417-a" },
		"no copy":                func(j *prints.Job) { j.Copy = 0 },
		"not a copy":             func(j *prints.Job) { j.Replaces = '0' },
		"nothing at all":         func(j *prints.Job) { j.Name, j.Copy = "", 0 },
	} {
		j := good
		spoil(&j)
		_, err := q.Prepare(morning, j, []byte(bytesOf))
		require.ErrorIs(t, err, prints.ErrJob, name)
	}
	_, err := q.Prepare(morning, good, nil)
	require.ErrorIs(t, err, prints.ErrJob)
	_, err = q.Prepare(morning, good, make([]byte, prints.MaxBody+1))
	require.ErrorIs(t, err, prints.ErrTooLarge)
	_, err = q.Prepare(morning, good, make([]byte, prints.MaxBody))
	require.NoError(t, err)
	_, err = q.Prepare(morning, good, []byte(bytesOf))
	require.ErrorIs(t, err, prints.ErrTwice, "its code would be on two labels")
	require.ErrorIs(t, q.Queue(77, morning), prints.ErrNoJob)
	require.NoError(t, q.Drop(77))
}

func TestAQueueThatIsFullSaysSo(t *testing.T) {
	q := fresh(t)
	q.Bound(3, prints.KeepJobs, prints.KeepFor)
	first := queued(t, q, label("room", pot(1), '1'))
	prepared(t, q, label("room", pot(2), '1'))
	prepared(t, q, label("room", pot(3), '1'))
	_, err := q.Prepare(morning, label("room", pot(4), '1'), []byte(bytesOf))
	require.ErrorIs(t, err, prints.ErrTooMany)
	require.ErrorContains(t, err, "3 wait for printer room, of at most 3")
	prepared(t, q, label("lab", pot(4), '1'))
	_, _, _, err = q.Take("room", morning)
	require.NoError(t, err)
	require.NoError(t, q.Lost(first.ID, morning, "it went away"))
	prepared(t, q, label("room", pot(5), '1'))
	count, err := q.Tally("room")
	require.NoError(t, err)
	require.Equal(t, prints.Tally{Waiting: 3, Unknown: 1}, count)
	count, err = q.Tally("")
	require.NoError(t, err)
	require.Equal(t, 4, count.Waiting, "all printers")
}

func TestJobsCanBeLookedUp(t *testing.T) {
	q := fresh(t)
	a := queued(t, q, label("room", pot(1), '1'))
	b := queued(t, q, label("lab", pot(1), '2'))
	c := queued(t, q, label("room", pot(2), '1'))
	d := prepared(t, q, label("lab", pot(3), '1'))
	_, _, _, err := q.Take("room", morning)
	require.NoError(t, err)
	require.NoError(t, q.Sent(a.ID, morning))
	for name, row := range map[string]struct {
		filter prints.Filter
		want   []uint64
	}{
		"all":               {prints.Filter{}, []uint64{d.ID, c.ID, b.ID, a.ID}},
		"the last":          {prints.Filter{Limit: 2}, []uint64{d.ID, c.ID}},
		"a printer's":       {prints.Filter{Printer: "room"}, []uint64{c.ID, a.ID}},
		"a state":           {prints.Filter{State: prints.Sent}, []uint64{a.ID}},
		"open":              {prints.Filter{Open: true}, []uint64{d.ID, c.ID, b.ID}},
		"open at a printer": {prints.Filter{Open: true, Printer: "lab", Limit: 1}, []uint64{d.ID}},
		"of a thing":        {prints.Filter{Name: pot(1)}, []uint64{b.ID, a.ID}},
		"open of a thing":   {prints.Filter{Name: pot(1), Open: true}, []uint64{b.ID}},
		"of nothing":        {prints.Filter{Name: pot(9)}, nil},
	} {
		jobs, err := q.Jobs(row.filter)
		require.NoError(t, err)
		require.Equal(t, row.want, ids(jobs), name)
	}
	waiting, err := q.Prepared()
	require.NoError(t, err)
	require.Equal(t, []uint64{d.ID}, ids(waiting))
}

// What is done is kept for looking back, so many jobs and so long, and goes in small steps.
func TestWhatIsDoneIsKeptForAWhile(t *testing.T) {
	q := fresh(t)
	q.Bound(prints.MaxWaiting, 5, 24*time.Hour)
	done := func(serial int, at time.Time) uint64 {
		j, err := q.Prepare(at, label("room", pot(serial), '1'), []byte(bytesOf))
		require.NoError(t, err)
		require.NoError(t, q.Queue(j.ID, at))
		_, _, _, err = q.Take("room", at)
		require.NoError(t, err)
		require.NoError(t, q.Sent(j.ID, at))
		return j.ID
	}
	spoiled := queued(t, q, label("room", pot(999), '1'))
	require.NoError(t, q.CallOff(spoiled.ID, morning, "nurse.osei", "room-2"))
	var last uint64
	for n := range 9 {
		last = done(n+1, morning.Add(time.Duration(n)*time.Minute))
	}
	jobs, err := q.Jobs(prints.Filter{})
	require.NoError(t, err)
	require.Equal(t, []uint64{last, last - 1, last - 2, last - 3, spoiled.ID}, ids(jobs), "five, and what the ledger is owed is one of them")
	require.NoError(t, q.Accounted(spoiled.ID))
	last = done(20, morning.Add(25*time.Hour))
	jobs, err = q.Jobs(prints.Filter{})
	require.NoError(t, err)
	require.Equal(t, []uint64{last}, ids(jobs), "the others are older than a day")
	require.NoError(t, q.Check())
}

// Whoever reads does not wait for whoever writes.
func TestReadingDoesNotWaitForWriting(t *testing.T) {
	q := fresh(t)
	queued(t, q, label("room", pot(1), '1'))
	inside, free := make(chan struct{}), make(chan struct{})
	done := make(chan error)
	go func() {
		done <- q.Spoil(func(*bolt.Tx) error { close(inside); <-free; return nil })
	}()
	<-inside
	jobs, err := q.Jobs(prints.Filter{Open: true})
	require.NoError(t, err)
	require.Len(t, jobs, 1)
	_, err = q.Tally("room")
	require.NoError(t, err)
	close(free)
	require.NoError(t, <-done)
}

// With another key nothing opens; Rekey moves what waits over, and Abandon gives it up.
func TestAnotherKey(t *testing.T) {
	path := filepath.Join(t.TempDir(), "prints.db")
	q := openAt(t, path)
	waits, next := queued(t, q, label("room", pot(1), '1')), queued(t, q, label("room", pot(2), '1'))
	held := prepared(t, q, label("room", pot(3), '1'))
	require.NoError(t, q.Close())
	_, err := prints.Open(path, key(2))
	require.ErrorIs(t, err, prints.ErrKey)
	_, err = prints.Open(path, key(2)[:31])
	require.ErrorIs(t, err, prints.ErrKey)

	q = openAt(t, path)
	require.ErrorIs(t, q.Rekey(nil), prints.ErrKey)
	require.NoError(t, q.Rekey(key(2)))
	_, body, ok, err := q.Take("room", morning)
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, bytesOf, string(body))
	require.NoError(t, q.Sent(waits.ID, morning))
	require.NoError(t, q.Close())
	_, err = prints.Open(path, key(1))
	require.ErrorIs(t, err, prints.ErrKey)

	q, err = prints.Abandon(path, key(3), morning)
	require.NoError(t, err)
	require.Equal(t, prints.NotPrinted, stateOf(t, q, next.ID))
	require.Equal(t, prints.Prepared, stateOf(t, q, held.ID), "whether it was recorded is for the ledger to say")
	require.NoError(t, q.Queue(held.ID, morning))
	_, _, ok, err = q.Take("room", morning)
	require.NoError(t, err)
	require.False(t, ok)
	require.Equal(t, prints.NotPrinted, stateOf(t, q, held.ID))
	owed, err := q.Owed()
	require.NoError(t, err)
	require.Len(t, owed, 2)
	require.NoError(t, q.Close())
	q, err = prints.Open(path, key(3))
	require.NoError(t, err)
	require.NoError(t, q.Close())
}

// The labels of one request go on disk and leave together, with nobody else's between them.
func TestLabelsThatBelongTogether(t *testing.T) {
	q := fresh(t)
	drafts := func(first int) (all []prints.Draft) {
		for n := range 3 {
			all = append(all, prints.Draft{Job: label("room", pot(first+n), '1'), Body: []byte(bytesOf)})
		}
		return all
	}
	mine, err := q.PrepareAll(morning, drafts(1))
	require.NoError(t, err)
	theirs, err := q.PrepareAll(morning, drafts(11))
	require.NoError(t, err)
	require.NoError(t, q.QueueAll(ids(theirs), morning))
	var order []uint64
	for range 6 {
		j, _, ok, err := q.Take("room", morning)
		require.NoError(t, err)
		require.True(t, ok)
		order = append(order, j.ID)
		require.NoError(t, q.Sent(j.ID, morning))
		require.NoError(t, q.QueueAll(ids(mine), morning), "mine come later, though they were prepared first; and again")
	}
	require.Equal(t, append(ids(theirs), ids(mine)...), order)
	require.ErrorIs(t, q.QueueAll([]uint64{theirs[0].ID, 77}, morning), prints.ErrNoJob)

	spoiled := drafts(21)
	spoiled[2].Job.Name = pot(1)
	_, err = q.PrepareAll(morning, spoiled)
	require.ErrorIs(t, err, prints.ErrTwice)
	twice := drafts(31)
	twice[1].Job.Name = twice[0].Job.Name
	_, err = q.PrepareAll(morning, twice)
	require.ErrorIs(t, err, prints.ErrTwice, "within one request as well")
	q.Bound(2, prints.KeepJobs, prints.KeepFor)
	_, err = q.PrepareAll(morning, drafts(41))
	require.ErrorIs(t, err, prints.ErrTooMany)
	count, err := q.Tally("room")
	require.NoError(t, err)
	require.Zero(t, count.Waiting, "all or none")
	require.NoError(t, q.Check())
}
