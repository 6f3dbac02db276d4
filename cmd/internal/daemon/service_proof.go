package daemon

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/events/evidence"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/tracker"
)

// Proof shows that the events of a thing's trail are in the record; see [ask.Service]. It stands on the latest
// checkpoint, and on a new one when something of it was recorded since.
func (s *Service) Proof(ctx context.Context, r ask.Request) (*ask.ProofAnswer, error) {
	if s.notary == nil {
		return nil, errNothingSigned
	}
	item, err := r.Thing()
	if err != nil {
		return nil, err
	}
	if s.intake != nil && s.intake.damaged.Load() { // met while it runs
		return nil, errNothingSigned
	}
	watched := tracker.Watched(item.Name)
	proof, err := s.prove(watched)
	for try := 0; errors.Is(err, store.ErrNotCovered) && try < 3; try++ {
		if _, err = s.notary.make(ctx); err == nil {
			proof, err = s.prove(watched)
		}
	}
	switch {
	case errors.Is(err, store.ErrTooMany):
		return nil, &ask.Error{Kind: ask.Conflict, Code: "too-many", Field: "name", Text: fmt.Sprintf("%s has more than %d events, too many for one proof", watched.Printed(), evidence.MostEvents)}
	case errors.Is(err, store.ErrNotCovered):
		return nil, &ask.Error{Kind: ask.Unavailable, Code: "busy", Text: "events of it come in faster than they can be signed; ask again"}
	case errors.Is(err, store.ErrNoSpace):
		return nil, &ask.Error{Kind: ask.NoSpace, Code: "no-space", Text: "there is no space for a new checkpoint, and the last one is older than what is to be proved"}
	case err != nil:
		return nil, err
	}
	if len(proof.Events) == 0 {
		return nil, s.notKnown(item.Name)
	}
	if r.Older > 0 {
		if proof.Older, err = s.older(proof, r); err != nil {
			return nil, err
		}
	}
	return &ask.ProofAnswer{At: time.Now(), Proof: *proof}, nil
}

// errNothingSigned is said while the ledger can only be read.
var errNothingSigned = &ask.Error{Kind: ask.Unavailable, Code: "nothing-signed",
	Text: "the ledger can only be read, since something in it does not fit: nothing is signed and nothing is proved until that is cleared up"}

// prove makes a proof as of the latest checkpoints.
func (s *Service) prove(watched tracker.Name) (*evidence.Proof, error) {
	latest := s.notary.latest()
	sizes := map[string]uint64{}
	for origin, c := range latest {
		sizes[origin] = c.Size
	}
	p := &evidence.Proof{Name: watched, Key: s.notary.signer.Key(), Checkpoints: []evidence.Signed{}}
	var err error
	p.Events, err = s.ledger.Proof(watched, sizes, func(gathered []*tracker.Event) func(*tracker.Event) bool {
		return aboutCase(watched, tracker.StandsFor(gathered))
	})
	if err != nil {
		return nil, err
	}
	for _, origin := range slices.Sorted(maps.Keys(latest)) {
		if slices.ContainsFunc(p.Events, func(e evidence.Inclusion) bool { return e.Origin == origin }) {
			signed, err := s.notary.signed(latest[origin])
			if err != nil {
				return nil, err
			}
			p.Checkpoints = append(p.Checkpoints, signed)
		}
	}
	p.Statement, err = s.notary.signer.Statement(p.State())
	return p, err
}

// signed is a checkpoint as this node signs it: one that an earlier key signed is signed again, of the same state.
func (n *notary) signed(kept store.KeptCheckpoint) (evidence.Signed, error) {
	if _, err := evidence.OpenCheckpoint(kept.Note, n.signer.Key()); err == nil {
		return kept.Signed, nil
	}
	return n.signer.Checkpoint(kept.Checkpoint)
}

// older leads back to an earlier state of one origin's log.
func (s *Service) older(p *evidence.Proof, r ask.Request) (*evidence.Older, error) {
	origin := r.Origin
	if origin == "" {
		origin = s.ledger.Origin()
	}
	c, ok := p.Checkpoint(origin)
	if !ok {
		return nil, &ask.Error{Kind: ask.Conflict, Code: "other-origin", Field: "origin", Text: "nothing of " + p.Name.Printed() + " was recorded by " + evidence.NodeName(origin) + ", so nothing leads back to a checkpoint of it"}
	}
	if r.Older > c.Size {
		return nil, &ask.Error{Kind: ask.Conflict, Code: "went-back", Field: "older",
			Text: fmt.Sprintf("the older checkpoint is of %d entries, and the record of %s has %d as of its last: an older copy of the ledger was put here, or the checkpoint is of another record", r.Older, evidence.NodeName(origin), c.Size)}
	}
	older, err := s.ledger.Earlier(origin, r.Older, c.Size)
	if err != nil {
		return nil, err
	}
	return &older, nil
}

// Checkpoint gives the latest checkpoints; see [ask.Local].
func (s *Service) Checkpoint(ctx context.Context, r ask.CheckpointRequest) (*ask.CheckpointAnswer, error) {
	if s.notary == nil {
		return nil, errNothingSigned
	}
	if r.Make {
		if _, err := s.notary.make(ctx); errors.Is(err, store.ErrNoSpace) {
			return nil, &ask.Error{Kind: ask.NoSpace, Code: "no-space", Text: "there is no space for a new checkpoint"}
		} else if err != nil {
			return nil, err
		}
	}
	answer := &ask.CheckpointAnswer{Key: s.notary.signer.Key(), Checkpoints: []ask.CheckpointLine{}}
	latest := s.notary.latest()
	for _, origin := range slices.Sorted(maps.Keys(latest)) {
		c := latest[origin]
		size, err := s.ledger.Size(origin)
		if err != nil {
			return nil, err
		}
		answer.Checkpoints = append(answer.Checkpoints, ask.CheckpointLine{Signed: c.Signed, Short: c.Short(), Made: c.At, New: size - min(size, c.Size)})
	}
	return answer, nil
}
