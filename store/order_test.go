package store_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
	"github.com/pottrail/pottrail/tracker"
)

// fromNothing judges everything in a ledger anew, with the ledger's entries alone.
func fromNothing(t *testing.T, l *store.Ledger, now time.Time) map[tracker.Name]string {
	t.Helper()
	var all []*tracker.Event
	for from := uint64(1); ; {
		page, err := l.EventsFrom(from, 0)
		require.NoError(t, err)
		if len(page) == 0 {
			break
		}
		for _, entry := range page {
			e, err := entry.Event()
			require.NoError(t, err)
			all = append(all, e)
		}
		from += uint64(len(page))
	}
	filed := tracker.File(all)
	out := map[tracker.Name]string{}
	for n := range filed {
		gathered, err := tracker.Gather(n, func(n tracker.Name) ([]*tracker.Event, error) { return filed[n], nil })
		require.NoError(t, err)
		rand.Shuffle(len(gathered), func(i, j int) { gathered[i], gathered[j] = gathered[j], gathered[i] })
		j, err := json.Marshal(tracker.Judge(n, gathered, l.Rules(n.Clinic()), now))
		require.NoError(t, err)
		out[n] = string(j)
	}
	return out
}

func judgements(t *testing.T, l *store.Ledger) map[tracker.Name]string {
	t.Helper()
	out := map[tracker.Name]string{}
	for s, err := range l.Snapshots(store.Filter{}) {
		require.NoError(t, err)
		j, err := json.Marshal(s.Judgement)
		require.NoError(t, err)
		out[s.Summary.Name] = string(j)
	}
	return out
}

// Late, early, in any order, in batches of any size, with the timer running or not: the snapshots are what the events
// give when they are folded from nothing.
func TestSnapshotsAreWhatTheEventsGive(t *testing.T) {
	for seed := range uint64(6) {
		t.Run(fmt.Sprint("seed ", seed), func(t *testing.T) {
			r := rand.New(rand.NewPCG(seed, 2))
			list := storetest.Life(seed, 14)
			// Each comes in up to a day late, a few by clocks that run ahead.
			arrival := make(map[tracker.EventID]time.Time, len(list))
			for _, e := range list {
				arrival[e.ID] = e.At.Add(time.Duration(r.Int64N(int64(24*time.Hour))) - 30*time.Minute)
			}
			slices.SortFunc(list, func(a, b *tracker.Event) int { return arrival[a.ID].Compare(arrival[b.ID]) })
			l := storetest.Open(t, storetest.Path(t), store.Options{Cached: []int{0, 3}[seed%2]})
			var now time.Time
			for rest := list; len(rest) > 0; {
				n := min(1+r.IntN(12), len(rest))
				now = arrival[rest[n-1].ID]
				storetest.Record(t, l, now, rest[:n]...)
				rest = rest[n:]
				if r.IntN(3) == 0 {
					storetest.CatchUp(t, l, now)
					require.Equal(t, fromNothing(t, l, now), judgements(t, l))
				}
			}
			for range 5 {
				now = now.Add(time.Duration(r.Int64N(int64(9 * 24 * time.Hour))))
				storetest.CatchUp(t, l, now)
				require.Equal(t, fromNothing(t, l, now), judgements(t, l))
			}
		})
	}
}

// Two ledgers that heard the same, in other orders, know the same.
func TestAnyOrderGivesTheSame(t *testing.T) {
	list := storetest.Life(11, 16)
	now := list[len(list)-1].At.Add(30 * 24 * time.Hour)
	var want map[tracker.Name]string
	for order := range 4 {
		l := storetest.Open(t, storetest.Path(t), store.Options{})
		mixed := slices.Clone(list)
		rand.New(rand.NewPCG(uint64(order), 3)).Shuffle(len(mixed), func(i, j int) { mixed[i], mixed[j] = mixed[j], mixed[i] })
		for part := range slices.Chunk(mixed, 1+17*order) {
			storetest.Record(t, l, now, part...)
		}
		if got := judgements(t, l); want == nil {
			want = got
		} else {
			require.Equal(t, want, got)
		}
	}
}

// Many at once: every event is there once, and the verdicts' positions are theirs.
func TestManyRecordAtOnce(t *testing.T) {
	list := storetest.Life(12, 30)
	now := list[len(list)-1].At
	l := storetest.Open(t, storetest.Path(t), store.Options{Cached: 40})
	var clients sync.WaitGroup
	var lock sync.Mutex
	seqs := map[tracker.EventID]uint64{}
	const clientsAtOnce = 6
	for client := range clientsAtOnce {
		clients.Go(func() {
			for i := client; i < len(list); i += clientsAtOnce - 1 { // neighbours overlap, so some ids come twice
				verdicts, err := l.Record(now, storetest.Intakes(list[i]))
				if err != nil || !verdicts[0].OK {
					t.Errorf("client %d: %v %+v", client, err, verdicts)
					return
				}
				lock.Lock()
				if before, ok := seqs[list[i].ID]; ok && before != verdicts[0].Seq {
					t.Errorf("%s is at %d and at %d", list[i].ID, before, verdicts[0].Seq)
				}
				seqs[list[i].ID] = verdicts[0].Seq
				lock.Unlock()
			}
		})
	}
	clients.Go(func() {
		for range 50 {
			if _, err := l.Recheck(now, 7); err != nil {
				t.Error(err)
			}
		}
	})
	clients.Wait()
	require.Len(t, seqs, len(list))
	entries, err := l.EventsFrom(1, len(list)+1)
	require.NoError(t, err)
	require.Len(t, entries, len(list))
	for _, entry := range entries {
		e, err := entry.Event()
		require.NoError(t, err)
		require.Equal(t, entry.Seq, seqs[e.ID])
	}
	storetest.CatchUp(t, l, now)
	require.Equal(t, fromNothing(t, l, now), judgements(t, l))
}
