package store

import (
	"maps"
	"slices"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// withTwins sees to it that a flag is not said to be cleared while its twin is open. A flag is known by its kind and what it
// is on; two days of a room can find the same of one case, each for itself, and when one of them no longer does the other
// stands: it has changed.
func (d *draft) withTwins(n tracker.Name, changes []events.FlagChange) error {
	if n.Thing() != tracker.ThingRoomDay {
		return nil
	}
	for i, c := range changes {
		if c.Change != events.ChangeCleared {
			continue
		}
		twin, err := d.twin(n, &c.Flag)
		if err != nil {
			return err
		}
		if twin != nil {
			changes[i] = events.FlagChange{Change: events.ChangeChanged, Flag: *twin}
		}
	}
	return nil
}

// twin finds the same flag on another day of a room, nil when there is none. Few days of rooms are flagged at once, and a
// flag of one is seldom cleared.
func (d *draft) twin(n tracker.Name, flag *tracker.Flag) (*tracker.Flag, error) {
	days := map[tracker.Name]bool{}
	c := d.bucket(inFlagged).Cursor()
	for key, _ := c.First(); key != nil; key, _ = c.Next() {
		days[flaggedName(key)] = true
	}
	for of := d; of != nil; of = of.before {
		for name := range of.things {
			days[name] = true
		}
	}
	var found *tracker.Flag
	for name := range days {
		if name == n || name.Thing() != tracker.ThingRoomDay {
			continue
		}
		was, err := d.judged(name)
		if err != nil {
			return nil, err
		}
		if was == nil {
			continue
		}
		if same := findFlag(was.Findings.Flags, flag); same != nil && same.Case == flag.Case && (found == nil || same.Since.Before(found.Since)) {
			found = same
		}
	}
	return found, nil
}

// besideTwin is the same for a rebuild: what became of a flag of n, given all flags there are afterwards.
func besideTwin(n tracker.Name, c events.FlagChange, after map[tracker.Name][]tracker.Flag) events.FlagChange {
	if c.Change != events.ChangeCleared || n.Thing() != tracker.ThingRoomDay {
		return c
	}
	for _, name := range slices.Sorted(maps.Keys(after)) {
		if name == n || name.Thing() != tracker.ThingRoomDay {
			continue
		}
		if twin := findFlag(after[name], &c.Flag); twin != nil && twin.Case == c.Flag.Case {
			return events.FlagChange{Change: events.ChangeChanged, Flag: *twin}
		}
	}
	return c
}
