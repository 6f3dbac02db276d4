package daemon

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"time"

	"github.com/go-json-experiment/json"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/tracker/demo"
)

// demoZone is where the invented network is.
const demoZone = "Europe/London"

// Demo says over which invented network a daemon runs.
type Demo struct {
	Seed     uint64
	Weeks    int
	Progress func(done, total int) // told as the history goes in; may be nil

	state demoState
}

// demoState is what demo.json keeps, so that a demo that was killed goes on with the same network.
type demoState struct {
	Seed  uint64    `json:"seed"`
	Weeks int       `json:"weeks"`
	Now   time.Time `json:"now"` // when the demo was first started; its history ends there
	In    bool      `json:"in"`  // all of the history is recorded
}

// mark claims the folder for the demo before anything else is in it, or reads what was claimed before.
func (d *Demo) mark(f folder) error {
	data, err := os.ReadFile(f.path(fileDemo))
	if errors.Is(err, fs.ErrNotExist) {
		d.state = demoState{Seed: d.Seed, Weeks: d.Weeks, Now: time.Now().Truncate(time.Second)}
		return d.keep(f)
	}
	if err != nil {
		return fmt.Errorf("%s: %w", fileDemo, err)
	}
	if err := json.Unmarshal(data, &d.state, json.RejectUnknownMembers(true)); err != nil {
		return fmt.Errorf("%s cannot be read: %w: %w", f.path(fileDemo), err, ErrForeign)
	}
	return nil
}

func (d *Demo) keep(f folder) error {
	data, err := json.Marshal(d.state)
	if err != nil {
		return fmt.Errorf("%s: %w", fileDemo, err)
	}
	return f.writeWhole(fileDemo, append(data, '\n'))
}

// letIn records the history through the same intake as everything else. After a kill it is all sent again: an id that
// is known changes nothing.
func (d *Demo) letIn(ctx context.Context, f folder, s *Service) error {
	if d.state.In {
		return nil
	}
	zone, err := time.LoadLocation(demoZone)
	if err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	network, err := demo.Generate(demo.Options{Seed: d.state.Seed, Weeks: d.state.Weeks, Now: d.state.Now, Zone: zone})
	if err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	for _, p := range network.People {
		patient := ask.Patient{Family: p.Family, Given: p.Given, BirthDate: string(p.Born), RecordNumber: p.Record, NationalNumber: p.National, Address: p.Address}
		if err := s.people.put(p.Ref, patient); err != nil {
			return fmt.Errorf("demo: %w", err)
		}
	}
	batch := make([]store.Intake, 0, batchEvents)
	for i, e := range network.Events {
		if batch = append(batch, store.Intake{Event: e}); len(batch) < batchEvents && i < len(network.Events)-1 {
			continue
		}
		verdicts, err := s.intake.submit(ctx, batch)
		if err != nil {
			return fmt.Errorf("demo: %w", err)
		}
		for _, v := range verdicts {
			if !v.OK {
				return fmt.Errorf("demo: event %s was not recorded: %w", v.ID, v.Error)
			}
		}
		if batch = make([]store.Intake, 0, batchEvents); d.Progress != nil {
			d.Progress(i+1, len(network.Events))
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
	}
	d.state.In = true
	return d.keep(f)
}
