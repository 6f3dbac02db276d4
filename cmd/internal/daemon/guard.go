package daemon

import (
	"context"
	"slices"
	"strings"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// guarded is the service as pages, programs and commands see it: each question and each deed asks first whether whoever asks
// may, once people sign in. Until then it is the service itself. What the daemon asks of itself goes past it.
//
// A method that is added to [ask.Service] or [ask.Local] needs its own here: TestEveryDoorIsGuarded calls all of them.
type guarded struct{ *Service }

// deed is what somebody wants to see or do.
type deed struct {
	key     string // of the table of rights
	clinic  string // whose; "" when it is of no one clinic
	about   tracker.Name
	flag    tracker.FlagKind
	by      string // whom the request names as asking; "" when it names nobody
	station string
	owner   bool // the owner of the folder may, whoever is named: so that a clinic that shut itself out can be let in again
}

// asks is who asks, as far as rights go.
type asks struct {
	staff   string        // whose roles count; "" for the owner of the folder, for an account, or a station alone
	roles   tracker.Roles // of an account
	all     bool          // the owner of the folder, who names nobody
	station bool          // an enrolled station with nobody signed in
}

// who says who asks. The error says that nobody does, or that the request names another.
func (g guarded) who(ctx context.Context, d deed) (asks, error) {
	actor := ask.ActorOf(ctx)
	switch actor.Way {
	case ask.WayOwner:
		if d.by == "" || d.owner {
			return asks{all: true}, nil
		}
		known, err := g.vouch.Known(d.by)
		if err == nil && !known {
			err = &ask.Error{Kind: ask.Forbidden, Code: string(events.CodeNotSignedIn), Field: "by",
				Text: "nobody is set up as " + d.by + ": say with --by who asks, or set them up with pottrail staff add"}
		}
		return asks{staff: d.by}, err
	case ask.WaySession:
		if d.by != "" && d.by != actor.Staff || d.station != "" && d.station != actor.Station {
			return asks{}, &ask.Error{Kind: ask.Forbidden, Code: string(events.CodeNotSignedIn), Field: "by",
				Text: "this is asked in the name of " + or(d.by, "nobody") + " at " + or(d.station, "no station") + ", and " + actor.Staff + " is signed in at " + actor.Station}
		}
		return asks{staff: actor.Staff}, nil
	case ask.WayAccount:
		roles, _ := tracker.ParseRole(actor.Role)
		return asks{roles: roles}, nil
	case ask.WayStation:
		return asks{station: true}, nil
	}
	return asks{}, errSignIn()
}

// asked reports whether rights are asked for: once people sign in and, of an account of the broker, always, since it has its role
// from the day it is let in.
func (g guarded) asked(ctx context.Context) bool {
	return g.inForce() || ask.ActorOf(ctx).Way == ask.WayAccount
}

// may says whether whoever asks may. Of a deed of no one clinic a role in any of them will do, and whom no clinic lists may
// do it only if no clinic lists anybody who may.
func (g guarded) may(ctx context.Context, d deed) error {
	if !g.asked(ctx) {
		return nil
	}
	a, err := g.who(ctx, d)
	if err != nil || a.all {
		return err
	}
	clinics := []string{d.clinic}
	if d.clinic == "" {
		if clinics, err = g.clinics(); err != nil {
			return err
		}
	}
	if slices.ContainsFunc(clinics, func(clinic string) bool { return g.listedFor(a, d, clinic) }) ||
		!slices.ContainsFunc(clinics, func(clinic string) bool { return !g.permits(a, d, clinic) }) {
		return nil
	}
	return g.lacks(ctx, a, d, clinics)
}

// listedFor reports whether a clinic's protocol gives somebody a role that may.
func (g guarded) listedFor(a asks, d deed, clinic string) bool {
	may := tracker.Readers(d.key, d.about, d.flag)
	return a.staff != "" && g.rules(clinic).RolesOf(a.staff)&may != 0
}

// permits reports whether a clinic's protocol lets somebody do it.
func (g guarded) permits(a asks, d deed, clinic string) bool {
	may := tracker.Readers(d.key, d.about, d.flag)
	switch {
	case a.all:
		return true
	case a.station:
		return may == tracker.Everybody
	case a.staff == "":
		return a.roles&may != 0
	}
	return g.rules(clinic).Permits(a.staff, may, true)
}

// lacks is the refusal, with whom to ask in the clinic that the asker belongs to, or the first.
func (g guarded) lacks(ctx context.Context, a asks, d deed, clinics []string) error {
	if a.station {
		return errSignIn()
	}
	may := tracker.Readers(d.key, d.about, d.flag)
	rules := g.rules(clinics[0])
	for _, clinic := range clinics {
		if mine := g.rules(clinic); mine.RolesOf(a.staff) != 0 {
			rules = mine
			break
		}
	}
	text := ""
	if a.staff == "" {
		text = accountLacks(ask.ActorOf(ctx), need{tracker.ReadRight(d.key).Doing, may}, rules)
	} else {
		text = rules.Lacks(tracker.ReadRight(d.key).Doing, may, a.staff)
	}
	return &ask.Error{Kind: ask.Forbidden, Code: string(events.CodeRightMissing), Text: text}
}

// clinics are those that the record has something of, and one of none when it is empty.
func (g guarded) clinics() ([]string, error) {
	clinics, err := g.ledger.Clinics()
	if err == nil && len(clinics) == 0 {
		clinics = []string{""}
	}
	return clinics, err
}

// mine says of which clinics somebody may see something that is told of all. The error says that it is none.
func (g guarded) mine(ctx context.Context, d deed) (func(clinic string) bool, error) {
	if !g.asked(ctx) {
		return func(string) bool { return true }, nil
	}
	a, err := g.who(ctx, d)
	if err != nil {
		return nil, err
	}
	clinics := []string{d.clinic}
	if d.clinic == "" {
		if clinics, err = g.clinics(); err != nil {
			return nil, err
		}
	}
	var open []string
	for _, clinic := range clinics {
		if g.permits(a, d, clinic) {
			open = append(open, clinic)
		}
	}
	if len(open) == 0 {
		return nil, g.lacks(ctx, a, d, clinics)
	}
	if len(open) == len(clinics) && d.clinic == "" {
		return func(clinic string) bool { return slices.Contains(open, clinic) || g.permits(a, d, clinic) }, nil
	}
	return func(clinic string) bool { return slices.Contains(open, clinic) }, nil
}

// thing is what a request names, and its clinic; what cannot be read names nothing, and the service will say so.
func thing(text string) (tracker.Name, string) {
	if strings.TrimSpace(text) == "" {
		return "", ""
	}
	item, err := ask.Request{Name: text}.Thing()
	if err != nil {
		return "", ""
	}
	return item.Name, item.Name.Clinic()
}

// mayEach asks for the right to each of several things.
func (g guarded) mayEach(ctx context.Context, key string, names []string, by, station string) error {
	for _, text := range names {
		d := deed{key: key, by: by, station: station}
		if d.about, d.clinic = thing(text); d.about.Thing() != tracker.ThingBag {
			d.about = "" // one question a clinic, not one a label
		}
		if err := g.may(ctx, d); err != nil {
			return err
		}
	}
	if len(names) == 0 {
		return g.may(ctx, deed{key: key, by: by, station: station})
	}
	return nil
}
