package broker

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/go-json-experiment/json"
	"github.com/nats-io/nats-server/v2/server"

	"github.com/pottrail/pottrail/events"
)

// SetAccounts puts these accounts in the place of those that were. It takes effect at once: whoever is no longer among them,
// or has another key, is disconnected; all others stay connected. Of a request that arrives in the very moment its sender
// may be told that nobody answers, and sends it again.
//
// An error changes nothing: an [ErrAccount], two with one name or one key, or a change that the server does not take.
func (s *Server) SetAccounts(accounts []Account) error {
	s.reloading.Lock()
	defer s.reloading.Unlock()
	opts, err := s.serverOptions()
	if err == nil {
		err = addAccounts(opts, accounts)
	}
	if err != nil {
		return err
	}
	// What the global account has to offer, it has since the start. Leaving it out leaves it as it is.
	opts.Accounts = slices.DeleteFunc(opts.Accounts, func(a *server.Account) bool { return a.Name == server.DEFAULT_GLOBAL_ACCOUNT })
	// The server (v2.15.2) does not listen for an account that is new with a change of its options, only for one that it knows.
	for _, a := range accounts {
		s.nats.LookupOrRegisterAccount(a.Name)
	}
	if err := s.nats.ReloadOptions(opts); err != nil {
		return fmt.Errorf("NATS: accounts: %w", err)
	}
	return nil
}

// accountText is what the server reads of an account in its own configuration language, of which JSON is a part: the only
// way to give an account limits.
type accountText struct {
	JetStream string       `json:"jetstream,omitzero"`
	Exports   []exportText `json:"exports,omitzero"`
	Limits    limitsText   `json:"limits,omitzero"`
}

type limitsText struct {
	Connections   int `json:"max_connections"`
	Subscriptions int `json:"max_subscriptions"` // of one connection
	Payload       int `json:"max_payload"`
}

type exportText struct {
	Service string `json:"service,omitzero"`
	Stream  string `json:"stream,omitzero"`
}

// mainText is how the configuration language must call the global account, whose own name it does not take.
const mainText = "MAIN"

// exported is what the global account has to offer; each account imports its part of it and no more.
func exported() []exportText {
	before := Sender{Role: "*", Name: "*"}.prefix()
	return []exportText{
		{Service: before + events.SubjectRecords}, {Service: before + events.SubjectAsks},
		{Stream: events.SubjectEvents}, {Stream: events.SubjectFlags}, {Stream: events.SubjectCheckpoints},
	}
}

// addAccounts adds the global account with what it offers, and the accounts with what each may do, to the server's options.
// Where nothing listens nobody can come, and the accounts are there all the same.
func addAccounts(opts *server.Options, accounts []Account) error {
	texts := map[string]accountText{mainText: {JetStream: "enabled", Exports: exported()}}
	keys := map[string]string{}
	if len(accounts) > MaxAccounts {
		return fmt.Errorf("%w: there are %d, and %d is the most", ErrAccount, len(accounts), MaxAccounts)
	}
	for _, a := range accounts {
		if err := a.check(); err != nil {
			return err
		}
		if _, twice := texts[a.Name]; twice {
			return fmt.Errorf("%w: there are two with the name %s", ErrAccount, a.Name)
		}
		if other, twice := keys[a.Key]; twice {
			return fmt.Errorf("%w: %s and %s have the same key", ErrAccount, other, a.Name)
		}
		keys[a.Key] = a.Name
		texts[a.Name] = accountText{Limits: limitsText{Connections: maxConns, Subscriptions: maxSubs, Payload: accountPay}}
	}
	text, err := json.Marshal(map[string]any{"accounts": texts}, json.Deterministic(true))
	if err != nil {
		return fmt.Errorf("NATS: accounts: %w", err)
	}
	if err := opts.ProcessConfigString(string(text)); err != nil {
		return fmt.Errorf("NATS: accounts: %w", err)
	}
	byName := map[string]*server.Account{}
	for _, a := range opts.Accounts {
		byName[a.Name] = a
	}
	main := byName[mainText]
	main.Name = server.DEFAULT_GLOBAL_ACCOUNT
	for _, a := range accounts {
		if err := a.give(byName[a.Name], main); err != nil {
			return fmt.Errorf("NATS: account %s: %w", a.Name, err)
		}
		opts.Nkeys = append(opts.Nkeys, &server.NkeyUser{Nkey: a.Key, Account: byName[a.Name], Permissions: a.permissions()})
	}
	return nil
}

// give lets an account reach what it may, and nothing else, in the global account. Where a request of it arrives, its role
// and name stand in the subject: the server puts them there, and no client can.
func (a Account) give(account, main *server.Account) error {
	var errs []error
	for _, subject := range a.Sends() {
		errs = append(errs, account.AddServiceImport(main, subject, a.sender().prefix()+subject))
	}
	for _, subject := range a.Subscribes() {
		errs = append(errs, account.AddStreamImport(main, subject, ""))
	}
	return errors.Join(errs...)
}

// permissions are what the account's user may do within the account, where nobody else is: the same again. Answers come to
// the inbox, under whatever name the client gives it.
func (a Account) permissions() *server.Permissions {
	return &server.Permissions{
		Publish:   &server.SubjectPermission{Allow: a.Sends()},
		Subscribe: &server.SubjectPermission{Allow: append([]string{"_INBOX.>"}, a.Subscribes()...)},
	}
}

// subject is what the sender wrote, without what the server put before it.
func (s Sender) subject(full string) string { return strings.TrimPrefix(full, s.prefix()) }

// Connections is how many connections of an account are open.
func (s *Server) Connections(account string) int {
	a, err := s.nats.LookupAccount(account)
	if err != nil {
		return 0
	}
	return a.NumLocalConnections()
}
