package tracker

import (
	"fmt"
	"time"
)

// sides: a piece is not of the lesion that its pot is for, or was taken before the side was confirmed with the patient.
func (k *checking) sides() {
	var first *Piece // taken without the side confirmed
	var lesion *Lesion
	for _, s := range k.c.Pieces {
		if s.Taken.When.IsZero() {
			continue
		}
		l := k.c.Request.Lesion(s.Lesion)
		if p := k.c.Pot(s.Pot); p != nil && p.Plan != nil {
			if s.Lesion != p.Plan.Lesion {
				k.otherLesion(s, p)
			}
			if l == nil {
				l = k.c.Request.Lesion(p.Plan.Lesion)
			}
		}
		if l == nil || s.From != "" || !k.r.p.Organs[l.Organ].Sided || l.Side != "" && k.sideSettled(s.Taken) {
			continue
		}
		if first == nil || s.Taken.When.Before(first.Taken.When) {
			first, lesion = s, l
		}
	}
	if first == nil {
		return
	}
	f := Flag{Kind: FlagSideMismatch, Item: k.c.Name, Severity: Now, Since: first.Taken.When, Who: "operator", Basis: "common practice, no source",
		Text: fmt.Sprintf("%s was taken %s, and the side had not been confirmed with the patient: %s.", pieceWord(first), k.clock(first.Taken.When), k.lesionWord(lesion)),
		Remedy: "Ask the patient now which side it was, and look at the images. If it was confirmed before the needle, enter that check with its own time; " +
			"if not, amend the request's lesions with what was found and who confirmed it."}
	if lesion.Side == "" {
		f.Text = fmt.Sprintf("%s was taken %s, and the request does not say which side: %s.", pieceWord(first), k.clock(first.Taken.When), k.lesionWord(lesion))
		f.Remedy = "Ask the patient now which side it was, look at the images, and amend the request."
	}
	k.raise(f)
}

// otherLesion: the piece went into a pot that is for another lesion.
func (k *checking) otherLesion(s *Piece, p *Pot) {
	since := s.Taken.When
	if planned := k.c.plannedFor(p); planned.After(since) {
		since = planned
	}
	if s.Name.Pot() != s.Pot && s.Potted.When.After(since) {
		since = s.Potted.When // it was put into another pot than its own
	}
	from := "lesion " + s.Lesion + ", which the request does not have"
	if l := k.c.Request.Lesion(s.Lesion); l != nil {
		from = "the " + k.lesionWord(l)
	}
	meant := "lesion " + p.Plan.Lesion
	if l := k.c.Request.Lesion(p.Plan.Lesion); l != nil {
		meant = "the " + k.lesionWord(l)
	}
	k.raise(Flag{Kind: FlagSideMismatch, Item: s.Name, Severity: Now, Since: since, Who: "operator", Basis: "common practice, no source",
		Text: fmt.Sprintf("%s is recorded as taken from %s; pot %s is for %s.", pieceWord(s), from, s.Pot.Letter(), meant),
		Remedy: "Stop: make sure with the one who took it, and on the images, where it is from. Then amend the request, relabel the pot, " +
			"or strike the wrong record and enter it again."})
}

// plannedFor is when an amendment last changed the lesion that a pot is for; zero when none did.
func (c *Case) plannedFor(p *Pot) time.Time {
	var since time.Time
	for i := range c.Versions {
		v := &c.Versions[len(c.Versions)-1-i]
		if q := v.pot(p.Name.Letter()); q == nil || q.Lesion != p.Plan.Lesion {
			break
		}
		since = v.When
	}
	return since
}

// sideSettled reports whether the side had been confirmed when something was taken, other stations' clocks being off a
// little, or the request's lesions were given anew after that. A check with the patient afterwards alone does not do: it
// cannot say what was known when the needle went in.
func (k *checking) sideSettled(taken Mark) bool {
	if !k.c.LesionsAmended.Before(taken.When) {
		return true
	}
	for _, check := range k.c.SideChecks {
		latest := taken.When
		if check.Station != taken.Station {
			latest = latest.Add(StationClocks)
		}
		if !check.When.After(latest) {
			return true
		}
	}
	return false
}
