package tracker

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// notAtLab: a piece was taken and the laboratory has no receipt a working day later.
func (k *checking) notAtLab() {
	if k.owesNothing() {
		return
	}
	for _, p := range k.c.Pots {
		first, ok := k.c.firstTaken(p)
		if !ok || k.settled(p) {
			continue
		}
		if _, received := k.r.receipt(p); received {
			continue
		}
		since := k.r.until(first, protocol.LimitNotAtLab)
		if !k.reached(since) {
			continue
		}
		k.raise(Flag{Kind: FlagNotAtLab, Item: p.Name, Severity: Now, Since: since, Due: since, Who: "coordinator", Basis: k.r.citeLimit(protocol.LimitNotAtLab),
			Text:   fmt.Sprintf("%s: the first piece was taken %s and the laboratory has not received it; limit %s.", potWord(p.Name), k.clock(first), k.r.limit(protocol.LimitNotAtLab)),
			Remedy: k.whereToLook(p)})
		k.hold(string(FlagNotAtLab), p.Name, FlagHandoffGap)
	}
}

func (c *Case) firstTaken(p *Pot) (time.Time, bool) {
	var first time.Time
	for s := range c.piecesTaken(p.Name) {
		if first.IsZero() || s.Taken.When.Before(first) {
			first = s.Taken.When
		}
	}
	return first, !first.IsZero()
}

// whereToLook says who had the pot last.
func (k *checking) whereToLook(p *Pot) string {
	if n := len(p.Custody); n > 0 {
		last := p.Custody[n-1]
		return fmt.Sprintf("Ring %s: %s had it last, from %s.", k.ringPlace(last.Place), last.Holder, k.clock(last.When))
	}
	if room := k.c.Request.Room; room != "" {
		return fmt.Sprintf("Nobody has collected it: ring %s and look there.", k.ringPlace(room))
	}
	return "Nobody has collected it: look in the room where it was taken."
}

// settled reports whether a pot that was lost or refused has a plan since, so that nothing more is owed for it.
func (k *checking) settled(p *Pot) bool {
	return p.Refused != nil && k.c.plannedAfter(p.Refused.When) ||
		p.Lost != nil && k.c.plannedAfter(p.Lost.When) ||
		p.Discarded != nil && k.c.plannedAfter(p.Discarded.When)
}

// custody looks for a scan that cannot follow the one before it.
func (k *checking) custody() {
	if k.owesNothing() {
		return
	}
	for _, p := range k.c.Pots {
		since, text, broken := k.brokenCustody(p)
		if !broken || k.answered(FlagCustodyBroken, p.Name, since, time.Time{}) {
			continue
		}
		k.broken(Flag{Item: p.Name, Since: since, Text: text,
			Remedy: "Ask those who had it where it was and what was not scanned; record what is missing with its own time, or answer."})
	}
	for _, s := range k.c.Pieces {
		if s.Astray == nil || k.answered(FlagCustodyBroken, s.Name, s.Astray.When, time.Time{}) {
			continue
		}
		k.broken(Flag{Item: s.Name, Since: s.Astray.When,
			Text: fmt.Sprintf("%s is said to have gone into pot %s of another case, %s, on %s.", pieceWord(s), s.Astray.Pot.Letter(), s.Astray.Pot.Case(),
				k.clock(s.Astray.When)),
			Remedy: "Stop both pots until it is clear whose tissue is where; ask the operator, then strike the wrong record, or answer with who made sure."})
	}
}

// broken raises custody-broken: for a while only to be watched, since a phone may still have scans to send.
func (k *checking) broken(f Flag) {
	f.Kind, f.Severity, f.Who, f.Basis = FlagCustodyBroken, Today, "coordinator", k.r.citeLimit(protocol.LimitPhone)
	if late := k.r.until(f.Since, protocol.LimitPhone); !k.reached(late) {
		f.Severity, f.Due = Watch, late
	}
	k.raise(f)
}
func (k *checking) brokenCustody(p *Pot) (since time.Time, text string, broken bool) {
	held := p.Custody
	if !p.HasEvents { // scans of the whole case are not about a pot that was not used
		held = nil
	}
	if len(held) == 0 {
		return k.takenAfterReceipt(p)
	}
	last := held[len(held)-1]
	if p.Discarded != nil && last.When.After(p.Discarded.When.Add(StationClocks)) {
		return last.When, fmt.Sprintf("%s was scanned at %s on %s, but it was thrown away %s.", potWord(p.Name), k.placeWord(last.Place),
			k.clock(last.When), k.clock(p.Discarded.When)), true
	}
	for i := 1; i < len(held); i++ {
		a, b := held[i-1], held[i]
		if a.When.Equal(b.When) && (a.Place != b.Place || a.Holder != b.Holder) && i == len(held)-1 {
			return b.When, fmt.Sprintf("%s was scanned at %s and at %s at the same moment, %s.", potWord(p.Name), k.placeWord(a.Place),
				k.placeWord(b.Place), k.clock(b.When)), true
		}
	}
	if since, text, broken := k.backFromLab(p, held); broken {
		return since, text, true
	}
	if first := held[0]; k.r.role(first.Place) == roleLaboratory {
		collected := len(held) > 1 && k.r.role(held[1].Place) != roleLaboratory && sameMoment(first, held[1])
		if !collected {
			return first.When, fmt.Sprintf("%s was received at %s on %s, and nobody had collected it before.", potWord(p.Name), k.placeWord(first.Place), k.clock(first.When)), true
		}
	}
	if taken, ok := k.c.firstTaken(p); ok && last.When.Before(taken) && taken.Sub(last.When) > StationClocks {
		return last.When, fmt.Sprintf("%s was scanned at %s on %s, but its first piece was taken only on %s.", potWord(p.Name), k.placeWord(last.Place),
			k.clock(last.When), k.clock(taken)), true
	}
	return k.takenAfterReceipt(p)
}

// sameMoment reports whether two stations' clocks cannot order two scans.
func sameMoment(a, b Custody) bool {
	return a.Station != b.Station && b.When.Sub(a.When) <= StationClocks
}

// backFromLab: after the laboratory had it, the pot was scanned in the clinic, with no vehicle between and no refusal.
func (k *checking) backFromLab(p *Pot, held []Custody) (time.Time, string, bool) {
	atLab := -1
	for i, h := range held {
		switch k.r.role(h.Place) {
		case roleLaboratory:
			atLab = i
		case roleRoom, roleHatch, roleFridge:
			if atLab < 0 || sameMoment(held[atLab], h) || p.Refused != nil && !p.Refused.When.After(h.When) || i < len(held)-1 {
				continue
			}
			if i > 0 && k.r.role(held[i-1].Place) != roleLaboratory {
				continue // it came by vehicle, or was scanned on in the clinic
			}
			return h.When, fmt.Sprintf("%s was scanned at %s on %s, but %s had it since %s.", potWord(p.Name), k.placeWord(h.Place), k.clock(h.When),
				k.placeWord(held[atLab].Place), k.clock(held[atLab].When)), true
		}
	}
	return time.Time{}, "", false
}

// takenAfterReceipt: a piece is said to have been put into a pot that was at the laboratory already.
func (k *checking) takenAfterReceipt(p *Pot) (time.Time, string, bool) {
	received, ok := k.r.receipt(p)
	if !ok {
		return time.Time{}, "", false
	}
	for s := range k.c.piecesTaken(p.Name) {
		if s.From == "" && s.Taken.When.Sub(received) > StationClocks {
			return s.Taken.When, fmt.Sprintf("%s was taken %s, but its pot was at the laboratory since %s.", pieceWord(s), k.clock(s.Taken.When), k.clock(received)), true
		}
	}
	return time.Time{}, "", false
}

// lost: a pot that nobody can find, or that was thrown away before its final result.
func (k *checking) lost() {
	for _, p := range k.c.Pots {
		m := p.Lost
		text := "%s cannot be found since %s."
		if m == nil && p.Discarded != nil && !k.c.hasFinal(p.Name) {
			m = p.Discarded
			text = "%s was thrown away %s, before a final result."
		}
		if m == nil || k.c.plannedAfter(m.When) {
			continue
		}
		f := Flag{Kind: FlagPotLost, Item: p.Name, Severity: Now, Since: m.When, Who: "coordinator", Basis: k.r.citeLimit(protocol.LimitLostClinician),
			Text:   fmt.Sprintf(text, potWord(p.Name), k.clock(m.When)),
			Remedy: k.whereToLook(p) + " Keep the room's waste and the bags until it is found."}
		if late := k.r.until(m.When, protocol.LimitLostClinician); k.reached(late) {
			f.Who = "coordinator, clinician"
			f.Remedy = fmt.Sprintf("Tell %s: is a repeat needed? Record the plan.", k.ring("clinician"))
		} else {
			f.Due = late
		}
		k.raise(f)
		k.hold(string(FlagPotLost), p.Name, heldUntilPlanned()...)
	}
}

// heldUntilPlanned lists what a pot that is lost or refused is not reproached with besides, until a plan exists.
func heldUntilPlanned() []FlagKind {
	return []FlagKind{FlagResultOverdue, FlagHandoffGap, FlagNotAtLab, FlagFreshLate, FlagCollectionLate, FlagFixationWillBeShort, FlagFixationWillBeLong}
}

// hasFinal reports whether a final result speaks of the pot.
func (c *Case) hasFinal(pot Name) bool {
	return slices.ContainsFunc(c.Results, func(r *Result) bool {
		return (r.Stage == StageFinal || r.Stage == StageAmended) && slices.Contains(r.Pots, pot)
	})
}

// refused: the laboratory will not process a pot as it is.
func (k *checking) refused() {
	for _, p := range k.c.Pots {
		if p.Refused == nil || k.c.plannedAfter(p.Refused.When) ||
			p.Accession != nil && p.Accession.When.After(p.Refused.When) {
			continue
		}
		why := refusalWords(p.Refused.Why)
		if p.Refused.Note != "" {
			why += " (" + strings.TrimRight(p.Refused.Note, ". ") + ")"
		}
		k.raise(Flag{Kind: FlagLabRefused, Item: p.Name, Severity: Now, Since: p.Refused.When, Who: "operator, clinician", Basis: "common practice, no source",
			Text:   fmt.Sprintf("%s was refused by the laboratory %s: %s.", potWord(p.Name), k.clock(p.Refused.When), why),
			Remedy: "Keep the pot, discard nothing; the person who took it comes and identifies it, record who did; is a repeat needed?"})
		k.hold(string(FlagLabRefused), p.Name, heldUntilPlanned()...)
	}
}

// refusalWords puts a reason of lab.refused into words.
func refusalWords(why string) string {
	switch why {
	case "unlabelled":
		return "it has no label"
	case "mismatch":
		return "label and request do not match"
	case "wrong-medium":
		return "it is in the wrong medium"
	case "leaked":
		return "it leaked"
	case "damaged":
		return "it is damaged"
	case "empty":
		return "there is nothing in it"
	case "insufficient":
		return "there is too little in it"
	case "delayed":
		return "it was too long on the way"
	case "temperature":
		return "it was too warm or too cold"
	case "no-request":
		return "there is no request for it"
	}
	return "for another reason"
}
