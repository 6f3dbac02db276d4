package tracker

import (
	"cmp"
	"fmt"
)

// outdated: what a label shows was amended after it was printed, and it has not been printed anew since.
func (k *checking) outdated() {
	versions := k.c.Versions
	if len(versions) == 0 || k.owesNothing() {
		return
	}
	last := &versions[len(versions)-1]
	for _, l := range k.c.Labels {
		if l.Printed.When.IsZero() || l.Downtime || l.Spoiled != nil || !k.inPlay(l.Thing) {
			continue
		}
		printed := 0
		for i := range versions {
			if !later(versions[i].Mark, l.Printed) {
				printed = i
			}
		}
		was := k.differences(&versions[printed], last, l)
		if by, _ := Replacement(k.c.Labels, l); len(was) == 0 || by != nil {
			continue
		}
		var alike int // the last version that says what is printed
		for i := printed; i < len(versions); i++ {
			if len(k.differences(&versions[printed], &versions[i], l)) == 0 {
				alike = i
			}
		}
		since := versions[alike+1].When
		f := Flag{Kind: FlagLabelOutdated, Item: l.Thing, Severity: Now, Since: since, Who: "operator", Basis: "pottrail: a label says what the request says",
			Text: fmt.Sprintf("The label of %s, copy %s, printed %s, is out of date since %s; changed in the request: %s.", labelWord(l.Thing), l.Copy,
				k.clock(l.Printed.When), k.clock(since), and(was)),
			Remedy: "Print a copy that replaces it, put it on and destroy the old one; if the pot has left, ring those who have it first."}
		if versions[printed].Patient != last.Patient {
			f.Who = "operator, laboratory, clinician"
			f.Remedy = fmt.Sprintf("Stop until it is clear whose tissue it is: ring %s and %s. Then print a copy that replaces it, put it on and destroy the old one.",
				k.ring("laboratory"), k.ring("clinician"))
		}
		k.raise(f)
	}
}

// inPlay reports whether a label of a case, pot or piece can still be on something that matters: pots that were thrown away
// or not used hold nothing.
func (k *checking) inPlay(thing Name) bool {
	if thing.Thing() == ThingCase {
		return true
	}
	p := k.c.Pot(thing.Pot())
	return p == nil || p.Discarded == nil && !k.c.unused(p)
}

func later(a, b Mark) bool { return cmp.Or(a.When.Compare(b.When), cmp.Compare(a.ID, b.ID)) > 0 }

// differences says in words what a thing's label shows otherwise in one version of the request than in a later one. What
// was added or taken out makes no label wrong.
func (k *checking) differences(was, is *Version, l *Label) []string {
	var out []string
	thing := l.Thing
	if was.Patient != is.Patient {
		out = append(out, "the patient")
	}
	whole := thing.Thing() == ThingCase
	for i := range was.Pots {
		a := &was.Pots[i]
		if !whole && a.Pot != thing.Letter() {
			continue
		}
		b := is.pot(a.Pot)
		if b == nil {
			continue
		}
		if a.Medium != b.Medium && k.showedMedium(l) != b.Medium {
			out = append(out, fmt.Sprintf("the medium of pot %s, from %s to %s", a.Pot, k.mediumWord(a.Medium), k.mediumWord(b.Medium)))
		}
		from, to := was.lesion(a.Lesion), is.lesion(b.Lesion)
		own := k.ownLesion(l)
		if own != "" {
			from, to = was.lesion(own), is.lesion(own)
		}
		if from == nil || to == nil {
			continue
		}
		if moved := own == "" && a.Lesion != b.Lesion && is.lesion(a.Lesion) != nil; moved || !whole && !sameSite(from, to) {
			out = append(out, k.siteChange("pot "+a.Pot, from, to))
		}
	}
	if whole {
		for i := range was.Lesions {
			from := &was.Lesions[i]
			if to := is.lesion(from.Key); to != nil && !sameSite(from, to) {
				out = append(out, k.siteChange("the lesion", from, to))
			}
		}
	}
	return out
}

// showedMedium is the medium on the label of a pot that had been filled before the print, or "": then it is the planned one.
func (k *checking) showedMedium(l *Label) string {
	medium := ""
	if p := k.c.Pot(l.Thing); p != nil {
		for _, f := range p.Fillings {
			if !later(f.Mark, l.Printed) {
				medium = f.Medium
			}
		}
	}
	return medium
}

// ownLesion is the lesion on the label of a piece that had been taken before the print, or "": then it is its pot's.
func (k *checking) ownLesion(l *Label) string {
	for _, s := range k.c.Pieces {
		if s.Name == l.Thing && !s.Taken.When.IsZero() && !later(s.Taken, l.Printed) {
			return s.Lesion
		}
	}
	return ""
}

func (k *checking) siteChange(what string, from, to *Lesion) string {
	if from.Side != to.Side && from.Organ == to.Organ && from.Side != "" && to.Side != "" {
		return fmt.Sprintf("the side of %s, from %s to %s", what, from.Side, to.Side)
	}
	if word := k.lesionWord(from); word == k.lesionWord(to) {
		return fmt.Sprintf("the distance from the nipple of %s, “%s”, from %g mm to %g mm", what, word, from.FromNippleMM, to.FromNippleMM)
	}
	return fmt.Sprintf("the site of %s, from “%s” to “%s”", what, k.lesionWord(from), k.lesionWord(to))
}

// sameSite reports whether a label shows two lesions alike.
func sameSite(a, b *Lesion) bool {
	return a.Organ == b.Organ && a.Side == b.Side && a.Position == b.Position && a.FromNippleMM == b.FromNippleMM
}

func (v *Version) lesion(key string) *Lesion {
	for i := range v.Lesions {
		if v.Lesions[i].Key == key {
			return &v.Lesions[i]
		}
	}
	return nil
}

func (v *Version) pot(letter string) *PlannedPot {
	for i := range v.Pots {
		if v.Pots[i].Pot == letter {
			return &v.Pots[i]
		}
	}
	return nil
}
