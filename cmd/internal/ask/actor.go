package ask

import "context"

// Way is how a request came in, which decides how far what it says of itself is believed.
type Way string

// The ways in.
const (
	WayNobody  Way = ""        // not signed in, where signing in is in force
	WayOpen    Way = "open"    // this machine, before anybody is set up: staff keys are believed
	WayOwner   Way = "owner"   // the socket in the data folder: its owner, who vouches for staff keys
	WaySession Way = "session" // somebody signed in at an enrolled station
	WayStation Way = "station" // an enrolled station's own key with nobody signed in: a queue that is sent later
	WayAccount Way = "account" // an account of the broker, which stands for one role
)

// Actor is who asks, as far as the daemon knows. The zero value is nobody.
type Actor struct {
	Way     Way
	Staff   string // key of who is signed in
	Station string // key of the enrolled station
	Role    string // that a broker's account stands for
	Account string // the account's name
}

type actorKey struct{}

// WithActor says in a request's context who asks.
func WithActor(ctx context.Context, a Actor) context.Context {
	return context.WithValue(ctx, actorKey{}, a)
}

// ActorOf is who asks; nobody when the context does not say.
func ActorOf(ctx context.Context) Actor {
	a, _ := ctx.Value(actorKey{}).(Actor)
	return a
}
