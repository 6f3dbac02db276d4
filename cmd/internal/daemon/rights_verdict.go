package daemon

import (
	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// forSender leaves out of a verdict what whoever sent the event may not see: sentences of flags tell lesions and results, and
// a porter's phone is read in lifts. That a step is not the sender's to do is told to everybody. The verdict that is kept has
// all of it.
func (r *recording) forSender(e *tracker.Event, v events.Verdict) events.Verdict {
	if !r.strict || r.actor.Way == ask.WayOwner {
		return v
	}
	v.Raised, v.Cleared = r.seen(e, v.Raised), r.seen(e, v.Cleared)
	return v
}

func (r *recording) seen(e *tracker.Event, all []events.Brief) []events.Brief {
	if all == nil {
		return nil
	}
	seen := []events.Brief{}
	for _, f := range all {
		if f.Kind == tracker.FlagRoleDoubtful || r.sees(e, f) {
			seen = append(seen, f)
		}
	}
	return seen
}

func (r *recording) sees(e *tracker.Event, f events.Brief) bool {
	seers, staff := tracker.FlagSeers(f.Kind), r.actor.Staff
	switch r.actor.Way {
	case ask.WayAccount:
		role, _ := tracker.ParseRole(r.actor.Role)
		return role&seers != 0
	case ask.WayStation:
		staff = e.By
	}
	return r.s.rules(f.Item.Clinic()).Permits(staff, seers, true)
}
