package broker

import (
	"context"
	"crypto/rand"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"strconv"
	"sync"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nats.go"

	"github.com/pottrail/pottrail/events"
)

// Options says how the server inside the process runs. StoreDir is needed; the rest has defaults.
type Options struct {
	StoreDir string // folder of the streams, made if missing; the server's alone
	Name     string // of this server in its messages; default "pottrail"
	Domain   string // JetStream domain, for leaf nodes; default none

	Listen   string      // host:port for clients outside the process; "" listens nowhere; port 0 picks one
	User     string      // of clients outside; needed with Listen
	Password string      // likewise
	TLS      *tls.Config // needed for a host that is not loopback
	Accounts []Account   // programs and devices with a key and a role of their own; see [Server.SetAccounts]

	MaxStore     int64         // bytes of all streams on disk; default 1 GiB
	MaxMemory    int64         // bytes of streams in memory; default 16 MiB
	SyncInterval time.Duration // how often streams are synced to disk; default 10 s

	Log *slog.Logger // the server's warnings and errors; default none
}

// Errors of [Start].
var (
	ErrNoCredentials = errors.New("a NATS port needs a user and a password")
	ErrNotLoopback   = errors.New("a NATS port beyond this machine needs TLS")
)

// Defaults of [Options], ours.
const (
	defaultMaxStore     = 1 << 30
	defaultMaxMemory    = 16 << 20
	defaultSyncInterval = 10 * time.Second
)

// maxPayload is the largest message: a whole request with its headers, and the verdicts on 500 events with what they
// raised, which can be longer than the events.
const maxPayload = 4 * events.MaxRequest

// maxConnections is how many connections there may be at once, those included that have not said yet who they are. Ours, far more
// than the programs and devices around a clinic open, and far fewer than the files that a process may have open.
const maxConnections = 2048

// signInWithin is how many seconds a connection may take to say who it is. As the server's own default.
const signInWithin = 2.0

// readyWithin is how long a start may take: a folder of a gigabyte is read in a few seconds.
const readyWithin = 30 * time.Second

// Server is a running NATS server and the connections to it that were handed out.
type Server struct {
	options  Options
	nats     *server.Server
	log      *serverLog
	password string // of the connections from inside

	healing   sync.Mutex // one restart of JetStream at a time
	reloading sync.Mutex // one change of accounts at a time
	mu        sync.Mutex
	conns     []*nats.Conn
	epoch     epoch
}

// insideUser is the user of connections from inside the process; its password is made anew at each start.
const insideUser = "pottrail-inside"

// answersUser is the user of connections that answer requests from outside: it can send answers and nothing else.
const answersUser = "pottrail-answers"

// Start runs a server. Errors say what to change: [ErrNoCredentials], [ErrNotLoopback], an address in use, a folder
// that cannot be written.
func Start(o Options) (*Server, error) {
	if o.StoreDir == "" {
		return nil, errors.New("NATS: no folder for the streams is given")
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	o.Name = or(o.Name, "pottrail")
	o.MaxStore, o.MaxMemory = or(o.MaxStore, defaultMaxStore), or(o.MaxMemory, defaultMaxMemory)
	o.SyncInterval = or(o.SyncInterval, defaultSyncInterval)
	s := &Server{options: o, password: rand.Text()}
	opts, err := s.serverOptions()
	if err != nil {
		return nil, err
	}
	// They are there before the port opens: a client that is refused twice may give up for good.
	if err := addAccounts(opts, o.Accounts); err != nil {
		return nil, err
	}
	if err := os.MkdirAll(o.StoreDir, 0o700); err != nil {
		return nil, fmt.Errorf("NATS: folder of the streams: %w", err)
	}
	if s.nats, err = server.NewServer(opts); err != nil {
		return nil, fmt.Errorf("NATS: %w", err)
	}
	s.log = &serverLog{log: o.Log, fatal: make(chan string, 1)}
	s.nats.SetLogger(s.log, false, false)
	s.nats.Start()
	if err := s.ready(); err != nil {
		s.nats.Shutdown()
		s.nats.WaitForShutdown()
		return nil, err
	}
	return s, nil
}

func or[T comparable](given, otherwise T) T {
	var zero T
	if given == zero {
		return otherwise
	}
	return given
}

func (s *Server) serverOptions() (*server.Options, error) {
	o := s.options
	opts := &server.Options{
		ServerName: o.Name, DontListen: true, NoSigs: true,
		MaxPayload: maxPayload, AuthTimeout: signInWithin, MaxConn: maxConnections,
		JetStream: true, StoreDir: o.StoreDir, JetStreamDomain: o.Domain,
		JetStreamMaxStore: o.MaxStore, JetStreamMaxMemory: o.MaxMemory, SyncInterval: o.SyncInterval,
		DisableJetStreamBanner: true,
		Users: []*server.User{{Username: insideUser, Password: s.password},
			{Username: answersUser, Password: s.password, Permissions: answering()}},
	}
	if o.Listen == "" {
		return opts, nil
	}
	if o.User == "" || o.Password == "" {
		return nil, fmt.Errorf("NATS: listening on %s: %w", o.Listen, ErrNoCredentials)
	}
	host, port, err := net.SplitHostPort(o.Listen)
	if err != nil {
		return nil, fmt.Errorf("NATS: %q is not host:port: %w", o.Listen, err)
	}
	if opts.Port, err = strconv.Atoi(port); err != nil || opts.Port < 0 || opts.Port > 65535 {
		return nil, fmt.Errorf("NATS: %q: the port is a number from 0 to 65535", o.Listen)
	}
	if opts.Port == 0 {
		opts.Port = server.RANDOM_PORT
	}
	if o.TLS == nil && !loopback(host) {
		return nil, fmt.Errorf("NATS: listening on %s: %w; write 127.0.0.1:%s", o.Listen, ErrNotLoopback, port)
	}
	// With no account, who comes with a key is refused all the same, and not told that keys are unheard of.
	opts.DontListen, opts.Host, opts.AlwaysEnableNonce = false, host, true
	if o.TLS != nil {
		opts.TLS, opts.TLSConfig, opts.TLSTimeout = true, o.TLS, 2
	}
	opts.Users = append(opts.Users, &server.User{Username: o.User, Password: o.Password, Permissions: outside(o.Domain)})
	return opts, nil
}

// loopback reports whether a host can be reached from this machine only. A name other than localhost may mean anything.
func loopback(host string) bool {
	if host == "localhost" {
		return true
	}
	ip := net.ParseIP(host)
	return ip != nil && ip.IsLoopback()
}

func (s *Server) ready() error {
	const look = 20 * time.Millisecond
	for started := time.Now(); !s.nats.ReadyForConnections(look); {
		select {
		case why := <-s.log.fatal:
			return fmt.Errorf("NATS: the server cannot run: %s", why)
		default:
		}
		if time.Since(started) > readyWithin {
			return fmt.Errorf("NATS: the server is not ready after %s", readyWithin)
		}
	}
	if !s.nats.JetStreamEnabled() {
		return fmt.Errorf("NATS: streams cannot be kept in %s; look at its rights and at the free space", s.options.StoreDir)
	}
	s.begin()
	return nil
}

// URL is where clients outside reach the server, "" when it listens nowhere.
func (s *Server) URL() string {
	if s.options.Listen == "" {
		return ""
	}
	return s.nats.ClientURL()
}

// Connect gives a connection inside the process, which lasts until [Server.Stop] drains it. It needs no port.
func (s *Server) Connect(name string) (*nats.Conn, error) { return s.connect(name, insideUser) }

// ConnectToAnswer gives a connection for [ServeRecord], [ServeAccounts] and [ServeQuestions]. Whoever asks says where the answer goes:
// over this connection it goes into an inbox or nowhere, and never into a stream or to the server itself.
func (s *Server) ConnectToAnswer(name string) (*nats.Conn, error) {
	return s.connect(name, answersUser)
}

func (s *Server) connect(name, user string) (*nats.Conn, error) {
	conn, err := nats.Connect("", nats.InProcessServer(s.nats), nats.Name(name), nats.UserInfo(user, s.password),
		nats.ErrorHandler(func(_ *nats.Conn, _ *nats.Subscription, err error) {
			s.log.say(slog.LevelWarn, name+": "+err.Error())
		}),
		// Clients outside may read the usual inboxes; answers to ours are none of their business.
		nats.CustomInboxPrefix("_INSIDE"), nats.MaxReconnects(-1), nats.ReconnectWait(50*time.Millisecond))
	if err != nil {
		return nil, fmt.Errorf("NATS: connection %s: %w", name, err)
	}
	s.mu.Lock()
	s.conns = append(s.conns, conn)
	s.mu.Unlock()
	return conn, nil
}

// Stop lets every connection finish what it was given, as long as the context allows, then stops the server and waits
// until its streams are on disk. Whoever publishes or answers must have been stopped before.
func (s *Server) Stop(ctx context.Context) {
	s.mu.Lock()
	conns := s.conns
	s.conns = nil
	s.mu.Unlock()
	for _, conn := range conns {
		closed := make(chan struct{})
		conn.SetClosedHandler(func(*nats.Conn) { close(closed) })
		if err := conn.Drain(); err != nil {
			conn.Close() // closed or never connected: nothing to drain
			continue
		}
		select {
		case <-closed:
		case <-ctx.Done():
			conn.Close()
		}
	}
	s.nats.Shutdown()
	s.nats.WaitForShutdown()
}
