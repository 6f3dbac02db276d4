package tracker

import (
	"fmt"
	"slices"
	"time"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// unknownItems: things were scanned or named that nobody made known.
func (k *checking) unknownItems(strangers []Stranger) {
	for _, s := range strangers {
		since := s.Mark.When
		if k.answered(FlagUnknownItem, s.Item, since, time.Time{}) {
			continue
		}
		f := Flag{Kind: FlagUnknownItem, Item: s.Item, Severity: Today, Since: since, Who: "coordinator", Basis: k.r.citeLimit(protocol.LimitUnknown),
			Text:   fmt.Sprintf("%s was entered at %s on %s, and no case was opened and no label printed for it.", s.Item, k.placeWord(s.Mark.Station), k.clock(since)),
			Remedy: fmt.Sprintf("Ask %s what it was; open its case, or answer.", s.Mark.By)}
		if late := k.r.until(since, protocol.LimitUnknown); !k.reached(late) {
			f.Severity, f.Due = Watch, late
			f.Remedy = "The station that opened it may still have events to send: wait for it, then ask."
		}
		k.raise(f)
	}
}

// clocks: an interval came out negative, or a station's clock is wrong.
func (k *checking) clocks(doubts []Doubt) {
	ahead, skew := k.r.limit(protocol.LimitAhead), k.r.limit(protocol.LimitSkew)
	for _, d := range doubts {
		switch {
		case d.Ahead > ahead.Elapsed:
			k.doubt(d.Item, d.When, protocol.LimitAhead, fmt.Sprintf("An event recorded %s says it happened %s later than that; limit %s.", k.clock(d.When), span(d.Ahead), ahead))
		case d.Skew.Abs() > skew.Elapsed:
			direction := "behind"
			if d.Skew < 0 {
				direction = "ahead"
			}
			k.doubt(d.Item, d.When, protocol.LimitSkew, fmt.Sprintf("The clock of the station that sent the event of %s is %s %s; limit %s.", k.clock(d.When), span(d.Skew.Abs()), direction, skew))
		}
	}
	for _, s := range k.c.Pieces {
		if s.Taken.When.IsZero() || s.Potted.When.IsZero() {
			continue
		}
		if s.Potted.When.Before(s.Taken.When) {
			k.doubt(s.Name, s.Taken.When, protocol.LimitSkew, fmt.Sprintf("%s went into its pot %s, before it was taken %s: its times count as unknown.", pieceWord(s),
				k.clock(s.Potted.When), k.clock(s.Taken.When)))
		}
		if p := k.c.Pot(s.Pot); p != nil {
			start, _ := k.r.fixationStart(k.c, p, s)
			if end, loaded, ok := k.r.fixationEnd(p, s); ok && end.Before(start) {
				k.doubt(p.Name, loaded, protocol.LimitSkew, fmt.Sprintf("%s: fixation ended %s, before it began %s: its time counts as unknown.", potWord(p.Name), k.clock(end), k.clock(start)))
			}
		}
	}
}

func (k *checking) doubt(item Name, since time.Time, limit, text string) {
	if k.answered(FlagClockDoubtful, item, since, time.Time{}) {
		return
	}
	if slices.ContainsFunc(k.flags, func(f Flag) bool { return f.Kind == FlagClockDoubtful && f.Item == item }) {
		return // one wrong clock is said once
	}
	k.raise(Flag{Kind: FlagClockDoubtful, Item: item, Severity: Watch, Since: since, Who: "administrator", Text: text, Basis: k.r.citeLimit(limit),
		Remedy: "Set the station's clock; if the time is wrong, strike the event and record it again with the right one."})
}

// openedTwice: two requests under one number, or another patient after a label was printed.
func (k *checking) openedTwice() {
	f := Flag{Kind: FlagCaseOpenedTwice, Item: k.c.Name, Severity: Now, Who: "clinician", Basis: "pottrail: one number, one patient",
		Remedy: "Stop using its labels until it is clear whose they are; strike the wrong record, or answer with who made sure."}
	settled := func(cause time.Time) bool { return k.answered(FlagCaseOpenedTwice, k.c.Name, cause, time.Time{}) }
	for i, again := range k.c.Openings {
		if i == 0 || settled(again.When) {
			continue
		}
		first := k.c.Openings[0]
		f.Since = again.When
		f.Text = fmt.Sprintf("This case was opened %s by %s and again %s by %s.", k.clock(first.When), first.By, k.clock(again.When), again.By)
		k.raise(f)
		break
	}
	if changed := k.c.PatientChanged; !changed.IsZero() && !settled(changed) {
		f.Since = changed
		f.Text = fmt.Sprintf("The patient of this case was changed %s, after labels had been printed.", k.clock(changed))
		k.raise(f)
	}
}

// gaps: keys that the protocol lacks, so that rules on them were not judged.
func (k *checking) gaps() {
	c, p := k.c, k.r.p
	opened := c.LastMark.When
	if len(c.Openings) > 0 {
		opened = c.Openings[0].When
		if _, ok := p.Priority[c.Request.Priority]; !ok {
			k.gap(c.Name, "priority", c.Request.Priority, opened)
		}
	}
	for _, lesion := range c.Request.Lesions {
		if _, ok := p.Organs[lesion.Organ]; !ok {
			k.gap(c.Name, "organ", lesion.Organ, opened)
		}
	}
	k.placeGap(c.Name, c.Request.Room, opened)
	for _, m := range c.Checks {
		k.placeGap(c.Name, m.Room, m.When)
	}
	for _, m := range c.Cleared {
		k.placeGap(c.Name, m.Room, m.When)
	}
	if c.Closing != nil {
		if _, ok := p.Outcomes[c.Closing.Outcome]; !ok {
			k.gap(c.Name, "outcome", c.Closing.Outcome, c.Closing.When)
		}
	}
	for _, pot := range c.Pots {
		k.potGaps(pot)
	}
	for _, r := range c.Results {
		for _, study := range r.Studies {
			if _, ok := p.Studies[study]; !ok {
				k.gap(c.Name, "study", study, r.When)
			}
		}
	}
	for _, s := range c.Pieces {
		k.mediumGap(s.Pot, s.Medium, s.Potted.When)
		k.runGap(s.Pot, s.Loaded)
	}
}

func (k *checking) potGaps(pot *Pot) {
	if pot.Plan != nil {
		k.mediumGap(pot.Name, pot.Plan.Medium, pot.PlannedAt)
		k.placeGap(pot.Name, pot.Plan.To, pot.PlannedAt)
	}
	since := pot.PlannedAt
	if since.IsZero() {
		since = k.c.LastMark.When
	}
	for _, study := range pot.Studies {
		if _, ok := k.r.p.Studies[study]; !ok {
			k.gap(pot.Name, "study", study, since)
		}
	}
	for _, fill := range pot.Fillings {
		k.mediumGap(pot.Name, fill.Medium, fill.When)
	}
	for _, held := range pot.Custody {
		k.placeGap(pot.Name, held.Place, held.When)
	}
	k.runGap(pot.Name, pot.Loaded)
}

func (k *checking) placeGap(item Name, place string, since time.Time) {
	if _, ok := k.r.p.Places[place]; !ok && place != "" {
		k.gap(item, "place", place, since)
	}
}

func (k *checking) mediumGap(item Name, medium string, since time.Time) {
	if _, ok := k.r.p.Media[medium]; !ok && medium != "" {
		k.gap(item, "medium", medium, since)
	}
}

func (k *checking) runGap(item Name, l *Loading) {
	if l == nil || l.Run == "" {
		return
	}
	if _, ok := k.r.p.Runs[l.Run]; !ok && l.Leaves.IsZero() {
		k.gap(item, "processor run", l.Run, l.When)
	}
}

func (k *checking) gap(item Name, what, key string, since time.Time) {
	text := fmt.Sprintf("The protocol has no %s %q, so rules on it were not judged.", what, key)
	if slices.ContainsFunc(k.flags, func(f Flag) bool { return f.Kind == FlagProtocolGap && f.Item == item && f.Text == text }) {
		return
	}
	k.raise(Flag{Kind: FlagProtocolGap, Item: item, Severity: Today, Since: since, Who: "administrator", Text: text, Basis: "pottrail: what the protocol does not name is not guessed",
		Remedy: "Add it to the protocol, or strike the event and record it again with the right word."})
}
