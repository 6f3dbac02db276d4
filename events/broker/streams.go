package broker

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/nats-io/nats.go/jetstream"
)

// Names of the streams. Source: contract page 2.
const (
	StreamTrail = "TRAIL" // recorded events, and nothing else
	StreamFlags = "FLAGS" // changes of flags

	// StreamCheckpoints has signed checkpoints of the record, ours and not the contract's.
	StreamCheckpoints = "CHECKPOINTS"
)

// Limits is how much a stream keeps; beyond any of them the oldest goes. Zero takes the default.
type Limits struct {
	MaxBytes int64
	MaxMsgs  int64
	MaxAge   time.Duration
}

// trailDefault is what TRAIL keeps where nothing else is said, in a store of so many bytes: months of a busy clinic's
// events, and half of the store. Ours.
func trailDefault(store int64) Limits {
	return Limits{MaxBytes: store / 2, MaxMsgs: 1_000_000, MaxAge: 90 * 24 * time.Hour}
}

// flagsDefault is the same for FLAGS: a month, and an eighth of the store. Ours.
func flagsDefault(store int64) Limits {
	return Limits{MaxBytes: store / 8, MaxMsgs: 200_000, MaxAge: 30 * 24 * time.Hour}
}

// checkpointsDefault is the same for CHECKPOINTS: more than a year of hourly ones, and a 64th of the store. Ours.
func checkpointsDefault(store int64) Limits {
	return Limits{MaxBytes: store / 64, MaxMsgs: 50_000, MaxAge: 400 * 24 * time.Hour}
}

func (l Limits) or(otherwise Limits) Limits {
	return Limits{MaxBytes: or(l.MaxBytes, otherwise.MaxBytes), MaxMsgs: or(l.MaxMsgs, otherwise.MaxMsgs), MaxAge: or(l.MaxAge, otherwise.MaxAge)}
}

// duplicateWindow is how long the server remembers message ids. It only saves traffic: a stream that lost a message
// can still remember its id, and then must not turn it away for long.
const duplicateWindow = time.Second

// config is a stream's whole configuration. Nobody deletes or purges single messages: gaps would look like loss.
func config(name, subject string, l Limits) jetstream.StreamConfig {
	return jetstream.StreamConfig{
		Name: name, Subjects: []string{subject},
		Storage: jetstream.FileStorage, Retention: jetstream.LimitsPolicy, Discard: jetstream.DiscardOld,
		MaxBytes: l.MaxBytes, MaxMsgs: l.MaxMsgs, MaxAge: l.MaxAge, MaxMsgSize: maxPayload,
		Duplicates: duplicateWindow, Replicas: 1, AllowDirect: true, DenyPurge: true, DenyDelete: true,
	}
}

// ensure makes the stream or brings it to its configuration. One that cannot be brought there, because its folder was
// made with other limits or by somebody else, is made anew.
func ensure(ctx context.Context, js jetstream.JetStream, c jetstream.StreamConfig) (jetstream.Stream, error) {
	stream, err := js.CreateOrUpdateStream(ctx, c)
	if err == nil {
		return stream, nil
	}
	var refused *jetstream.APIError
	if errors.As(err, &refused) && (refused.ErrorCode == insufficientStorage || refused.ErrorCode == invalidConfig) {
		if _, found := js.Stream(ctx, c.Name); found == nil {
			return recreate(ctx, js, c)
		}
	}
	return nil, fmt.Errorf("stream %s: %w", c.Name, err)
}

// Codes of the server. Source: nats-server v2.15.2, server/errors.json.
const (
	insufficientStorage jetstream.ErrorCode = 10047
	invalidConfig       jetstream.ErrorCode = 10052
)

// recreate throws the stream away and makes it anew, when what is in it cannot be carried on.
func recreate(ctx context.Context, js jetstream.JetStream, c jetstream.StreamConfig) (jetstream.Stream, error) {
	if err := js.DeleteStream(ctx, c.Name); err != nil && !errors.Is(err, jetstream.ErrStreamNotFound) {
		return nil, fmt.Errorf("stream %s: deleting it: %w", c.Name, err)
	}
	stream, err := js.CreateOrUpdateStream(ctx, c)
	if err != nil {
		return nil, fmt.Errorf("stream %s: making it anew: %w", c.Name, err)
	}
	return stream, nil
}
