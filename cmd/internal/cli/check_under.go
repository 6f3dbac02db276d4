package cli

import (
	"slices"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// tellUnder says of each flag under which protocol it was raised: of a file's events, with a protocol given, always that.
func (a *app) tellUnder(answer *ask.FlagsAnswer, rulesFile string, all []*tracker.Event, rules func(string) *tracker.Rules) error {
	filed := tracker.File(all)
	load := func(n tracker.Name) ([]*tracker.Event, error) { return filed[n], nil }
	adoptions := map[string][]tracker.Adoption{}
	for _, f := range answer.Flags {
		clinic := f.Item.Clinic()
		switch {
		case adoptions[clinic] != nil:
		case rulesFile != "":
			adoptions[clinic] = []tracker.Adoption{{Rules: rules(clinic)}}
		default:
			list, err := adoptionsIn(all, clinic)
			if err != nil {
				return err
			}
			adoptions[clinic] = list
		}
		watched := tracker.Watched(f.Item)
		gathered, err := tracker.Gather(watched, load)
		if err != nil {
			return err
		}
		answer.Under = append(answer.Under, ask.UnderOf(f, tracker.RaisedUnder(f, watched, gathered, adoptions[clinic])))
	}
	return nil
}

// adoptionsIn are the protocols of a clinic in a file of events, in order, the one inside the program first.
func adoptionsIn(all []*tracker.Event, clinic string) ([]tracker.Adoption, error) {
	fallback, err := tracker.NewRules(protocol.Default(), time.LoadLocation)
	if err != nil {
		return nil, err
	}
	adopted := slices.DeleteFunc(slices.Clone(all), func(e *tracker.Event) bool {
		return e.Kind != tracker.KindProtocolAdopted || e.Clinic != clinic
	})
	slices.SortFunc(adopted, (*tracker.Event).Compare)
	list := []tracker.Adoption{{Rules: fallback}}
	for _, e := range adopted {
		fact, ok := e.Data.(*tracker.ProtocolAdopted)
		if !ok {
			continue
		}
		adoption := tracker.Adoption{When: e.When(), By: e.By}
		if p, err := protocol.Parse([]byte(fact.Text)); err == nil {
			if adoption.Rules, err = tracker.NewRules(p, time.LoadLocation); err != nil {
				return nil, unreadable("the protocol that %s adopted: %w", clinic, err)
			}
		}
		list = append(list, adoption)
	}
	return list, nil
}
