package broker_test

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events/broker"
)

func TestWhoIsTakenOffTheListIsDisconnectedAtOnce(t *testing.T) {
	stays, goes, comes := newGuest(t, "stays", "porter", "MBY"), newGuest(t, "goes", "porter", "MBY"), newGuest(t, "comes", "coordinator", "MBY")
	h := open(t, saying(), stays, goes)
	closed := make(chan struct{})
	leaving, _ := goes.enter(t, h.Server, nats.NoReconnect(), nats.ClosedHandler(func(*nats.Conn) { close(closed) }))
	staying, _ := stays.enter(t, h.Server, nats.NoReconnect())
	trail, err := nats.Connect(h.URL(), nats.UserInfo(user, password), nats.NoReconnect())
	require.NoError(t, err)
	t.Cleanup(trail.Close)

	h.change(t, stays, comes)
	<-closed
	require.True(t, leaving.IsClosed())
	_, err = nats.Connect(h.URL(), goes.key(t))
	require.ErrorIs(t, err, nats.ErrAuthorization)
	coming, _ := comes.enter(t, h.Server)
	for conn, says := range map[*nats.Conn]string{staying: "porter/stays/MBY: x", coming: "coordinator/comes/MBY: x"} {
		answer, err := conn.RequestWithContext(within(t), "trail.v1.MBY.record", []byte("x"))
		require.NoError(t, err, says)
		require.Equal(t, says, string(answer.Data))
	}
	require.True(t, trail.IsConnected(), "the owner's user is not touched")

	h.change(t)
	_, err = nats.Connect(h.URL(), stays.key(t))
	require.ErrorIs(t, err, nats.ErrAuthorization, "nobody is left")
	require.True(t, trail.IsConnected())
}

// TestAChangeOfRightsTakesEffectAtOnce on the connection that is open.
func TestAChangeOfRightsTakesEffectAtOnce(t *testing.T) {
	lab := newGuest(t, "tarn-road", "laboratory", "MBY", "HCX")
	lab.Reads = []string{"event.>"}
	h := open(t, saying(), lab)
	conn, v := lab.enter(t, h.Server)
	heard, err := conn.SubscribeSync("trail.v1.HCX.event.>")
	require.NoError(t, err)
	require.False(t, v.forbidden(t, conn, "Subscription", "trail.v1.HCX.event.>"))
	require.NoError(t, h.inside.Publish("trail.v1.HCX.event.note.added", nil))
	_, err = heard.NextMsgWithContext(within(t))
	require.NoError(t, err)

	lab.Clinics = []string{"MBY"}
	h.change(t, lab)
	require.NoError(t, h.inside.Publish("trail.v1.HCX.event.note.added", nil))
	require.NoError(t, h.inside.Flush())
	require.NoError(t, conn.Flush())
	pending, _, _ := heard.Pending()
	require.Zero(t, pending)
	require.NoError(t, conn.Publish("trail.v1.HCX.record", nil))
	require.True(t, v.forbidden(t, conn, "Publish", "trail.v1.HCX.record"))
	require.Equal(t, "laboratory/tarn-road/MBY: x", ask(t, conn, "trail.v1.MBY.record"))

	lab.Role = "coordinator"
	h.change(t, lab)
	require.Equal(t, "coordinator/tarn-road/MBY: x", ask(t, conn, "trail.v1.MBY.record"))
}

// ask sends "x" until somebody answers: in the moment of a change nobody may.
func ask(t *testing.T, conn *nats.Conn, subject string) string {
	t.Helper()
	for {
		answer, err := conn.RequestWithContext(within(t), subject, []byte("x"))
		if errors.Is(err, nats.ErrNoResponders) {
			continue
		}
		require.NoError(t, err)
		return string(answer.Data)
	}
}

// TestAccountsChangeUnderLoad: while others come and go, whoever stays is answered each time, or told that nobody heard it, and
// what was answered was recorded.
func TestAccountsChangeUnderLoad(t *testing.T) {
	const senders, each = 4, 200
	var mu sync.Mutex
	recorded := map[string]int{}
	handle := saying()
	handle.record = func(_ context.Context, r broker.RecordRequest) []byte {
		mu.Lock()
		defer mu.Unlock()
		recorded[r.From.Name+string(r.Data)]++
		return []byte("recorded")
	}
	var guests []*guest
	for i := range senders {
		guests = append(guests, newGuest(t, fmt.Sprintf("stays-%d", i), "porter", "MBY"))
	}
	h := open(t, handle, guests...)
	var running sync.WaitGroup
	var unheard atomic.Int64
	for _, g := range guests {
		conn, _ := g.enter(t, h.Server, nats.NoReconnect())
		running.Go(func() {
			for i := range each {
				for {
					// Shorter than a request takes when its answer is lost on the way: it is sent again, with the same id.
					answer, err := conn.Request("trail.v1.MBY.record", fmt.Append(nil, i), 5*time.Second)
					if err == nil && string(answer.Data) == "recorded" {
						break
					}
					if conn.IsClosed() {
						t.Errorf("%s was disconnected", g.Name)
						return
					}
					unheard.Add(1)
				}
			}
		})
	}
	done := make(chan struct{})
	go func() { running.Wait(); close(done) }()
	changes := 0
	for working := true; working; changes++ {
		select {
		case <-done:
			working = false
		default:
			h.change(t, append([]*guest{newGuest(t, fmt.Sprintf("comes-%d", changes), "quality", "MBY")}, guests...)...)
		}
	}
	t.Logf("%d changes, %d requests sent again", changes, unheard.Load())
	for _, g := range guests {
		for i := range each {
			require.Positive(t, recorded[g.Name+fmt.Sprint(i)], "a verdict was given for what was not recorded")
		}
	}
}

// TestAFloodThroughOneDoorKeepsNobodyWaiting: with all that one account may have under way stuck, and far more sent, another is
// answered, and the first is told to send again.
func TestAFloodThroughOneDoorKeepsNobodyWaiting(t *testing.T) {
	flood, other := newGuest(t, "flood", "laboratory", "MBY"), newGuest(t, "other", "porter", "MBY")
	stuck := make(chan struct{})
	handle := saying()
	say := handle.record
	handle.record = func(ctx context.Context, r broker.RecordRequest) []byte {
		if r.From.Name == "flood" {
			<-stuck
		}
		return say(ctx, r)
	}
	h := open(t, handle, flood, other)
	t.Cleanup(sync.OnceFunc(func() { close(stuck) }))
	conn, _ := flood.enter(t, h.Server)
	const sent = 2000
	inbox := make(chan *nats.Msg, sent)
	sub, err := conn.ChanSubscribe("_INBOX.flood", inbox)
	require.NoError(t, err)
	for i := range sent {
		require.NoError(t, conn.PublishRequest("trail.v1.MBY.record", "_INBOX.flood", fmt.Append(nil, i)))
	}
	require.NoError(t, conn.Flush())
	told := <-inbox
	require.Contains(t, string(told.Data), `"busy"`)
	require.Contains(t, string(told.Data), "Send it again with the same ids")

	porter, _ := other.enter(t, h.Server)
	require.Equal(t, "porter/other/MBY: x", ask(t, porter, "trail.v1.MBY.record"))
	require.Equal(t, "porter/other/MBY/codes: x", ask(t, porter, "trail.v1.MBY.ask.codes"))

	for busy := 1; busy < sent-256; busy++ { // 256 wait for their turn
		require.Contains(t, string((<-inbox).Data), `"busy"`)
	}
	require.Empty(t, inbox)
	for range 256 {
		stuck <- struct{}{}
		require.Contains(t, string((<-inbox).Data), "laboratory/flood/MBY")
	}
	require.NoError(t, sub.Unsubscribe())
}

// TestManyBytesThroughOneDoor: the bound is on bytes too.
func TestManyBytesThroughOneDoor(t *testing.T) {
	flood := newGuest(t, "flood", "laboratory", "MBY")
	stuck := make(chan struct{})
	handle := saying()
	handle.ask = func(context.Context, broker.Question) ([]byte, error) { <-stuck; return []byte("{}"), nil }
	h := open(t, handle, flood)
	conn, _ := flood.enter(t, h.Server)
	inbox := make(chan *nats.Msg, 16)
	_, err := conn.ChanSubscribe("_INBOX.flood", inbox)
	require.NoError(t, err)
	for range 9 {
		require.NoError(t, conn.PublishRequest("trail.v1.MBY.ask.codes", "_INBOX.flood", make([]byte, 1<<20)))
	}
	require.Contains(t, string((<-inbox).Data), "Too many questions of this client")
	close(stuck)
	for range 8 {
		require.Equal(t, "{}", string((<-inbox).Data))
	}
}

func TestLimitsOfAnAccount(t *testing.T) {
	porter, other := newGuest(t, "hatch-scanner", "porter", "MBY"), newGuest(t, "other", "porter", "MBY")
	h := open(t, saying(), porter, other)
	for range 16 {
		porter.enter(t, h.Server)
	}
	_, err := nats.Connect(h.URL(), porter.key(t))
	require.ErrorContains(t, err, "maximum account active connections exceeded")
	conn, _ := other.enter(t, h.Server, nats.NoReconnect())
	require.NotEmpty(t, ask(t, conn, "trail.v1.MBY.record"), "others may still come")

	said := make(chan string, 300)
	conn.SetErrorHandler(func(_ *nats.Conn, _ *nats.Subscription, err error) { said <- err.Error() })
	for i := range 300 {
		_, err := conn.SubscribeSync(fmt.Sprintf("_INBOX.%d", i))
		require.NoError(t, err)
	}
	require.Contains(t, strings.ToLower(<-said), "maximum subscriptions exceeded")

	conn, _ = other.enter(t, h.Server, nats.NoReconnect())
	_, err = conn.Request("trail.v1.MBY.record", make([]byte, 1<<20), time.Minute)
	require.NoError(t, err, "a whole request")
	require.Less(t, conn.MaxPayload(), int64(1<<20+128<<10))
	require.ErrorIs(t, conn.Publish("trail.v1.MBY.record", make([]byte, 2<<20)), nats.ErrMaxPayload)
}

// TestWhoDoesNotReadIsCutOff and hinders nobody: an account that subscribes and reads nothing is disconnected once too much waits
// for it, while another is answered all along.
func TestWhoDoesNotReadIsCutOff(t *testing.T) {
	deaf, other := newGuest(t, "deaf", "quality", "MBY"), newGuest(t, "other", "porter", "MBY")
	deaf.Reads = []string{"event.>"}
	h := open(t, saying(), deaf, other)
	pipe := newDeaf()
	gone := make(chan struct{})
	conn, _ := deaf.enter(t, h.Server, nats.SetCustomDialer(pipe), nats.DisconnectErrHandler(func(*nats.Conn, error) {}), nats.NoReconnect(),
		nats.ClosedHandler(func(*nats.Conn) { close(gone) }))
	_, err := conn.SubscribeSync("trail.v1.MBY.event.>")
	require.NoError(t, err)
	require.NoError(t, conn.Flush())
	porter, _ := other.enter(t, h.Server)
	pipe.deaf.Store(true)
	big := make([]byte, 1<<20)
	for i := 0; i < 100; i++ { // the server lets 64 MiB wait
		require.NoError(t, h.inside.Publish("trail.v1.MBY.event.note.added", big))
		require.NoError(t, h.inside.Flush())
		require.Equal(t, "porter/other/MBY: x", ask(t, porter, "trail.v1.MBY.record"))
	}
	pipe.deaf.Store(false)
	close(pipe.wake)
	<-gone
}

// TestTheFolderOfNATSMayGoWithAccounts: what the accounts can do does not hang on it, and the streams come again.
func TestTheFolderOfNATSMayGoWithAccounts(t *testing.T) {
	lab := newGuest(t, "tarn-road", "laboratory", "MBY")
	lab.Reads = []string{"event.>"}
	dir := t.TempDir()
	s, err := broker.Start(broker.Options{StoreDir: dir, MaxStore: 64 << 20, Listen: "127.0.0.1:0", User: user, Password: password, Accounts: accounts([]*guest{lab})})
	require.NoError(t, err)
	t.Cleanup(func() { s.Stop(context.Background()) })
	l := newLedger("mby-1")
	p, _ := publishing(t, s, l, broker.PublisherOptions{})
	conn, _ := lab.enter(t, s)
	heard := make(chan *nats.Msg, 64)
	_, err = conn.ChanSubscribe("trail.v1.MBY.event.>", heard)
	require.NoError(t, err)
	require.NoError(t, conn.Flush())
	l.record(1, today)
	require.NoError(t, p.Flush(within(t)))
	<-heard
	require.NoError(t, s.SetAccounts(accounts([]*guest{lab, newGuest(t, "more", "porter", "MBY")})))
	require.NoError(t, os.RemoveAll(filepath.Join(dir, "jetstream")))
	l.record(1, today)
	require.NoError(t, p.Flush(within(t)))
	require.NoError(t, s.SetAccounts(accounts([]*guest{lab})))
	l.record(1, today)
	require.NoError(t, p.Flush(within(t)))
	_, js := connect(t, s)
	stream, err := js.Stream(within(t), broker.StreamTrail)
	require.NoError(t, err)
	require.EqualValues(t, 3, stream.CachedInfo().State.Msgs)
	<-heard
	<-heard
	_, err = jetstream.New(conn)
	require.NoError(t, err)
	_, err = stream.Info(within(t))
	require.NoError(t, err)
}

// TestAClientComesBackAfterARestart, though its key is asked for the moment the port opens: a client that is refused twice gives up.
func TestAClientComesBackAfterARestart(t *testing.T) {
	porter := newGuest(t, "hatch-scanner", "porter", "MBY")
	dir, handle := t.TempDir(), saying()
	start := func(listen string) (*broker.Server, *broker.Doors) {
		s, err := broker.Start(broker.Options{StoreDir: dir, Listen: listen, User: user, Password: password, Accounts: accounts([]*guest{porter})})
		require.NoError(t, err)
		inside, err := s.ConnectToAnswer("house")
		require.NoError(t, err)
		doors := broker.ServeAccounts(inside, handle.record, handle.ask, nil)
		require.NoError(t, doors.Set(accounts([]*guest{porter})))
		return s, doors
	}
	s, doors := start("127.0.0.1:0")
	listen := strings.TrimPrefix(s.URL(), "nats://")
	refused := make(chan error, 16)
	back := make(chan struct{})
	conn, _ := porter.enter(t, s, nats.ReconnectWait(time.Millisecond), nats.ReconnectJitter(0, 0), nats.MaxReconnects(-1),
		nats.ReconnectHandler(func(*nats.Conn) { close(back) }), nats.ErrorHandler(func(_ *nats.Conn, _ *nats.Subscription, err error) {
			if errors.Is(err, nats.ErrAuthorization) {
				refused <- err
			}
		}))
	require.NotEmpty(t, ask(t, conn, "trail.v1.MBY.record"))
	doors.Stop(within(t))
	s.Stop(within(t))
	s, doors = start(listen)
	t.Cleanup(func() { doors.Stop(context.Background()); s.Stop(context.Background()) })
	<-back
	require.Equal(t, "porter/hatch-scanner/MBY: x", ask(t, conn, "trail.v1.MBY.record"))
	require.Empty(t, refused)
	conn.Close()
}

// TestAnAnswerCannotBeSentElsewhere: an account that names a stream's subject, or another's, as the place for its answer gets
// nothing there: its answers come out in its own account.
func TestAnAnswerCannotBeSentElsewhere(t *testing.T) {
	porter, lab := newGuest(t, "hatch-scanner", "porter", "MBY"), newGuest(t, "tarn-road", "laboratory", "MBY")
	lab.Reads = []string{"event.>"}
	h := open(t, saying(), porter, lab)
	inside := make(chan *nats.Msg, 64)
	for _, subject := range []string{"trail.v1.MBY.event.>", "trail.v1.MBY.flag.>", "$JS.>"} {
		_, err := h.inside.ChanSubscribe(subject, inside)
		require.NoError(t, err)
	}
	require.NoError(t, h.inside.Flush())
	reader, _ := lab.enter(t, h.Server)
	read := make(chan *nats.Msg, 64)
	for _, subject := range []string{"trail.v1.MBY.event.>", "_INBOX.>"} {
		_, err := reader.ChanSubscribe(subject, read)
		require.NoError(t, err)
	}
	require.NoError(t, reader.Flush())
	conn, _ := porter.enter(t, h.Server)
	for _, reply := range []string{"trail.v1.MBY.event.note.added", "trail.v1.MBY.flag.pot-lost", "_INBOX.x", "$JS.API.STREAM.PURGE.TRAIL",
		"account.laboratory.tarn-road.trail.v1.MBY.record", "trail.v1.MBY.record"} {
		require.NoError(t, conn.PublishRequest("trail.v1.MBY.record", reply, []byte("x")))
		require.NoError(t, conn.PublishRequest("trail.v1.MBY.ask.codes", reply, []byte("x")))
	}
	require.NotEmpty(t, ask(t, conn, "trail.v1.MBY.record"))
	require.NotEmpty(t, ask(t, conn, "trail.v1.MBY.ask.codes"))
	h.doors.Stop(within(t)) // all of it is answered
	require.NoError(t, h.inside.Flush())
	require.NoError(t, reader.Flush())
	require.Empty(t, inside)
	require.Empty(t, read)
}
