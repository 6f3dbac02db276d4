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

// leftOver: a printed copy was neither used nor spoiled when the room was cleared, or two hours after print. Several copies of
// one label are told together.
func (k *checking) leftOver() {
	var over []*Label
	var since time.Time
	var why string
	for i, l := range k.c.Labels { // by thing
		if i == 0 || k.c.Labels[i-1].Thing != l.Thing {
			k.tellLeftOver(over, since, why)
			over = nil
		}
		if l.Printed.When.IsZero() || l.Downtime || l.Used || l.Spoiled != nil {
			continue
		}
		limit := k.r.until(l.Printed.When, protocol.LimitLabelLeft)
		reason := fmt.Sprintf("limit %s", k.r.limit(protocol.LimitLabelLeft))
		if cleared, ok := k.c.clearedAfter(l.Printed.When); ok && cleared.Before(limit) {
			limit, reason = cleared, "the room was cleared "+k.clock(cleared)
		}
		if !k.reached(limit) {
			continue
		}
		if len(over) == 0 || limit.Before(since) {
			since, why = limit, reason
		}
		over = append(over, l)
	}
	k.tellLeftOver(over, since, why)
}

func (k *checking) tellLeftOver(over []*Label, since time.Time, why string) {
	if len(over) == 0 {
		return
	}
	first := over[0]
	f := Flag{Kind: FlagLabelLeftOver, Item: first.Thing, Severity: Now, Since: since, Who: "operator", Basis: k.r.citeLimit(protocol.LimitLabelLeft),
		Text:   fmt.Sprintf("Copy %s of the label of %s, printed %s, is neither on anything nor destroyed; %s.", first.Copy, labelWord(first.Thing), k.clock(first.Printed.When), why),
		Remedy: "Find it: scan it if it is on its pot or piece, destroy it and record it as spoiled if not."}
	if len(over) > 1 {
		for _, l := range over {
			if l.Printed.When.Before(first.Printed.When) {
				first = l
			}
		}
		f.Text = fmt.Sprintf("Copies %s of the label of %s, the first printed %s, are neither on anything nor destroyed; %s.", copiesWord(over), labelWord(first.Thing),
			k.clock(first.Printed.When), why)
		f.Remedy = "Find each: scan it if it is on its pot or piece, destroy it and record it as spoiled if not."
	}
	k.raise(f)
}

// copiesWord names copies: "1, 2 and 4".
func copiesWord(labels []*Label) string {
	words := make([]string, len(labels))
	for i, l := range labels {
		words[i] = l.Copy.String()
	}
	return and(words)
}

// superseded: a copy was scanned after another had replaced it, or after it was recorded as destroyed.
func (k *checking) superseded() {
	for _, l := range k.c.Labels {
		if len(l.Scans) == 0 {
			continue
		}
		by, replaced := Replacement(k.c.Labels, l)
		for _, scan := range l.Scans {
			destroyed := l.Spoiled != nil && scan.after(*l.Spoiled)
			old := by != nil && !scan.When.Before(replaced)
			if l.Spoiled != nil && !destroyed || !destroyed && !old || k.answered(FlagLabelSuperseded, l.Thing, scan.When, time.Time{}) {
				continue
			}
			f := Flag{Kind: FlagLabelSuperseded, Item: l.Thing, Severity: Now, Since: scan.When, Who: scan.By,
				Basis: "pottrail: a replaced label must not stay on anything"}
			if old {
				next := ""
				if last, _ := Replacement(k.c.Labels, by); last != nil {
					next = ", and copy " + last.Copy.String() + " that one"
				}
				f.Text = fmt.Sprintf("Copy %s of the label of %s was scanned %s, but copy %s replaced it %s%s.", l.Copy, labelWord(l.Thing),
					k.clock(scan.When), by.Copy, k.clock(replaced), next)
				f.Remedy = "Put the new label on, destroy the old one and record it as spoiled; check with the room that both mean the same thing."
			} else {
				f.Basis = "pottrail: a label that was destroyed is on nothing"
				f.Text = fmt.Sprintf("Copy %s of the label of %s was scanned %s, but it was recorded as destroyed %s.", l.Copy, labelWord(l.Thing),
					k.clock(scan.When), k.clock(l.Spoiled.When))
				f.Remedy = "Look at what it is on. If it is right and can be read, strike the record that it was destroyed; if not, put a new label on and destroy this one, then answer with what was done."
			}
			k.raise(f)
			break
		}
	}
}

// after reports whether a label was scanned after something happened to it; another station's clock may be off a little.
func (s Scan) after(m Mark) bool {
	when := m.When
	if s.Station != m.Station {
		when = when.Add(StationClocks)
	}
	return s.When.After(when)
}
