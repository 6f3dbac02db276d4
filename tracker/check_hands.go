package tracker

import (
	"fmt"
	"slices"
	"time"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// hands judges what those who hold a pot did with it: kept too long, brought to the wrong place, broken on the way.
func (k *checking) hands() {
	for _, p := range k.c.Pots {
		k.damaged(p)
		if k.owesNothing() || k.settled(p) {
			continue
		}
		k.wrongDestination(p)
		k.collection(p)
		k.kept(p)
	}
}

// heldOnItsWay is the custody that counts for the pot: a scan of the whole case says nothing of a pot that was not used.
func (k *checking) heldOnItsWay(p *Pot) []Custody {
	meant := func(h Custody) bool { return h.Direct || h.Bag != "" || p.HasEvents && !k.c.unused(p) }
	if !slices.ContainsFunc(p.Custody, func(h Custody) bool { return !meant(h) }) {
		return p.Custody
	}
	return slices.DeleteFunc(slices.Clone(p.Custody), func(h Custody) bool { return !meant(h) })
}

// lastHeld is where the pot is now, as far as scans tell.
func (k *checking) lastHeld(p *Pot) (Custody, bool) {
	for i := len(p.Custody) - 1; i >= 0; i-- {
		if h := p.Custody[i]; h.Direct || h.Bag != "" || p.HasEvents && !k.c.unused(p) {
			return h, true
		}
	}
	return Custody{}, false
}

// kept: a pot stays at a place for longer than the place's role allows. Whoever holds it is asked first; when the same
// limit has passed once more, the coordinator is too. To have found it again starts the stretch anew: whoever did so
// has it in hand.
func (k *checking) kept(p *Pot) {
	held, ok := k.lastHeld(p)
	if !ok {
		return
	}
	role := k.r.role(held.Place)
	limit := k.r.p.Roles[role].Hold
	if limit.IsZero() || k.goneOn(p, role, held.When) {
		return
	}
	from, since := held.When, "since"
	if p.Found.After(from) {
		from, since = p.Found, "found there"
	}
	over := k.r.after(from, limit)
	if !k.missed(over) {
		return
	}
	worse := k.r.after(over, limit)
	f := Flag{Kind: FlagHandoffGap, Item: p.Name, Severity: Today, Since: over, Due: worse, Who: held.Holder, Basis: k.r.cite("roles." + role),
		Text: fmt.Sprintf("%s is at %s, %s %s, with %s; the limit there is %s.", potWord(p.Name), k.placeWord(held.Place), since, k.clock(from),
			held.Holder, limit),
		Remedy: fmt.Sprintf("Ring %s. Ask for pot %s: send it on and scan it there.", k.ringPlace(held.Place), p.Name.Letter())}
	if role == roleLaboratory {
		f.Text = fmt.Sprintf("%s was received at %s on %s by %s and has no number of the laboratory; the limit is %s.", potWord(p.Name),
			k.placeWord(held.Place), k.clock(from), held.Holder, limit)
		f.Remedy = fmt.Sprintf("Ring %s. Ask for pot %s: is it there, and what does it wait for?", k.ringPlace(held.Place), p.Name.Letter())
	}
	if k.reached(worse) {
		f.Who += ", coordinator"
	}
	k.raise(f)
}

// goneOn reports whether the laboratory took the pot on, so that it waits no longer where it was scanned last. What it did
// with the pot before counts too when that was at its own place; a final answer ends all waiting.
func (k *checking) goneOn(p *Pot, role string, held time.Time) bool {
	if k.c.hasFinal(p.Name) {
		return true
	}
	on := func(when time.Time) bool { return role == roleLaboratory || !when.Before(held) }
	switch {
	case p.Accession != nil && on(p.Accession.When), p.Counted != nil && on(p.Counted.When), p.Loaded != nil && on(p.Loaded.When):
		return true
	case len(p.Referrals) > 0 && on(p.Referrals[len(p.Referrals)-1].When):
		return true
	}
	for s := range k.c.PiecesIn(p.Name) {
		if s.Loaded != nil && on(s.Loaded.When) {
			return true
		}
	}
	return slices.ContainsFunc(k.c.Results, func(r *Result) bool { return slices.Contains(r.Pots, p.Name) && on(r.When) })
}

// wrongDestination: the laboratory that received the pot is not the one it was meant for. The first scan at a laboratory
// is the receipt; how the laboratory moves it about inside afterwards is its own affair. It is over when somebody takes
// the pot away from there, or it comes where it was meant to.
func (k *checking) wrongDestination(p *Pot) {
	if p.Plan == nil || k.r.role(p.Plan.To) != roleLaboratory {
		return
	}
	held := k.heldOnItsWay(p)
	at := slices.IndexFunc(held, func(h Custody) bool { return k.r.role(h.Place) == roleLaboratory })
	if at < 0 || held[at].Place == p.Plan.To {
		return
	}
	got := held[at]
	sentOn := func(h Custody) bool { return h.Place == p.Plan.To || k.r.role(h.Place) != roleLaboratory }
	if slices.ContainsFunc(held[at+1:], sentOn) || k.answered(FlagWrongDestination, p.Name, got.When, time.Time{}) {
		return
	}
	k.raise(Flag{Kind: FlagWrongDestination, Item: p.Name, Severity: Today, Since: got.When, Who: "laboratory", Basis: "common practice, no source",
		Text: fmt.Sprintf("%s was received at %s on %s by %s, but the request sends it to %s.", potWord(p.Name), k.placeWord(got.Place),
			k.clock(got.When), got.Holder, k.placeWord(p.Plan.To)),
		Remedy: fmt.Sprintf("Ring %s and %s: send it on, or answer that it stays where it is.", k.ringPlace(got.Place), k.ringPlace(p.Plan.To))})
}

// damaged: whoever took the pot said that it leaks or is damaged. One answer settles what was said until then. What was
// said of the whole case is not about a pot that was not used.
func (k *checking) damaged(p *Pot) {
	for _, h := range p.Custody {
		if h.Condition != conditionLeaking && h.Condition != conditionDamaged || !p.HasEvents ||
			k.answered(FlagPotDamaged, p.Name, h.When, time.Time{}) {
			continue
		}
		f := Flag{Kind: FlagPotDamaged, Item: p.Name, Severity: Today, Since: h.When, Who: h.Holder, Basis: "common practice, no source"}
		what := potWord(p.Name)
		if h.Bag != "" {
			what = "The bag with pot " + p.Name.Letter()
		}
		state := "was damaged"
		if h.Condition == conditionLeaking {
			state = "was leaking"
		}
		f.Text = fmt.Sprintf("%s %s when %s took it over at %s on %s.", what, state, h.Holder, k.placeWord(h.Place), k.clock(h.When))
		f.Remedy = k.makeSafe(p)
		if slices.Contains(k.c.Request.Hazard, hazardTB) {
			f.Severity = Now
			f.Text += " It may hold tuberculosis."
			f.Remedy = fmt.Sprintf("Do not open it. Put it upright into a second container that closes, keep others away and follow the procedure for spilt "+
				"infectious material; then ring %s before it goes on, and answer with what was done.", k.ring("laboratory"))
		}
		k.raise(f)
		return
	}
}

const (
	conditionLeaking = "leaking"
	conditionDamaged = "damaged"
	hazardTB         = "tb"
)

// makeSafe says what to do with a pot that leaks or is damaged.
func (k *checking) makeSafe(p *Pot) string {
	care := "With gloves on, put it upright into a second container that closes"
	if medium, _ := k.c.medium(p); k.r.p.Media[medium].Vapour {
		care += fmt.Sprintf("; it holds %s, so keep it off skin and eyes and air the room", k.mediumWord(medium))
	}
	return fmt.Sprintf("%s. Ring %s: is the tissue still covered, and can the label be read? Answer with what was done.", care, k.ring("laboratory"))
}

// collection: a pot is sealed, and nobody took it with the round that should have.
func (k *checking) collection(p *Pot) {
	if _, taken := k.lastHeld(p); taken || !p.Arrived.IsZero() || k.c.unused(p) && !k.c.anyTaken(p.Name) {
		return
	}
	sealed, ok := k.c.readyFrom(p)
	if !ok {
		return
	}
	f := Flag{Kind: FlagCollectionLate, Item: p.Name, Severity: Today, Who: "porter"}
	room := k.c.roomNow()
	if departs, from := k.r.nextRound(room, sealed); !departs.IsZero() {
		f.Since, f.Basis = k.r.until(departs, protocol.LimitCollect), k.r.citeLimit(protocol.LimitCollect)
		f.Text = fmt.Sprintf("%s was sealed %s and nobody has taken it, not with the round from %s at %s; limit %s after that.", potWord(p.Name),
			k.clock(sealed), k.placeWord(from), k.clock(departs), k.r.limit(protocol.LimitCollect))
	} else {
		f.Since, f.Basis = k.r.until(sealed, protocol.LimitCollectNone), k.r.citeLimit(protocol.LimitCollectNone)
		f.Text = fmt.Sprintf("%s was sealed %s and nobody has taken it; limit %s.", potWord(p.Name), k.clock(sealed), k.r.limit(protocol.LimitCollectNone))
	}
	if !k.reached(f.Since) {
		return
	}
	f.Due = k.r.until(f.Since, protocol.LimitCollectWorse)
	f.Remedy = fmt.Sprintf("Ring %s to fetch it", k.ring("porter"))
	if room != "" {
		f.Remedy += " from " + k.ringPlace(room)
	}
	f.Remedy += "; whoever takes it scans it."
	if k.reached(f.Due) {
		f.Who = "porter, coordinator"
	}
	k.raise(f)
}

// readyFrom is when the pot could be taken: its first lid after which nothing more went in. A pot that nothing is known
// to be in waits for nobody.
func (c *Case) readyFrom(p *Pot) (time.Time, bool) {
	if len(p.Seals) == 0 {
		return time.Time{}, false
	}
	var last time.Time
	holds := slices.ContainsFunc(p.Seals, func(s Seal) bool { return s.Pieces != nil && *s.Pieces > 0 })
	for s := range c.PiecesIn(p.Name) {
		holds = holds || !s.Taken.When.IsZero() || !s.Potted.When.IsZero()
		if s.Potted.When.After(last) {
			last = s.Potted.When
		}
	}
	if !holds {
		return time.Time{}, false
	}
	for _, seal := range p.Seals {
		if !seal.When.Before(last) {
			return seal.When, true
		}
	}
	return p.Seals[0].When, true
}

// roomNow is the room of the case: where identity was checked last, else where it was planned.
func (c *Case) roomNow() string {
	for i := len(c.Checks) - 1; i >= 0; i-- {
		if c.Checks[i].Room != "" {
			return c.Checks[i].Room
		}
	}
	return c.Request.Room
}
