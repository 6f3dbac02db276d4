package broker_test

import (
	"context"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/events/broker"
)

var today = time.Now().UTC().Truncate(time.Second)

func TestEveryEventIsPublishedOnceAndInOrder(t *testing.T) {
	ctx, s, l := within(t), started(t, t.TempDir()), newLedger("mby-1")
	l.record(300, today)
	p, _ := publishing(t, s, l, broker.PublisherOptions{Window: 16})
	for range 20 {
		l.record(7, today)
	}
	require.NoError(t, p.Flush(ctx))
	requireTrail(ctx, t, s, l, 1, 440)
	require.EqualValues(t, 440, p.Stats().OSeq)
	require.Zero(t, p.Stats().Restarts)
}

func TestPublishingResumesAfterARestart(t *testing.T) {
	ctx, dir, l := within(t), t.TempDir(), newLedger("mby-1")
	for round := range 3 {
		s, err := broker.Start(broker.Options{StoreDir: dir, MaxStore: 64 << 20})
		require.NoError(t, err)
		l.record(50, today)
		p, stop := publishing(t, s, l, broker.PublisherOptions{})
		l.record(50, today)
		if round < 2 {
			require.NoError(t, p.Flush(ctx))
		} else {
			requireSoon(ctx, t, s, "one message at least", func(st jetstream.StreamState) bool { return st.Msgs > 200 })
		}
		stop() // the last time in the middle of it
		s.Stop(ctx)
	}
	s := started(t, dir)
	p, _ := publishing(t, s, l, broker.PublisherOptions{})
	require.NoError(t, p.Flush(ctx))
	requireTrail(ctx, t, s, l, 1, 300)
}

func TestASmallerStoreIsTaken(t *testing.T) {
	ctx, dir, l := within(t), t.TempDir(), newLedger("mby-1")
	l.record(10, today)
	for _, size := range []int64{256 << 20, 64 << 20, 1 << 20} {
		s, err := broker.Start(broker.Options{StoreDir: dir, MaxStore: size})
		require.NoError(t, err)
		p, stop := publishing(t, s, l, broker.PublisherOptions{})
		require.NoError(t, p.Flush(ctx))
		requireTrail(ctx, t, s, l, 1, 10)
		stop()
		s.Stop(ctx)
	}
	s := started(t, dir)
	_, err := broker.NewPublisher(s, l, broker.PublisherOptions{Trail: broker.Limits{MaxBytes: 60 << 20}})
	require.ErrorContains(t, err, "the store has")
}

// requireSoon follows the state of TRAIL until it is as wanted.
func requireSoon(ctx context.Context, t *testing.T, s *broker.Server, what string, wanted func(jetstream.StreamState) bool) {
	t.Helper()
	_, js := connect(t, s)
	for ctx.Err() == nil {
		stream, err := js.Stream(ctx, broker.StreamTrail)
		if err == nil && wanted(stream.CachedInfo().State) {
			return
		}
	}
	t.Fatalf("it did not come to %s", what)
}

// TestFolderDeletedUnderLoadIsPublishedAgain deletes all, or only what JetStream keeps, or only one stream.
func TestFolderDeletedUnderLoadIsPublishedAgain(t *testing.T) {
	for name, inside := range map[string]string{"all of it": "", "what is in it": "jetstream", "streams": "jetstream/$G/streams", "one stream": "jetstream/$G/streams/TRAIL"} {
		t.Run(name, func(t *testing.T) {
			ctx, dir, l := within(t), filepath.Join(t.TempDir(), "nats"), newLedger("mby-1")
			s := started(t, dir)
			p, stop := publishing(t, s, l, broker.PublisherOptions{})
			l.record(500, today)
			l.flag(events.ChangeRaised, flagOn("A"))
			requireSoon(ctx, t, s, "half of it", func(st jetstream.StreamState) bool { return st.Msgs >= 250 })
			loaded := make(chan struct{})
			go func() {
				defer close(loaded)
				for range 100 {
					l.record(20, today)
				}
			}()
			gone := filepath.Join(dir, filepath.FromSlash(inside))
			require.DirExists(t, gone)
			for os.RemoveAll(gone) != nil { // the server may be putting a file into it
			}
			<-loaded
			l.record(1, today)
			require.NoError(t, p.Flush(ctx))
			requireTrail(ctx, t, s, l, 1, 2501)
			require.Equal(t, []string{"raised A 1"}, flagsIn(ctx, t, s), "idle all the while, and made anew too")
			require.NotZero(t, p.Stats().Restarts)
			stop()

			// What is on disk now is the whole of it.
			s.Stop(ctx)
			again := started(t, dir)
			requireTrail(ctx, t, again, l, 1, 2501)
			require.Equal(t, []string{"raised A 1"}, flagsIn(ctx, t, again))
		})
	}
}

func TestFolderDeletedWhileStoppedIsPublishedAgain(t *testing.T) {
	ctx, dir, l := within(t), filepath.Join(t.TempDir(), "nats"), newLedger("mby-1")
	l.record(100, today)
	l.flag(events.ChangeRaised, flagOn("A"))
	s, err := broker.Start(broker.Options{StoreDir: dir})
	require.NoError(t, err)
	p, stop := publishing(t, s, l, broker.PublisherOptions{})
	require.NoError(t, p.Flush(ctx))
	stop()
	s.Stop(ctx)
	require.NoError(t, os.RemoveAll(dir))

	s = started(t, dir)
	p, _ = publishing(t, s, l, broker.PublisherOptions{})
	require.NoError(t, p.Flush(ctx))
	requireTrail(ctx, t, s, l, 1, 100)
	require.Equal(t, []string{"raised A 1"}, flagsIn(ctx, t, s))
}

func TestAnIdlePublisherNoticesDeletedStreams(t *testing.T) {
	ctx, s, l := within(t), started(t, t.TempDir()), newLedger("mby-1")
	l.record(100, today)
	l.flag(events.ChangeRaised, flagOn("A"), flagOn("B"))
	p, _ := publishing(t, s, l, broker.PublisherOptions{})
	require.NoError(t, p.Flush(ctx))
	_, js := connect(t, s)
	require.NoError(t, js.DeleteStream(ctx, broker.StreamTrail))
	require.NoError(t, js.DeleteStream(ctx, broker.StreamFlags))
	// Ids of a moment ago are published again although the server was told them within its window.
	requireSoon(ctx, t, s, "all of it", func(st jetstream.StreamState) bool { return st.Msgs == 100 })
	require.NoError(t, p.Flush(ctx))
	requireTrail(ctx, t, s, l, 1, 100)
	require.Equal(t, []string{"raised A 0", "raised B 2"}, flagsIn(ctx, t, s))
}

// spoiled makes TRAIL before the publisher sees it, with these positions in it.
func spoiled(ctx context.Context, t *testing.T, s *broker.Server, origin string, positions ...uint64) {
	t.Helper()
	_, js := connect(t, s)
	_, err := js.CreateStream(ctx, jetstream.StreamConfig{Name: broker.StreamTrail, Subjects: []string{events.SubjectEvents}})
	require.NoError(t, err)
	for _, position := range positions {
		msg := nats.NewMsg("trail.v1.MBY.event.note.added")
		msg.Header.Set("Trail-Oseq", strconv.FormatUint(position, 10))
		msg.Data = leaf(origin, position, today)
		_, err = js.PublishMsg(ctx, msg)
		require.NoError(t, err)
	}
}

func TestAStreamThatDoesNotFitTheLedgerIsMadeAnew(t *testing.T) {
	for name, positions := range map[string][]uint64{
		"a gap":                 {1, 2, 4, 5},
		"ahead of the ledger":   {8, 9, 10, 11},
		"twice, and a gap more": {1, 2, 2, 5, 5, 5},
	} {
		t.Run(name, func(t *testing.T) {
			ctx, s, l := within(t), started(t, t.TempDir()), newLedger("mby-1")
			l.record(10, today)
			spoiled(ctx, t, s, "mby-1", positions...)
			p, _ := publishing(t, s, l, broker.PublisherOptions{})
			require.NoError(t, p.Flush(ctx))
			requireTrail(ctx, t, s, l, 1, 10)
		})
	}
	t.Run("a stranger's message", func(t *testing.T) {
		ctx, s, l := within(t), started(t, t.TempDir()), newLedger("mby-1")
		l.record(10, today)
		spoiled(ctx, t, s, "mby-1", 1)
		_, js := connect(t, s)
		_, err := js.Publish(ctx, "trail.v1.MBY.event.note.added", []byte("hello"))
		require.NoError(t, err)
		p, _ := publishing(t, s, l, broker.PublisherOptions{})
		require.NoError(t, p.Flush(ctx))
		requireTrail(ctx, t, s, l, 1, 10)
	})
}

func TestANewOriginFollowsTheOldOneInTheStream(t *testing.T) {
	ctx, s, l := within(t), started(t, t.TempDir()), newLedger("mby-2")
	l.record(3, today)
	spoiled(ctx, t, s, "mby-1", 7, 8, 9)
	p, _ := publishing(t, s, l, broker.PublisherOptions{})
	require.NoError(t, p.Flush(ctx))
	var positions []string
	for _, msg := range messages(ctx, t, s, broker.StreamTrail) {
		positions = append(positions, msg.Header.Get("Trail-Oseq"))
	}
	require.Equal(t, []string{"7", "8", "9", "1", "2", "3"}, positions)
}

func TestOnlyWhatTheLimitsKeepIsPublished(t *testing.T) {
	t.Run("messages", func(t *testing.T) {
		ctx, s, l := within(t), started(t, t.TempDir()), newLedger("mby-1")
		l.record(1000, today)
		p, _ := publishing(t, s, l, broker.PublisherOptions{Trail: broker.Limits{MaxMsgs: 100}})
		require.NoError(t, p.Flush(ctx))
		requireTrail(ctx, t, s, l, 901, 1000)
		l.record(50, today)
		require.NoError(t, p.Flush(ctx))
		requireTrail(ctx, t, s, l, 951, 1050)
	})
	t.Run("age", func(t *testing.T) {
		ctx, s, l := within(t), started(t, t.TempDir()), newLedger("mby-1")
		l.record(700, today.Add(-50*24*time.Hour))
		l.record(10, today.Add(-time.Hour))
		p, _ := publishing(t, s, l, broker.PublisherOptions{Trail: broker.Limits{MaxAge: 30 * 24 * time.Hour}})
		require.NoError(t, p.Flush(ctx))
		requireTrail(ctx, t, s, l, 701, 710)
	})
	t.Run("bytes", func(t *testing.T) {
		ctx, s, l := within(t), started(t, t.TempDir()), newLedger("mby-1")
		l.record(2000, today)
		p, _ := publishing(t, s, l, broker.PublisherOptions{Trail: broker.Limits{MaxBytes: 100_000}})
		require.NoError(t, p.Flush(ctx))
		got := messages(ctx, t, s, broker.StreamTrail)
		require.Greater(t, len(got), 100)
		require.Less(t, len(got), 400)
		requireTrail(ctx, t, s, l, 2000-len(got)+1, 2000)
	})
}

func TestFlagsAreToldAsTheyChange(t *testing.T) {
	ctx, s, l := within(t), started(t, t.TempDir()), newLedger("mby-1")
	l.flag(events.ChangeRaised, flagOn("A"), flagOn("B"))
	p, stop := publishing(t, s, l, broker.PublisherOptions{})
	require.NoError(t, p.Flush(ctx))
	l.flag(events.ChangeCleared, flagOn("A"))
	require.NoError(t, p.Flush(ctx))
	require.Equal(t, []string{"raised A 0", "raised B 2", "cleared A 3"}, flagsIn(ctx, t, s))
	stop()

	l.flag(events.ChangeRaised, flagOn("C"))
	p, _ = publishing(t, s, l, broker.PublisherOptions{})
	require.NoError(t, p.Flush(ctx))
	require.Equal(t, []string{"raised A 0", "raised B 2", "cleared A 3", "raised C 4"}, flagsIn(ctx, t, s), "resumed, not begun again")
	require.EqualValues(t, 4, p.Stats().FlagSeq)
}

func TestFlagsBeginAgainWithWhatIsOpen(t *testing.T) {
	message := func(position string) *nats.Msg {
		msg := nats.NewMsg("trail.v1.MBY.flag.pot-lost")
		msg.Header.Set("Trail-Fseq", position)
		msg.Data = events.EncodeFlagChange(events.FlagChange{Change: events.ChangeRaised, Flag: flagOn("X")})
		return msg
	}
	for name, row := range map[string]struct {
		last    string // position of the last message of the stream
		dropped int    // rows gone from the log
	}{
		"an opening cut short":            {last: "0"},
		"a log that no longer reaches":    {last: "1", dropped: 2},
		"a stream ahead of the log":       {last: "9"},
		"a message without its position":  {last: ""},
		"a position that is not a number": {last: "x"},
	} {
		t.Run(name, func(t *testing.T) {
			ctx, s, l := within(t), started(t, t.TempDir()), newLedger("mby-1")
			_, js := connect(t, s)
			_, err := js.CreateStream(ctx, jetstream.StreamConfig{Name: broker.StreamFlags, Subjects: []string{events.SubjectFlags}})
			require.NoError(t, err)
			_, err = js.PublishMsg(ctx, message(row.last))
			require.NoError(t, err)
			l.flag(events.ChangeRaised, flagOn("A"), flagOn("B"), flagOn("C"))
			l.dropped = row.dropped
			p, _ := publishing(t, s, l, broker.PublisherOptions{})
			require.NoError(t, p.Flush(ctx))
			require.Equal(t, []string{"raised A 0", "raised B 0", "raised C 3"}, flagsIn(ctx, t, s))
		})
	}
}

func TestFlushGivesUpInTime(t *testing.T) {
	s, l := started(t, t.TempDir()), newLedger("mby-1")
	p, err := broker.NewPublisher(s, l, broker.PublisherOptions{})
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	require.ErrorIs(t, p.Flush(ctx), context.Canceled, "nothing is publishing")
}
