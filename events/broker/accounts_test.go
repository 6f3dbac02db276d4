package broker_test

import (
	"context"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nkeys"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/events/broker"
)

// guest is a program outside with a key of its own.
type guest struct {
	broker.Account
	seed []byte
}

// newGuest makes a key. It may record for its clinics, look up codes and, unless more is said, read nothing.
func newGuest(t *testing.T, name, role string, clinics ...string) *guest {
	t.Helper()
	pair, err := nkeys.CreateUser()
	require.NoError(t, err)
	public, err := pair.PublicKey()
	require.NoError(t, err)
	seed, err := pair.Seed()
	require.NoError(t, err)
	return &guest{broker.Account{Name: name, Role: role, Key: public, Clinics: clinics, Asks: []string{"codes"}}, seed}
}

// key signs in with the guest's key.
func (g *guest) key(t *testing.T) nats.Option {
	t.Helper()
	pair, err := nkeys.FromSeed(g.seed)
	require.NoError(t, err)
	return nats.Nkey(g.Key, pair.Sign)
}

// violations hears what the server forbids a connection.
type violations struct {
	said   chan string
	kept   []string
	fences int
}

func (v *violations) handle(_ *nats.Conn, _ *nats.Subscription, err error) { v.said <- err.Error() }

// forbidden reports whether the server forbade doing that with a subject, of all that was sent so far.
func (v *violations) forbidden(t *testing.T, conn *nats.Conn, doing, subject string) bool {
	t.Helper()
	v.fences++
	fence := fmt.Sprintf("fence.%d", v.fences) // nobody may publish that, and errors come in their order
	require.NoError(t, conn.Publish(fence, nil))
	for {
		select {
		case said := <-v.said:
			if strings.Contains(said, fence) {
				return slices.ContainsFunc(v.kept, func(said string) bool {
					return strings.Contains(said, fmt.Sprintf("Permissions Violation for %s to %q", doing, subject))
				})
			}
			v.kept = append(v.kept, said)
		case <-within(t).Done():
			t.Fatal("the server says nothing")
		}
	}
}

// enter connects a guest, until the end of the test.
func (g *guest) enter(t *testing.T, s *broker.Server, options ...nats.Option) (*nats.Conn, *violations) {
	t.Helper()
	v := &violations{said: make(chan string, 1024)}
	conn, err := nats.Connect(s.URL(), append([]nats.Option{g.key(t), nats.Name(g.Name), nats.ErrorHandler(v.handle)}, options...)...)
	require.NoError(t, err)
	t.Cleanup(conn.Close)
	return conn, v
}

// house is a listening server with accounts and doors.
type house struct {
	*broker.Server
	doors  *broker.Doors
	inside *nats.Conn
}

// answers are what the two handlers of a house do.
type answers struct {
	record broker.RecordHandler
	ask    broker.AskHandler
}

// saying answers a request with who the house believes sent it, and for which clinic.
func saying() answers {
	return answers{
		record: func(_ context.Context, r broker.RecordRequest) []byte {
			return fmt.Appendf(nil, "%s/%s/%s: %s", r.From.Role, r.From.Name, r.Clinic, r.Data)
		},
		ask: func(_ context.Context, q broker.Question) ([]byte, error) {
			return fmt.Appendf(nil, "%s/%s/%s/%s: %s", q.From.Role, q.From.Name, q.Clinic, q.What, q.Request), nil
		},
	}
}

func open(t *testing.T, a answers, guests ...*guest) *house {
	t.Helper()
	return openWith(t, a, slog.New(slog.DiscardHandler), guests...)
}

func openWith(t *testing.T, a answers, log *slog.Logger, guests ...*guest) *house {
	t.Helper()
	s, err := broker.Start(broker.Options{StoreDir: t.TempDir(), MaxStore: 64 << 20, Listen: "127.0.0.1:0", User: user, Password: password,
		Accounts: accounts(guests), Log: log})
	require.NoError(t, err)
	t.Cleanup(func() { s.Stop(context.Background()) })
	conn, err := s.ConnectToAnswer("house")
	require.NoError(t, err)
	inside, err := s.Connect("publisher")
	require.NoError(t, err)
	h := &house{Server: s, inside: inside, doors: broker.ServeAccounts(conn, a.record, a.ask, log)}
	t.Cleanup(func() { h.doors.Stop(context.Background()) })
	require.NoError(t, h.doors.Set(accounts(guests)))
	return h
}

// change puts these guests in the place of those that were.
func (h *house) change(t *testing.T, guests ...*guest) {
	t.Helper()
	require.NoError(t, h.doors.Set(accounts(guests)))
	require.NoError(t, h.SetAccounts(accounts(guests)))
}

func accounts(guests []*guest) []broker.Account {
	var list []broker.Account
	for _, g := range guests {
		list = append(list, g.Account)
	}
	return list
}

func TestWhoSentItIsKnown(t *testing.T) {
	porter, lab := newGuest(t, "hatch-scanner", "porter", "MBY", "HCX"), newGuest(t, "tarn-road", "laboratory", "MBY")
	h := open(t, saying(), porter, lab)
	for _, row := range []struct {
		who           *guest
		subject, says string
	}{
		{porter, "trail.v1.MBY.record", "porter/hatch-scanner/MBY: x"},
		{porter, "trail.v1.HCX.record", "porter/hatch-scanner/HCX: x"},
		{lab, "trail.v1.MBY.record", "laboratory/tarn-road/MBY: x"},
		{lab, "trail.v1.MBY.ask.codes", "laboratory/tarn-road/MBY/codes: x"},
	} {
		conn, _ := row.who.enter(t, h.Server)
		answer, err := conn.RequestWithContext(within(t), row.subject, []byte("x"))
		require.NoError(t, err, row.subject)
		require.Equal(t, row.says, string(answer.Data))
	}
}

// TestAnAccountCannotForge: not another's role or name, not our answers, nothing in a stream.
func TestAnAccountCannotForge(t *testing.T) {
	porter, lab := newGuest(t, "hatch-scanner", "porter", "MBY"), newGuest(t, "tarn-road", "laboratory", "MBY", "HCX")
	lab.Reads = []string{"event.>", "flag.>"}
	h := open(t, saying(), porter, lab)
	heard, err := h.inside.SubscribeSync("account.>")
	require.NoError(t, err)
	require.NoError(t, h.inside.Flush())
	conn, v := porter.enter(t, h.Server)
	for _, subject := range []string{
		"account.laboratory.tarn-road.trail.v1.MBY.record", "account.porter.hatch-scanner.trail.v1.MBY.record",
		"account.porter.hatch-scanner.trail.v1.HCX.record", "trail.v1.HCX.record", "trail.v1.MBY.ask.events", "trail.v1.MBY.event.note.added",
		"trail.v1.MBY.flag.pot-lost", "_INSIDE.x", "_R_.x", "_INBOX.x", "$JS.API.INFO", "$JS.API.STREAM.INFO.TRAIL", "$JS.API.CONSUMER.CREATE.TRAIL",
		"$JS.API.STREAM.DELETE.TRAIL", "$SYS.REQ.SERVER.PING", "$SYS.REQ.USER.INFO", "$SRV.INFO", "trail.v1.MBY.record.more", "trail.v1.M BY.record",
	} {
		if err := conn.Publish(subject, []byte("{}")); err != nil {
			require.ErrorIs(t, err, nats.ErrBadSubject, subject) // the library itself sees that
			continue
		}
		require.True(t, v.forbidden(t, conn, "Publish", subject), subject)
	}
	for _, subject := range []string{
		">", "*", "trail.>", "trail.v1.>", "trail.v1.*.record", "trail.v1.MBY.record", "trail.v1.MBY.ask.*", "trail.v1.MBY.event.>", "trail.v1.*.event.>",
		"account.>", "_R_.>", "_INSIDE.>", "_INBOX", "$SYS.>", "$JS.>",
	} {
		_, err := conn.SubscribeSync(subject)
		require.NoError(t, err)
		require.True(t, v.forbidden(t, conn, "Subscription", subject), subject)
	}
	_, err = conn.QueueSubscribeSync("trail.v1.MBY.record", "trail")
	require.NoError(t, err)
	require.True(t, v.forbidden(t, conn, "Subscription", "trail.v1.MBY.record"))
	require.NoError(t, h.inside.Flush())
	pending, _, err := heard.Pending()
	require.NoError(t, err)
	require.Zero(t, pending, "something got through")
	require.NoError(t, heard.Unsubscribe())
	answer, err := conn.RequestWithContext(within(t), "trail.v1.MBY.record", []byte("x"))
	require.NoError(t, err)
	require.Equal(t, "porter/hatch-scanner/MBY: x", string(answer.Data), "and all along it may do its work")
}

// TestWhatIsForbiddenCanBeSeen shows that the test above can fail: with more in its list an account gets through.
func TestWhatIsForbiddenCanBeSeen(t *testing.T) {
	porter := newGuest(t, "hatch-scanner", "porter", "MBY", "HCX")
	porter.Asks = append(porter.Asks, "events")
	porter.Reads = []string{"event.>"}
	h := open(t, saying(), porter)
	conn, v := porter.enter(t, h.Server)
	for _, subject := range []string{"trail.v1.HCX.record", "trail.v1.MBY.ask.events"} {
		require.NoError(t, conn.Publish(subject, nil))
		require.False(t, v.forbidden(t, conn, "Publish", subject), subject)
	}
	_, err := conn.SubscribeSync("trail.v1.MBY.event.>")
	require.NoError(t, err)
	require.False(t, v.forbidden(t, conn, "Subscription", "trail.v1.MBY.event.>"))
}

// TestNobodyReadsAnothersAnswers, though all inboxes have the same usual name: each account is a room of its own.
func TestNobodyReadsAnothersAnswers(t *testing.T) {
	one, other := newGuest(t, "hatch-one", "porter", "MBY"), newGuest(t, "hatch-two", "porter", "MBY")
	h := open(t, saying(), one, other)
	spy, v := other.enter(t, h.Server)
	heard, err := spy.SubscribeSync("_INBOX.>")
	require.NoError(t, err)
	require.False(t, v.forbidden(t, spy, "Subscription", "_INBOX.>"), "its own inbox it may read")
	trail, err := nats.Connect(h.URL(), nats.UserInfo(user, password))
	require.NoError(t, err)
	t.Cleanup(trail.Close)
	owner, err := trail.SubscribeSync("_INBOX.>")
	require.NoError(t, err)
	require.NoError(t, trail.Flush())

	conn, _ := one.enter(t, h.Server)
	_, err = conn.RequestWithContext(within(t), "trail.v1.MBY.record", []byte("x"))
	require.NoError(t, err)
	require.NoError(t, spy.Flush())
	require.NoError(t, trail.Flush())
	for who, sub := range map[string]*nats.Subscription{"another account": heard, "the owner's user": owner} {
		pending, _, err := sub.Pending()
		require.NoError(t, err)
		require.Zero(t, pending, who)
	}
	// That it would be seen: what comes back to the spy itself does arrive there.
	require.NoError(t, spy.PublishRequest("trail.v1.MBY.record", "_INBOX.mine", []byte("y")))
	msg, err := heard.NextMsgWithContext(within(t))
	require.NoError(t, err)
	require.Equal(t, "porter/hatch-two/MBY: y", string(msg.Data))
}

func TestAnAccountReadsItsClinicsAndNoOther(t *testing.T) {
	lab := newGuest(t, "tarn-road", "laboratory", "MBY")
	lab.Reads = []string{"event.>", "flag.pot-lost", "checkpoint.*"}
	h := open(t, saying(), lab)
	conn, v := lab.enter(t, h.Server)
	for _, subject := range []string{"trail.v1.MBY.flag.*", "trail.v1.HCX.event.>", "trail.v1.*.event.>", "trail.v1.HCX.flag.pot-lost"} {
		_, err := conn.SubscribeSync(subject)
		require.NoError(t, err)
		require.True(t, v.forbidden(t, conn, "Subscription", subject), subject)
	}
	all := make(chan *nats.Msg, 16)
	for _, subject := range []string{"trail.v1.MBY.event.>", "trail.v1.MBY.flag.pot-lost", "trail.v1.MBY.checkpoint.*"} {
		_, err := conn.ChanSubscribe(subject, all)
		require.NoError(t, err)
	}
	require.NoError(t, conn.Flush())
	for _, subject := range []string{"trail.v1.HCX.event.note.added", "trail.v1.MBY.flag.bag-short", "trail.v1.MBY.event.note.added", "trail.v1.HCX.checkpoint.n",
		"trail.v1.MBY.flag.pot-lost", "trail.v1.MBY.checkpoint.n"} {
		require.NoError(t, h.inside.Publish(subject, nil))
	}
	for _, subject := range []string{"trail.v1.MBY.event.note.added", "trail.v1.MBY.flag.pot-lost", "trail.v1.MBY.checkpoint.n"} {
		require.Equal(t, subject, (<-all).Subject)
	}
	require.NoError(t, h.inside.Flush())
	require.NoError(t, conn.Flush())
	require.Empty(t, all)
}

func TestAccountsThatCannotBe(t *testing.T) {
	good := newGuest(t, "hatch-scanner", "porter", "MBY").Account
	twin := good
	twin.Name = "hatch-two"
	server := newGuest(t, "x", "porter", "MBY")
	for name, row := range map[string]struct {
		change func(*broker.Account)
		also   []broker.Account
		says   string
	}{
		"no name":            {func(a *broker.Account) { a.Name = "" }, nil, "a name is"},
		"a name with a dot":  {func(a *broker.Account) { a.Name = "hatch.scanner" }, nil, "a name is"},
		"a name of subjects": {func(a *broker.Account) { a.Name = ">" }, nil, "a name is"},
		"the main account":   {func(a *broker.Account) { a.Name = "MAIN" }, nil, "a name is"},
		"the server's own":   {func(a *broker.Account) { a.Name = "$SYS" }, nil, "a name is"},
		"a long name":        {func(a *broker.Account) { a.Name = strings.Repeat("x", 41) }, nil, "a name is"},
		"no role":            {func(a *broker.Account) { a.Role = "" }, nil, "role"},
		"a role of subjects": {func(a *broker.Account) { a.Role = "*" }, nil, "role"},
		"no key":             {func(a *broker.Account) { a.Key = "" }, nil, "key"},
		"a seed for a key":   {func(a *broker.Account) { a.Key = string(server.seed) }, nil, "key"},
		"no clinic":          {func(a *broker.Account) { a.Clinics = nil }, nil, "clinics"},
		"any clinic":         {func(a *broker.Account) { a.Clinics = []string{"*"} }, nil, "hatch-scanner"},
		"any question":       {func(a *broker.Account) { a.Asks = []string{"*"} }, nil, "no question"},
		"reads records":      {func(a *broker.Account) { a.Reads = []string{"record"} }, nil, "cannot be read"},
		"reads all":          {func(a *broker.Account) { a.Reads = []string{">"} }, nil, "cannot be read"},
		"reads requests":     {func(a *broker.Account) { a.Reads = []string{"ask.*"} }, nil, "cannot be read"},
		"one key for two":    {func(*broker.Account) {}, []broker.Account{twin}, "same key"},
		"one name for two":   {func(*broker.Account) {}, []broker.Account{good}, "two with the name"},
	} {
		t.Run(name, func(t *testing.T) {
			a := good
			row.change(&a)
			_, err := broker.Start(broker.Options{StoreDir: t.TempDir(), Listen: "127.0.0.1:0", User: user, Password: password, Accounts: append([]broker.Account{a}, row.also...)})
			require.ErrorIs(t, err, broker.ErrAccount)
			require.ErrorContains(t, err, row.says)
			require.NotContains(t, err.Error(), string(server.seed), "what may be a secret is not repeated")
		})
	}
}

func TestAWrongKeyIsRefusedAndLoggedWithoutSecrets(t *testing.T) {
	porter, stranger := newGuest(t, "hatch-scanner", "porter", "MBY"), newGuest(t, "stranger", "porter", "MBY")
	var log syncedBuffer
	h := openWith(t, saying(), slog.New(slog.NewTextHandler(&log, nil)), porter)
	other, err := nkeys.FromSeed(stranger.seed)
	require.NoError(t, err)
	for name, option := range map[string]nats.Option{
		"nobody":              nats.Name("nobody"),
		"a key nobody knows":  stranger.key(t),
		"somebody else's key": nats.Nkey(porter.Key, other.Sign),
		"a guessed password":  nats.UserInfo(user, "guessed-secret"),
		"a name for a user":   nats.UserInfo(porter.Name, porter.Key),
	} {
		_, err := nats.Connect(h.URL(), option)
		require.ErrorIs(t, err, nats.ErrAuthorization, name)
	}
	require.Contains(t, log.String(), "authentication error")
	require.NotContains(t, log.String(), "guessed-secret")
	require.NotContains(t, log.String(), string(stranger.seed))
	require.NotContains(t, log.String(), events.SubjectRecords)
}

// syncedBuffer is a buffer that a server may write to while a test reads.
type syncedBuffer struct {
	mu sync.Mutex
	b  strings.Builder
}

func (b *syncedBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.Write(p)
}

func (b *syncedBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.String()
}
