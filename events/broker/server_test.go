package broker_test

import (
	"context"
	"crypto/tls"
	"net"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events/broker"
)

const user, password = "trail", "a long one"

// listening is a server with a port on loopback and a running publisher.
func listening(t *testing.T) (*broker.Server, *ledger) {
	t.Helper()
	s, err := broker.Start(broker.Options{StoreDir: t.TempDir(), MaxStore: 64 << 20, Listen: "127.0.0.1:0", User: user, Password: password})
	require.NoError(t, err)
	t.Cleanup(func() { s.Stop(context.Background()) })
	l := newLedger("mby-1")
	l.record(5, today)
	p, _ := publishing(t, s, l, broker.PublisherOptions{})
	require.NoError(t, p.Flush(within(t)))
	return s, l
}

func TestNothingListensByDefault(t *testing.T) {
	ports, err := filepath.Glob("/proc/self/fd/*")
	require.NoError(t, err)
	before := sockets(ports)
	s := started(t, t.TempDir())
	require.Empty(t, s.URL())
	ports, err = filepath.Glob("/proc/self/fd/*")
	require.NoError(t, err)
	require.Equal(t, before, sockets(ports), "the server opened a socket")
	conn, _ := connect(t, s)
	require.True(t, conn.IsConnected(), "inside the process it is reached all the same")
}

// sockets counts open sockets of this process, where the system tells of them.
func sockets(descriptors []string) int {
	n := 0
	for _, path := range descriptors {
		if target, err := os.Readlink(path); err == nil && len(target) > 7 && target[:7] == "socket:" {
			n++
		}
	}
	return n
}

func TestListeningIsRefused(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer func() { require.NoError(t, taken.Close()) }()
	file := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	for name, row := range map[string]struct {
		options broker.Options
		is      error
		says    string
	}{
		"without credentials":       {broker.Options{Listen: "127.0.0.1:0"}, broker.ErrNoCredentials, "user and a password"},
		"without a password":        {broker.Options{Listen: "127.0.0.1:0", User: user}, broker.ErrNoCredentials, "user and a password"},
		"beyond loopback":           {broker.Options{Listen: "0.0.0.0:0", User: user, Password: password}, broker.ErrNotLoopback, "write 127.0.0.1:0"},
		"on every address":          {broker.Options{Listen: ":4222", User: user, Password: password}, broker.ErrNotLoopback, "TLS"},
		"on a name":                 {broker.Options{Listen: "clinic.example:4222", User: user, Password: password}, broker.ErrNotLoopback, "TLS"},
		"without a port":            {broker.Options{Listen: "127.0.0.1", User: user, Password: password}, nil, "host:port"},
		"on a port that is no port": {broker.Options{Listen: "127.0.0.1:70000", User: user, Password: password}, nil, "0 to 65535"},
		"on an address in use":      {broker.Options{Listen: taken.Addr().String(), User: user, Password: password}, nil, "address already in use"},
		"with a file for a folder":  {broker.Options{StoreDir: file}, nil, "folder of the streams"},
	} {
		t.Run(name, func(t *testing.T) {
			if row.options.StoreDir == "" {
				row.options.StoreDir = t.TempDir()
			}
			_, err := broker.Start(row.options)
			require.ErrorContains(t, err, row.says)
			if row.is != nil {
				require.ErrorIs(t, err, row.is)
			}
		})
	}
	_, err = broker.Start(broker.Options{})
	require.ErrorContains(t, err, "no folder")
}

func TestBeyondLoopbackWithTLSIsAllowed(t *testing.T) {
	s, err := broker.Start(broker.Options{StoreDir: t.TempDir(), Listen: "0.0.0.0:0", User: user, Password: password, TLS: &tls.Config{MinVersion: tls.VersionTLS13}})
	require.NoError(t, err)
	defer s.Stop(context.Background())
	require.NoError(t, s.SetAccounts([]broker.Account{newGuest(t, "tarn-road", "laboratory", "MBY").Account}), "who is let in changes with TLS too")
	_, err = nats.Connect(s.URL(), nats.UserInfo(user, password))
	require.Error(t, err, "there is no certificate to trust")
}

func TestOutsideNeedsTheRightPassword(t *testing.T) {
	s, _ := listening(t)
	for name, option := range map[string]nats.Option{
		"nobody":       nats.Name("nobody"),
		"wrong":        nats.UserInfo(user, "wrong"),
		"inside":       nats.UserInfo("pottrail-inside", ""),
		"without user": nats.Token(password),
	} {
		_, err := nats.Connect(s.URL(), option)
		require.ErrorIs(t, err, nats.ErrAuthorization, name)
	}
	conn, err := nats.Connect(s.URL(), nats.UserInfo(user, password))
	require.NoError(t, err)
	conn.Close()
}

// TestWhatAClientOutsideMayDo: read streams, send events, ask; not put anything into a stream, nor change one.
func TestWhatAClientOutsideMayDo(t *testing.T) {
	s, _ := listening(t)
	ctx := within(t)
	violations := make(chan error, 16)
	conn, err := nats.Connect(s.URL(), nats.UserInfo(user, password), nats.ErrorHandler(func(_ *nats.Conn, _ *nats.Subscription, err error) { violations <- err }))
	require.NoError(t, err)
	defer conn.Close()
	js, err := jetstream.New(conn)
	require.NoError(t, err)

	consumer, err := js.OrderedConsumer(ctx, broker.StreamTrail, jetstream.OrderedConsumerConfig{})
	require.NoError(t, err)
	batch, err := consumer.Fetch(5, jetstream.FetchContext(ctx))
	require.NoError(t, err)
	read := 0
	for msg := range batch.Messages() {
		read++
		require.NotEmpty(t, msg.Headers().Get("Trail-Oseq"))
	}
	require.Equal(t, 5, read)

	for _, subject := range []string{
		"trail.v1.MBY.event.note.added", "trail.v1.MBY.flag.pot-lost", "$JS.API.STREAM.DELETE.TRAIL", "$JS.API.STREAM.PURGE.TRAIL",
		"$JS.API.STREAM.UPDATE.TRAIL", "$JS.API.STREAM.CREATE.OTHER", "$JS.API.STREAM.MSG.DELETE.TRAIL", "$JS.API.STREAM.SNAPSHOT.TRAIL", "$SYS.REQ.SERVER.PING", "_INSIDE.x",
	} {
		require.NoError(t, conn.Publish(subject, []byte("{}")))
		require.ErrorContains(t, <-violations, "Permissions Violation", subject)
	}
	for _, subject := range []string{"trail.v1.*.record", "trail.v1.*.ask.*", "_INSIDE.>", "$JS.API.>", ">"} {
		_, err := conn.SubscribeSync(subject)
		require.NoError(t, err)
		require.ErrorContains(t, <-violations, "Permissions Violation", subject)
	}
	stream, err := js.Stream(ctx, broker.StreamTrail)
	require.NoError(t, err)
	require.EqualValues(t, 5, stream.CachedInfo().State.Msgs)
}

func TestStreamsHaveLimits(t *testing.T) {
	s, _ := listening(t)
	ctx := within(t)
	_, js := connect(t, s)
	for name, subject := range map[string]string{broker.StreamTrail: "trail.v1.*.event.>", broker.StreamFlags: "trail.v1.*.flag.>"} {
		stream, err := js.Stream(ctx, name)
		require.NoError(t, err)
		c := stream.CachedInfo().Config
		require.Equal(t, []string{subject}, c.Subjects, "and nothing else")
		require.Equal(t, jetstream.FileStorage, c.Storage)
		require.Equal(t, jetstream.LimitsPolicy, c.Retention)
		require.Equal(t, jetstream.DiscardOld, c.Discard)
		require.Positive(t, c.MaxBytes)
		require.Positive(t, c.MaxMsgs)
		require.Positive(t, c.MaxAge)
		require.LessOrEqual(t, c.Duplicates, time.Second)
	}
}

func TestStopFinishesWhatWasGiven(t *testing.T) {
	s, err := broker.Start(broker.Options{StoreDir: t.TempDir()})
	require.NoError(t, err)
	conn, err := s.Connect("answers")
	require.NoError(t, err)
	asked, finish := make(chan struct{}), make(chan struct{})
	_, err = conn.Subscribe("question", func(msg *nats.Msg) {
		close(asked)
		<-finish
		_ = msg.Respond([]byte("answer"))
	})
	require.NoError(t, err)
	require.NoError(t, conn.Flush())
	asker, err := s.Connect("asks")
	require.NoError(t, err)
	answered := make(chan error, 1)
	go func() {
		_, err := asker.RequestWithContext(within(t), "question", nil)
		answered <- err
	}()
	<-asked
	stopped := make(chan struct{})
	go func() {
		s.Stop(within(t))
		close(stopped)
	}()
	close(finish)
	require.NoError(t, <-answered)
	<-stopped
	require.True(t, conn.IsClosed())
}

func TestStopDoesNotWaitForEver(t *testing.T) {
	s, err := broker.Start(broker.Options{StoreDir: t.TempDir()})
	require.NoError(t, err)
	conn, err := s.Connect("stuck")
	require.NoError(t, err)
	stuck, asked := make(chan struct{}), make(chan struct{})
	defer close(stuck)
	_, err = conn.Subscribe("question", func(*nats.Msg) {
		close(asked)
		<-stuck
	})
	require.NoError(t, err)
	require.NoError(t, conn.Publish("question", nil))
	<-asked
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	s.Stop(ctx)
	require.True(t, conn.IsClosed())
}
