package store_test

import (
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
	"github.com/pottrail/pottrail/tracker"
)

// queue hands out single intakes, as a daemon's queue does.
type queue chan store.Intake

func (q queue) next(hurry <-chan struct{}) []store.Intake {
	select {
	case in, ok := <-q:
		if !ok {
			return nil
		}
		return []store.Intake{in}
	case <-hurry:
	}
	select {
	case in, ok := <-q:
		if !ok {
			return nil
		}
		return []store.Intake{in}
	default:
		return nil
	}
}

// Batches that grow while the one before is on its way give every event its own verdict, and the same ledger as one by
// one, though the file is mapped anew again and again meanwhile.
func TestAFlowRecordsTheSame(t *testing.T) {
	life := storetest.Life(3, 60)
	now := storetest.Morning().AddDate(0, 1, 0)
	l := storetest.Open(t, storetest.Path(t), store.Options{MapSize: 32 << 10, Origin: "flow"})
	q := make(queue, 64)
	var mu sync.Mutex
	told := map[string]uint64{}
	var batches []int
	var hands sync.WaitGroup
	for range 2 {
		hands.Go(func() {
			for first := range q {
				batch, verdicts, err := l.RecordFlow(func() time.Time { return now }, []store.Intake{first}, q.next)
				mu.Lock()
				if err != nil || len(verdicts) != len(batch) {
					t.Errorf("%d verdicts for %d events: %v", len(verdicts), len(batch), err)
				}
				for i, v := range verdicts {
					if !v.OK || v.ID != string(batch[i].Event.ID) {
						t.Errorf("%s got the verdict of %s: %v", batch[i].Event.ID, v.ID, v.Error)
					}
					told[v.ID] = v.Seq
				}
				batches = append(batches, len(batch))
				mu.Unlock()
			}
		})
	}
	for _, e := range life {
		q <- store.Intake{Event: e}
	}
	close(q)
	hands.Wait()
	require.Len(t, told, len(life))
	require.Greater(t, slices.Max(batches), 1, "no batch ever grew")

	plain := storetest.Open(t, storetest.Path(t), store.Options{Origin: "flow"})
	storetest.Record(t, plain, now, byPosition(life, told)...)
	require.Equal(t, storetest.Snapshots(t, plain), storetest.Snapshots(t, l))
	require.NoError(t, l.Check())
}

// byPosition sorts events by the places that a ledger gave them.
func byPosition(life []*tracker.Event, told map[string]uint64) []*tracker.Event {
	sorted := slices.Clone(life)
	slices.SortFunc(sorted, func(a, b *tracker.Event) int { return int(told[string(a.ID)]) - int(told[string(b.ID)]) })
	return sorted
}

// A flow whose batch before comes to nothing is prepared again, and with no space everybody hears of it.
func TestAFlowWithoutSpaceSaysSo(t *testing.T) {
	life := storetest.Life(4, 150)
	now := storetest.Morning().AddDate(0, 1, 0)
	l := storetest.Open(t, storetest.Path(t), store.Options{MaxSize: 1 << 20})
	q := make(queue, 8)
	var mu sync.Mutex
	recorded, turned := 0, 0
	var hands sync.WaitGroup
	for range 2 {
		hands.Go(func() {
			for first := range q {
				batch, verdicts, err := l.RecordFlow(func() time.Time { return now }, []store.Intake{first}, q.next)
				mu.Lock()
				if len(verdicts) != len(batch) {
					t.Errorf("%d verdicts for %d events: %v", len(verdicts), len(batch), err)
				}
				for _, v := range verdicts {
					if v.OK {
						recorded++
					} else {
						turned++
					}
				}
				mu.Unlock()
			}
		})
	}
	for _, e := range life {
		q <- store.Intake{Event: e}
	}
	close(q)
	hands.Wait()
	require.Equal(t, len(life), recorded+turned)
	require.Positive(t, turned, "1 MiB was enough")
	seq, _ := l.Last()
	require.Equal(t, uint64(recorded), seq)
}
