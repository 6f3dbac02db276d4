package daemon

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/tracker"
)

// slowLedger takes a while for a commit, one after the other, and notes its batches.
type slowLedger struct {
	prep    sync.Mutex
	tail    chan struct{} // closed when the commit before is done
	batches []int
	fail    error
	seq     uint64
}

func (l *slowLedger) RecordFlow(_ func() time.Time, first []store.Intake, next func(hurry <-chan struct{}) []store.Intake) ([]store.Intake, []events.Verdict, error) {
	l.prep.Lock()
	before, done := l.tail, make(chan struct{})
	if before == nil {
		before = make(chan struct{})
		close(before)
	}
	batch := slices.Clone(first)
	for len(batch) < 500 {
		more := next(before)
		if more == nil {
			break
		}
		batch = append(batch, more...)
	}
	l.tail = done
	l.prep.Unlock()
	<-before
	pass(time.Millisecond)
	defer close(done)
	l.batches = append(l.batches, len(batch))
	out := make([]events.Verdict, len(batch))
	for i, b := range batch {
		if l.fail != nil {
			out[i] = events.Refused(string(b.Event.ID), &events.Refusal{Code: events.CodeNoSpace})
			continue
		}
		l.seq++
		out[i] = events.Verdict{ID: string(b.Event.ID), OK: true, Seq: l.seq}
	}
	if l.fail != nil && !errors.Is(l.fail, store.ErrNoSpace) {
		return batch, nil, l.fail
	}
	return batch, out, l.fail
}

func some(n int, mark string) []store.Intake {
	batch := make([]store.Intake, n)
	for i := range batch {
		batch[i].Event = &tracker.Event{ID: tracker.EventID(fmt.Sprintf("%s-%d", mark, i))}
	}
	return batch
}

func TestTheNextBatchFormsWhileOneCommitIsOnItsWay(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &slowLedger{}
		in := newIntake(l, func(error) {})
		start := time.Now()
		done := make(chan string, 100)
		send := func(mark string) {
			go func() {
				verdicts, err := in.submit(t.Context(), some(1, mark))
				if err != nil || verdicts[0].ID != mark+"-0" {
					done <- fmt.Sprintf("%s: %v %v", mark, verdicts, err)
					return
				}
				done <- ""
			}()
		}
		send("first")
		synctest.Wait()
		for i := range 99 {
			send(fmt.Sprint(i))
		}
		for range 100 {
			require.Empty(t, <-done)
		}
		require.Equal(t, []int{1, 99}, l.batches, "a lone event goes at once, what came meanwhile goes together")
		require.Equal(t, 2*time.Millisecond, time.Since(start), "two commits and no other delay")
		in.stop()
	})
}

func TestEverybodyGetsTheirOwnVerdicts(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &slowLedger{}
		in := newIntake(l, func(error) {})
		results := make(chan error, 10)
		for i := range 5 {
			go func() {
				verdicts, err := in.submit(t.Context(), some(200, fmt.Sprint(i)))
				if err == nil && (len(verdicts) != 200 || verdicts[199].ID != fmt.Sprintf("%d-199", i)) {
					err = errors.New("somebody else's verdicts")
				}
				results <- err
			}()
		}
		for range 5 {
			require.NoError(t, <-results)
		}
		in.stop()
		total := 0
		for _, n := range l.batches {
			total += n
		}
		require.Equal(t, 1000, total)
	})
}

func TestNoSpaceIsSaidToAllAndRecordingGoesOn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &slowLedger{fail: fmt.Errorf("commit: %w", store.ErrNoSpace)}
		in := newIntake(l, func(error) { t.Error("no space is no reason to stop") })
		verdicts, err := in.submit(t.Context(), some(2, "a"))
		require.NoError(t, err)
		for _, v := range verdicts {
			require.False(t, v.OK)
			require.Equal(t, events.CodeNoSpace, v.Error.Code)
		}
		l.fail = nil
		verdicts, err = in.submit(t.Context(), some(1, "a"))
		require.NoError(t, err)
		require.True(t, verdicts[0].OK)
		in.stop()
	})
}

func TestAfterAnErrorOfTheDiskNothingIsAnsweredAsRecorded(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &slowLedger{fail: errors.New("input/output error")}
		broken := 0
		in := newIntake(l, func(error) { broken++ })
		for range 3 {
			verdicts, err := in.submit(t.Context(), some(1, "a"))
			require.Empty(t, verdicts)
			require.Equal(t, ask.Unavailable, ask.KindOf(err))
			l.fail = nil // even if the disk came back
		}
		require.Equal(t, 1, broken)
		require.Len(t, l.batches, 1)
		in.stop()
	})
}

func TestStoppingGivesEverybodyAnAnswer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		in := newIntake(&slowLedger{}, func(error) {})
		results := make(chan error, 50)
		for i := range 50 {
			go func() {
				_, err := in.submit(context.Background(), some(20, fmt.Sprint(i)))
				results <- err
			}()
		}
		synctest.Wait()
		in.stop()
		for range 50 {
			require.NoError(t, <-results, "what was in the queue has been recorded")
		}
		_, err := in.submit(t.Context(), some(1, "late"))
		require.ErrorIs(t, err, errStopping)
	})
}
