package prints_test

import (
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store/prints"
)

// way brings the only job of a queue into a state.
var way = map[prints.State]func(t *testing.T, q *prints.Queue, id uint64){
	prints.Prepared: func(*testing.T, *prints.Queue, uint64) {},
	prints.Queued: func(t *testing.T, q *prints.Queue, id uint64) {
		require.NoError(t, q.Queue(id, morning))
	},
	prints.Sending: func(t *testing.T, q *prints.Queue, id uint64) {
		require.NoError(t, q.Queue(id, morning))
		_, _, ok, err := q.Take("room", morning)
		require.NoError(t, err)
		require.True(t, ok)
	},
	prints.Sent: func(t *testing.T, q *prints.Queue, id uint64) {
		way2(t, q, id, func() error { return q.Sent(id, morning) })
	},
	prints.Unknown: func(t *testing.T, q *prints.Queue, id uint64) {
		way2(t, q, id, func() error { return q.Lost(id, morning, "the printer went away half-way") })
	},
	prints.NotPrinted: func(t *testing.T, q *prints.Queue, id uint64) {
		way2(t, q, id, func() error { return q.Refuse(id, morning, "the printer does not take this language") })
	},
	prints.Confirmed: func(t *testing.T, q *prints.Queue, id uint64) {
		way2(t, q, id, func() error { return q.Sent(id, morning) })
		_, err := q.Confirm("MBY-26-00417-A", '1', morning)
		require.NoError(t, err)
	},
}

func way2(t *testing.T, q *prints.Queue, id uint64, last func() error) {
	require.NoError(t, q.Queue(id, morning))
	_, _, ok, err := q.Take("room", morning)
	require.NoError(t, err)
	require.True(t, ok)
	require.NoError(t, last())
}

// Every state and every thing that can happen to a job. "=" changes nothing and is no error: it happened before, or came
// too late to matter. "!" is an error that names both. "gone" leaves no job.
const everyMove = `
from         queue    drop  take    sent  again   lost     refuse       came-out   never-came   call-off     scan
prepared     queued   gone  =       !     !       !        !            !          !            !            confirmed
queued       =        !     sending !     =       !        not-printed  !          !            not-printed  confirmed
sending      =        !     busy    sent  queued  unknown  not-printed  !          !            !            confirmed
sent         =        !     =       =     !       !        !            confirmed  not-printed  !            confirmed
unknown      =        !     =       !     !       =        !            confirmed  not-printed  !            confirmed
confirmed    =        !     =       =     =       =        =            =          !            !            =
not-printed  !        !     =       !     !       !        =            !          =            =            confirmed
`

func TestEveryMoveFromEveryState(t *testing.T) {
	lines := strings.Split(strings.TrimSpace(everyMove), "\n")
	columns := strings.Fields(lines[0])[1:]
	later := morning.Add(time.Hour)
	rows := 0
	for _, line := range lines[1:] {
		fields := strings.Fields(line)
		from := prints.State(fields[0])
		for i, what := range columns {
			want := fields[i+1]
			t.Run(string(from)+" "+what, func(t *testing.T) {
				path := filepath.Join(t.TempDir(), "prints.db")
				q := openAt(t, path)
				j := prepared(t, q, label("room", "MBY-26-00417-A", '1'))
				way[from](t, q, j.ID)
				before, err := q.Job(j.ID)
				require.NoError(t, err)
				require.Equal(t, from, before.State)
				act := func() error {
					switch what {
					case "queue":
						return q.Queue(j.ID, later)
					case "drop":
						return q.Drop(j.ID)
					case "take":
						_, _, _, err := q.Take("room", later)
						return err
					case "sent":
						return q.Sent(j.ID, later)
					case "again":
						return q.Again(j.ID, later, later.Add(time.Second), "no paper")
					case "lost":
						return q.Lost(j.ID, later, "it went away")
					case "refuse":
						return q.Refuse(j.ID, later, "wrong language")
					case "came-out":
						return q.Settle(j.ID, later, true, "nurse.osei", "room-2")
					case "never-came":
						return q.Settle(j.ID, later, false, "nurse.osei", "room-2")
					case "call-off":
						return q.CallOff(j.ID, later, "nurse.osei", "room-2")
					case "scan":
						_, err := q.Confirm("MBY-26-00417-A", '1', later)
						return err
					}
					t.Fatal(what)
					return nil
				}
				err = act()
				switch want {
				case "gone":
					require.NoError(t, err)
					_, err = q.Job(j.ID)
					require.ErrorIs(t, err, prints.ErrNoJob)
				case "!":
					require.ErrorIs(t, err, prints.ErrState)
					require.Regexp(t, `job 1 is .+ and cannot be `, err.Error())
					after, err := q.Job(j.ID)
					require.NoError(t, err)
					require.Equal(t, before, after)
				case "busy":
					require.ErrorIs(t, err, prints.ErrBusy)
				case "=":
					require.NoError(t, err)
					after, err := q.Job(j.ID)
					require.NoError(t, err)
					require.Equal(t, before, after)
				default:
					require.NoError(t, err)
					after, err := q.Job(j.ID)
					require.NoError(t, err)
					require.Equal(t, prints.State(want), after.State)
					require.Equal(t, later, after.Changed)
					if what != "take" && what != "again" {
						require.NoError(t, act(), "a second time changes nothing")
						twice, err := q.Job(j.ID)
						require.NoError(t, err)
						require.Equal(t, after, twice)
					}
				}
				require.NoError(t, q.Check())
			})
			rows++
		}
	}
	require.Equal(t, 7*11, rows)
}

// What is to be sent shows a patient: it goes as soon as it can no longer be needed.
func TestWhatIsToBeSentGoesAsSoonAsItCan(t *testing.T) {
	for state, keeps := range map[prints.State]int{prints.Prepared: 1, prints.Queued: 1, prints.Sending: 1, prints.Sent: 0, prints.Unknown: 0, prints.Confirmed: 0, prints.NotPrinted: 0} {
		q := fresh(t)
		j := prepared(t, q, label("room", "MBY-26-00417-A", '1'))
		way[state](t, q, j.ID)
		require.Equal(t, keeps, q.Bodies(), state)
	}
	q := fresh(t)
	require.NoError(t, q.Drop(prepared(t, q, label("room", "MBY-26-00417-A", '1')).ID))
	require.Zero(t, q.Bodies())
}

// A scan while a label is being sent: whatever its sender says later, it is never tried again.
func TestAScanWhileALabelIsBeingSentIsTheLastWord(t *testing.T) {
	q := fresh(t)
	j := prepared(t, q, label("room", "MBY-26-00417-A", '1'))
	way[prints.Sending](t, q, j.ID)
	changed, err := q.Confirm(j.Name, j.Copy, morning)
	require.NoError(t, err)
	require.Len(t, changed, 1)
	require.NoError(t, q.Again(j.ID, morning, morning, "the printer was busy"))
	_, _, ok, err := q.Take("room", morning.Add(time.Hour))
	require.NoError(t, err)
	require.False(t, ok)
	require.Equal(t, prints.Confirmed, stateOf(t, q, j.ID))
}

// A label that was scanned although it waits exists already: it does not come out a second time, and somebody is told.
func TestAScanOfAWaitingLabelTakesItOut(t *testing.T) {
	q := fresh(t)
	j := queued(t, q, label("room", "MBY-26-00417-A", '1'))
	changed, err := q.Confirm(j.Name, j.Copy, morning)
	require.NoError(t, err)
	require.Contains(t, changed[0].Problem, "not printed a second time")
	_, _, ok, err := q.Take("room", morning.Add(time.Hour))
	require.NoError(t, err)
	require.False(t, ok)
}

// A label that was settled as not printed and is scanned was settled wrongly: the ledger is no longer owed its spoiling.
func TestAScanOfWhatWasSettledAsNotPrinted(t *testing.T) {
	q := fresh(t)
	j := prepared(t, q, label("room", "MBY-26-00417-A", '1'))
	way[prints.NotPrinted](t, q, j.ID)
	owed, err := q.Owed()
	require.NoError(t, err)
	require.Len(t, owed, 1)
	_, err = q.Confirm(j.Name, j.Copy, morning)
	require.NoError(t, err)
	owed, err = q.Owed()
	require.NoError(t, err)
	require.Empty(t, owed)
}

// The ledger is owed one label.spoiled for each recorded label that never came out, with one id for ever.
func TestWhatTheLedgerIsOwed(t *testing.T) {
	path := filepath.Join(t.TempDir(), "prints.db")
	q := openAt(t, path)
	recorded := queued(t, q, label("room", "MBY-26-00417-A", '1'))
	calibration := queued(t, q, prints.Job{Printer: "room", Title: "calibration", Layout: "calibration", By: "nurse.osei", Station: "room-2"})
	require.NoError(t, q.CallOff(recorded.ID, morning, "nurse.osei", "room-2"))
	require.NoError(t, q.CallOff(calibration.ID, morning, "nurse.osei", "room-2"))
	owed, err := q.Owed()
	require.NoError(t, err)
	require.Len(t, owed, 1, "a label of no thing is in no ledger")
	require.Regexp(t, `^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$`, string(owed[0].Spoiled))
	require.Equal(t, "nurse.osei", owed[0].SettledBy)
	require.NoError(t, q.Close())
	q = openAt(t, path)
	again, err := q.Owed()
	require.NoError(t, err)
	require.Equal(t, owed, again)
	require.NoError(t, q.Accounted(recorded.ID))
	require.NoError(t, q.Accounted(recorded.ID))
	again, err = q.Owed()
	require.NoError(t, err)
	require.Empty(t, again)
}
