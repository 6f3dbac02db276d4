package daemon

import (
	"context"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/tracker"
)

// AddClient is set-up.
func (g guarded) AddClient(ctx context.Context, r ask.AddClientRequest) (*ask.ClientsAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MayManageStations, owner: true}, g.Service.AddClient, r)
}

// RemoveClient is set-up.
func (g guarded) RemoveClient(ctx context.Context, r ask.RemoveClientRequest) (*ask.ClientsAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MayManageStations, owner: true}, g.Service.RemoveClient, r)
}

// ListClients shows who is let in.
func (g guarded) ListClients(ctx context.Context, r ask.ListClientsRequest) (*ask.ClientsAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MayManageStations, owner: true}, g.Service.ListClients, r)
}
