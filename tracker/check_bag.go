package tracker

import (
	"fmt"
	"slices"
	"time"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// contents compares what a bag should hold with what was found in it, and what it holds with each other.
func (k *checking) contents(b *Bag) {
	for i := range b.Differences {
		k.differs(b, &b.Differences[i])
	}
	k.unfit(b)
}

// differs: what was found or counted is not what was packed. It is watched while a phone may still have scans to send.
func (k *checking) differs(b *Bag, d *Difference) {
	kind := FlagBagShort
	if d.Extra {
		kind = FlagBagExtra
	}
	first := slices.IndexFunc(d.Causes, func(t time.Time) bool { return !k.answered(kind, b.Name, t, time.Time{}) })
	if first < 0 {
		return
	}
	f := Flag{Kind: kind, Item: b.Name, Severity: Now, Since: d.Causes[first], Who: d.By, Basis: k.r.citeLimit(protocol.LimitPhone)}
	ask := d.By
	if d.Giver != "" && d.Giver != d.By {
		f.Who, ask = d.Giver+", "+d.By, d.Giver+" and "+d.By
	}
	pots := potsOfCases(d.Pots)
	switch {
	case d.Opened && d.Extra:
		f.Text = fmt.Sprintf("The bag was opened on %s by %s with %s in it, which nobody had packed.", k.clock(d.When), d.By, pots)
		f.Remedy = fmt.Sprintf("Hold label and request together before it goes on. Ask %s how %s came into the bag: if packed and not scanned, record that with its own time.",
			ask, itOrThey(len(d.Pots)))
	case d.Opened:
		f.Text = fmt.Sprintf("The bag was opened on %s by %s, and %s, packed in it, %s not there.", k.clock(d.When), d.By, pots, wasOrWere(len(d.Pots)))
		f.Remedy = fmt.Sprintf("Ask %s: look in the bag, where it was opened and packed, and in what carried it. Scan what is missing where it is found.", ask)
	default:
		f.Text = fmt.Sprintf("%s %s counted in the bag at %s on %s by %s, and %d had been packed.", capital(plural(d.Count, "pot", "pots")), wasOrWere(d.Count),
			k.placeWord(d.Place), k.clock(d.When), d.By, d.Packed)
		f.Remedy = fmt.Sprintf("Ask %s: count again, and scan each pot that is not where it was packed.", ask)
		if d.Extra {
			f.Remedy = fmt.Sprintf("Ask %s: count again; what was packed and not scanned, record with its own time.", ask)
		}
	}
	if late := k.r.until(f.Since, protocol.LimitPhone); !k.reached(late) {
		f.Severity, f.Due = Watch, late
	}
	k.raise(f)
}

func itOrThey(n int) string {
	if n == 1 {
		return "it"
	}
	return "they"
}

func isOrAre(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

func wasOrWere(n int) string {
	if n == 1 {
		return "was"
	}
	return "were"
}

// potsOfCases names pots of several cases for people: "pot B of MBY-26-00417 and pot A of MBY-26-00418".
func potsOfCases(pots []Name) string {
	words := make([]string, len(pots))
	for i, n := range pots {
		words[i] = "pot " + n.Letter() + " of " + string(n.Case())
	}
	return and(words)
}

// unfit: vapour of one pot's medium spoils the slides of another in the same bag.
func (k *checking) unfit(b *Bag) {
	var dried, vapour []Name
	var driedSince, vapourSince time.Time
	for _, c := range b.Contents {
		since := c.Since
		if c.MediumSince.After(since) {
			since = c.MediumSince
		}
		medium := k.r.p.Media[c.Medium]
		if medium.Dried {
			dried, driedSince = append(dried, c.Pot), earlier(driedSince, since)
		}
		if medium.Vapour {
			vapour, vapourSince = append(vapour, c.Pot), earlier(vapourSince, since)
		}
	}
	if len(dried) == 0 || len(vapour) == 0 {
		return
	}
	since := driedSince
	if vapourSince.After(since) {
		since = vapourSince
	}
	k.raise(Flag{Kind: FlagBagUnfit, Item: b.Name, Severity: Now, Since: since, Who: "porter", Basis: k.r.cite("media." + k.mediumOf(b, vapour[0])),
		Text: fmt.Sprintf("%s %s in the bag together with %s (%s), since %s; the vapour of %s spoils such slides.", capital(potsOfCases(vapour)),
			isOrAre(len(vapour)), potsOfCases(dried), k.mediumWord(k.mediumOf(b, dried[0])), k.clock(since), k.mediumWord(k.mediumOf(b, vapour[0]))),
		Remedy: "Take the slides out now, pack them in a bag of their own and scan that."})
}

func (k *checking) mediumOf(b *Bag, pot Name) string {
	for _, c := range b.Contents {
		if c.Pot == pot {
			return c.Medium
		}
	}
	return ""
}

// earlier is the earlier of two instants, of which the first may be zero.
func earlier(a, b time.Time) time.Time {
	if a.IsZero() || b.Before(a) {
		return b
	}
	return a
}
