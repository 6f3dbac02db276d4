package daemon

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"strings"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/events/broker"
	"github.com/pottrail/pottrail/tracker"
)

// AddClient lets a program in over NATS; see [ask.Clients].
func (s *Service) AddClient(_ context.Context, r ask.AddClientRequest) (*ask.ClientsAnswer, error) {
	if _, ok := tracker.ParseRole(r.Role); !ok {
		return nil, &ask.Error{Kind: ask.Invalid, Code: "bad-word", Field: "role", Text: "role: one of " + strings.Join(tracker.Everybody.Keys(), ", ")}
	}
	clinics := slices.Clone(r.Clinics)
	slices.Sort(clinics)
	added := clientEntry{Name: r.Name, Role: r.Role, Clinics: slices.Compact(clinics), Key: r.Key, Added: time.Now().Truncate(time.Second)}
	c, err := s.openClients()
	if err != nil {
		return nil, err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, known := range c.all {
		switch {
		case known.Name == r.Name:
			return nil, &ask.Error{Kind: ask.Conflict, Code: "known-client", Field: "name", Text: "there is a client " + r.Name + " already: remove it first, or take another name"}
		case known.Key == r.Key:
			return nil, &ask.Error{Kind: ask.Conflict, Code: "known-client", Field: "key", Text: "the client " + known.Name + " has this key: each has one of its own"}
		}
	}
	all := append(slices.Clone(c.all), added)
	slices.SortFunc(all, func(a, b clientEntry) int { return cmp.Compare(a.Name, b.Name) })
	if err := c.change(all); err != nil {
		if errors.Is(err, broker.ErrAccount) {
			return nil, &ask.Error{Kind: ask.Invalid, Code: "bad-client", Text: err.Error()}
		}
		return nil, err
	}
	s.log.Info("a client is let in over NATS", "client", added.Name, "role", added.Role, "clinics", added.Clinics)
	return s.toldClients(added), nil
}

// RemoveClient shuts a program out; see [ask.Clients].
func (s *Service) RemoveClient(_ context.Context, r ask.RemoveClientRequest) (*ask.ClientsAnswer, error) {
	c, err := s.openClients()
	if err != nil {
		return nil, err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	at := slices.IndexFunc(c.all, func(e clientEntry) bool { return e.Name == r.Name })
	if at < 0 {
		return nil, errNoClient(r.Name)
	}
	gone := s.toldClients(c.all[at])
	if err := c.change(slices.Delete(slices.Clone(c.all), at, at+1)); err != nil {
		return nil, err
	}
	s.log.Info("a client is shut out of NATS", "client", r.Name)
	return gone, nil
}

// ListClients says who is let in; see [ask.Clients].
func (s *Service) ListClients(_ context.Context, r ask.ListClientsRequest) (*ask.ClientsAnswer, error) {
	c, err := s.openClients()
	if err != nil {
		return nil, err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if r.Name == "" {
		return s.toldClients(c.all...), nil
	}
	at := slices.IndexFunc(c.all, func(e clientEntry) bool { return e.Name == r.Name })
	if at < 0 {
		return nil, errNoClient(r.Name)
	}
	return s.toldClients(c.all[at]), nil
}

// openClients are those that are let in, once NATS runs.
func (s *Service) openClients() (*clients, error) {
	if s.clients == nil {
		return nil, &ask.Error{Kind: ask.Unavailable, Code: "starting", Text: "NATS does not run yet: ask again in a moment"}
	}
	return s.clients, nil
}

func errNoClient(name string) error {
	return &ask.Error{Kind: ask.NotFound, Code: "no-such-client", Field: "name", Text: "there is no client " + name + "; `pottrail clients list` names them"}
}

func (s *Service) toldClients(all ...clientEntry) *ask.ClientsAnswer {
	answer := &ask.ClientsAnswer{Address: s.clients.server.URL(), Clients: make([]ask.Client, len(all))}
	for i, e := range all {
		a := e.account()
		answer.Clients[i] = ask.Client{Name: e.Name, Role: e.Role, Clinics: e.Clinics, Key: e.Key, Added: e.Added,
			Connected: s.clients.server.Connections(e.Name), Sends: a.Sends(), Reads: a.Subscribes()}
	}
	return answer
}
