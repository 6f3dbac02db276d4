package ask

import (
	"context"
	"time"
)

// Clients is how programs and devices outside are let in over NATS, each under a name, a key and a role of its own. It is
// asked for over the socket in the data folder, by its owner.
type Clients interface {
	// AddClient lets one in, at once.
	AddClient(ctx context.Context, r AddClientRequest) (*ClientsAnswer, error)
	// RemoveClient shuts one out, and ends its connections.
	RemoveClient(ctx context.Context, r RemoveClientRequest) (*ClientsAnswer, error)
	// ListClients says who is let in, and what each may do.
	ListClients(ctx context.Context, r ListClientsRequest) (*ClientsAnswer, error)
}

// AddClientRequest is a new client. Its secret is not in it, and never with the daemon.
type AddClientRequest struct {
	Name    string   `json:"name"` // "hatch-scanner": small letters, digits, hyphens
	Role    string   `json:"role"` // a role of people: it may record and ask what they may
	Clinics []string `json:"clinics"`
	Key     string   `json:"key"` // its public key for NATS, "U…"
}

// RemoveClientRequest names a client to shut out.
type RemoveClientRequest struct {
	Name string `json:"name"`
}

// ListClientsRequest asks for all clients or, with a name, for one.
type ListClientsRequest struct {
	Name string `json:"name,omitzero"`
}

// ClientsAnswer lists clients by name; of a change, the one that it was about.
type ClientsAnswer struct {
	Address string   `json:"address,omitzero"` // where they connect; empty when the daemon listens nowhere
	Clients []Client `json:"clients"`
}

// Client is a program or device that is let in over NATS.
type Client struct {
	Name      string    `json:"name"`
	Role      string    `json:"role"`
	Clinics   []string  `json:"clinics"`
	Key       string    `json:"key"`
	Added     time.Time `json:"added"`
	Connected int       `json:"connected"` // connections that are open now
	Sends     []string  `json:"sends"`     // subjects that it may send requests to
	Reads     []string  `json:"reads"`     // subjects that it may subscribe to
}
