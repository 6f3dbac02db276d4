package daemon

import (
	"context"
	"slices"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/web"
	"github.com/pottrail/pottrail/tracker"
)

// Record judges each event by itself; see [Service.Record].
func (g guarded) Record(ctx context.Context, r ask.Recording) (ask.Recorded, error) {
	return g.Service.Record(ctx, r)
}

// Case is for those who have the case in their care.
func (g guarded) Case(ctx context.Context, r ask.Request) (*ask.CaseAnswer, error) {
	d := deed{key: tracker.MaySeeCase}
	d.about, d.clinic = thing(r.Name)
	if err := g.may(ctx, d); err != nil {
		return nil, err
	}
	return g.Service.Case(ctx, r)
}

// Pot is for those who have the case in their care.
func (g guarded) Pot(ctx context.Context, r ask.Request) (*ask.PotAnswer, error) {
	d := deed{key: tracker.MaySeePot}
	d.about, d.clinic = thing(r.Name)
	if err := g.may(ctx, d); err != nil {
		return nil, err
	}
	return g.Service.Pot(ctx, r)
}

// Flags leaves out clinics whose flags are not for whoever asks.
func (g guarded) Flags(ctx context.Context, r ask.Request) (*ask.FlagsAnswer, error) {
	d := deed{key: tracker.MaySeeFlags, clinic: r.Clinic, flag: tracker.FlagKind(r.Kind)}
	if r.Name != "" {
		_, d.clinic = thing(r.Name)
	}
	mine, err := g.mine(ctx, d)
	if err != nil {
		return nil, err
	}
	answer, err := g.Service.Flags(ctx, r)
	if err != nil || answer == nil {
		return nil, err
	}
	kept := *answer
	kept.Flags, kept.Under = []tracker.Flag{}, nil
	for i, f := range answer.Flags {
		if !mine(f.Item.Clinic()) {
			continue
		}
		kept.Flags = append(kept.Flags, f)
		if i < len(answer.Under) {
			kept.Under = append(kept.Under, answer.Under[i])
		}
	}
	kept.Held = slices.DeleteFunc(kept.Held, func(h tracker.HeldFlag) bool { return !mine(h.Item.Clinic()) })
	return &kept, nil
}

// Chase leaves out clinics whose list is not for whoever asks.
func (g guarded) Chase(ctx context.Context, r ask.Request) (*ask.ChaseAnswer, error) {
	mine, err := g.mine(ctx, deed{key: tracker.MaySeeChase, clinic: r.Clinic})
	if err != nil {
		return nil, err
	}
	answer, err := g.Service.Chase(ctx, r)
	if err != nil {
		return nil, err
	}
	answer.Rows = slices.DeleteFunc(answer.Rows, func(row tracker.ChaseRow) bool { return !mine(row.Case.Clinic()) })
	return answer, nil
}

// Codes is for whoever scans. How bad a thing's worst flag is, is told of the flags that whoever asks may see.
func (g guarded) Codes(ctx context.Context, r ask.Request) (*ask.CodesAnswer, error) {
	d := deed{key: tracker.MaySeeCodes}
	d.about, d.clinic = thing(r.Name)
	if err := g.may(ctx, d); err != nil {
		return nil, err
	}
	return g.codes(r, func(kind tracker.FlagKind) bool {
		return g.may(ctx, deed{key: tracker.MaySeeFlags, clinic: d.clinic, flag: kind}) == nil
	})
}

// Proof is for those who may give a case's events out of the house.
func (g guarded) Proof(ctx context.Context, r ask.Request) (*ask.ProofAnswer, error) {
	d := deed{key: tracker.MaySeeProof}
	d.about, d.clinic = thing(r.Name)
	if err := g.may(ctx, d); err != nil {
		return nil, err
	}
	return g.Service.Proof(ctx, r)
}

// Events without a clinic are those of all clinics, so they are for whoever may read each.
func (g guarded) Events(ctx context.Context, r ask.Request) (*ask.EventsAnswer, error) {
	clinics := []string{r.Clinic}
	if r.Clinic == "" && g.asked(ctx) {
		var err error
		if clinics, err = g.clinics(); err != nil {
			return nil, err
		}
	}
	for _, clinic := range clinics {
		if err := g.may(ctx, deed{key: tracker.MaySeeEvents, clinic: clinic}); err != nil {
			return nil, err
		}
	}
	return g.Service.Events(ctx, r)
}

// Board leaves out clinics that are not for whoever looks.
func (g guarded) Board(ctx context.Context) (web.BoardAnswer, error) {
	mine, err := g.mine(ctx, deed{key: tracker.MaySeeBoard})
	if err != nil {
		return web.BoardAnswer{}, err
	}
	answer, err := g.Service.Board(ctx)
	answer.Open = slices.DeleteFunc(answer.Open, func(j tracker.Judgement) bool { return !mine(j.Summary.Name.Clinic()) })
	return answer, err
}

// Changes leaves out what changes at clinics that are not for whoever looks; its place is kept, empty.
func (g guarded) Changes(ctx context.Context, from uint64, limit int) ([]web.Change, uint64, error) {
	mine, err := g.mine(ctx, deed{key: tracker.MaySeeBoard})
	if err != nil {
		return nil, from, err
	}
	changes, next, err := g.Service.Changes(ctx, from, limit)
	for i, c := range changes {
		if !mine(c.Clinic) {
			changes[i].JSON = nil
		}
	}
	return changes, next, err
}
