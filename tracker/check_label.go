package tracker

import (
	"fmt"
	"time"

	"github.com/pottrail/pottrail/tracker/protocol"
)

func (k *checking) labels() {
	k.beforeCheck()
	k.leftOver()
	k.superseded()
}

// labelWord is how a sentence calls the thing of a label.
func labelWord(n Name) string {
	switch n.Thing() {
	case ThingPot:
		return "pot " + n.Letter()
	case ThingPiece:
		return fmt.Sprintf("piece %02d of pot %s", n.PieceNumber(), n.Letter())
	case ThingBag:
		return "the bag"
	}
	return "the request form"
}

// beforeCheck: a pot or piece label was printed with no identity check in the hour before.
func (k *checking) beforeCheck() {
	before := k.r.limit(protocol.LimitCheckBefore)
	for _, l := range k.c.Labels {
		thing := l.Thing.Thing()
		if l.Printed.When.IsZero() || l.Downtime || thing == ThingCase || k.checkedWithin(l.Printed, before.Elapsed) {
			continue
		}
		since := l.Printed.When
		cleared, done := k.c.clearedAfter(since)
		if done && k.answered(FlagLabelBeforeCheck, l.Thing, since, cleared) {
			continue
		}
		f := Flag{Kind: FlagLabelBeforeCheck, Item: l.Thing, Severity: Now, Since: since, Who: "operator", Basis: k.r.citeLimit(protocol.LimitCheckBefore),
			Text:   fmt.Sprintf("The label of %s was printed %s, and identity was not checked with the patient in the %s before.", labelWord(l.Thing), k.clock(since), before),
			Remedy: "Check two identifiers with the patient now, against the label."}
		if done {
			f.Severity = Today
			f.Remedy = "Find out whose tissue it is before it is reported: ask the operator, and answer with who confirmed it."
		}
		k.raise(f)
	}
}

// checkedWithin looks for an identity check in the stretch before a print; another station's clock may be off a little.
func (k *checking) checkedWithin(printed Mark, before time.Duration) bool {
	for _, check := range k.c.Checks {
		latest := printed.When
		if check.Station != printed.Station {
			latest = latest.Add(StationClocks)
		}
		if !check.When.After(latest) && printed.When.Sub(check.When) <= before {
			return true
		}
	}
	return false
}

// leftOver: a printed copy was neither used nor spoiled when the room was cleared, or two hours after print.
func (k *checking) leftOver() {
	for _, l := range k.c.Labels {
		if l.Printed.When.IsZero() || l.Downtime || l.Used || l.Spoiled != nil {
			continue
		}
		since := k.r.until(l.Printed.When, protocol.LimitLabelLeft)
		why := fmt.Sprintf("limit %s", k.r.limit(protocol.LimitLabelLeft))
		if cleared, ok := k.c.clearedAfter(l.Printed.When); ok && cleared.Before(since) {
			since = cleared
			why = "the room was cleared " + k.clock(cleared)
		}
		if !k.reached(since) {
			continue
		}
		k.raise(Flag{Kind: FlagLabelLeftOver, Item: l.Thing, Severity: Now, Since: since, Who: "operator", Basis: k.r.citeLimit(protocol.LimitLabelLeft),
			Text:   fmt.Sprintf("Copy %s of the label of %s, printed %s, is neither on anything nor destroyed; %s.", l.Copy, labelWord(l.Thing), k.clock(l.Printed.When), why),
			Remedy: "Find it: scan it if it is on its pot or piece, destroy it and record it as spoiled if not."})
	}
}

// superseded: a copy was scanned after another had replaced it.
func (k *checking) superseded() {
	for _, l := range k.c.Labels {
		replaced, by := k.replacement(l)
		if by == nil {
			continue
		}
		for _, scan := range l.Scans {
			destroyed := l.Spoiled != nil && !scan.When.After(l.Spoiled.When)
			if destroyed || scan.When.Before(replaced) || k.answered(FlagLabelSuperseded, l.Thing, scan.When, time.Time{}) {
				continue
			}
			k.raise(Flag{Kind: FlagLabelSuperseded, Item: l.Thing, Severity: Now, Since: scan.When, Who: scan.By, Basis: "pottrail: a replaced label must not stay on anything",
				Text: fmt.Sprintf("Copy %s of the label of %s was scanned %s, but copy %s replaced it %s.", l.Copy, labelWord(l.Thing),
					k.clock(scan.When), by.Copy, k.clock(replaced)),
				Remedy: "Put the new label on, destroy the old one and record it as spoiled; check with the room that both mean the same thing."})
			break
		}
	}
}

// replacement finds the first print that replaced a copy.
func (k *checking) replacement(l *Label) (time.Time, *Label) {
	var first *Label
	for _, other := range k.c.Labels {
		if other.Thing == l.Thing && other.Replaces == l.Copy && other.Copy != l.Copy && !other.Printed.When.IsZero() &&
			(first == nil || other.Printed.When.Before(first.Printed.When)) {
			first = other
		}
	}
	if first == nil {
		return time.Time{}, nil
	}
	return first.Printed.When, first
}
