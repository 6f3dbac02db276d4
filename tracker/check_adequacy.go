package tracker

import (
	"fmt"
	"slices"
	"time"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// adequacy judges the pieces while the patient is still there: how many, how they look, where they are from, and whether
// there is enough medium.
func (k *checking) adequacy() {
	k.outdated()
	if k.owesNothing() {
		return
	}
	k.notDone()
	k.mediumScant()
	k.sides()
	if k.c.Closing != nil {
		return
	}
	for i := range k.c.Request.Lesions {
		l := &k.c.Request.Lesions[i]
		if pot, ok := k.c.firstPot(l.Key); ok && !k.c.judgedByLab(l.Key) {
			t := k.tally(l, time.Time{})
			k.piecesPoor(l, pot, t)
			k.piecesFew(l, pot, t)
		}
	}
}

// notDone: the planned time passed by a day and nothing happened.
func (k *checking) notDone() {
	c := k.c
	if c.Request.Planned.IsZero() || c.Ended != nil || c.Closing != nil || !c.lastTaken().When.IsZero() {
		return
	}
	for _, p := range c.Pots { // without a scan of any piece a pot that was sealed or sent holds something
		if _, lid := k.r.lidOn(p); lid {
			return
		}
	}
	since := k.r.until(c.Request.Planned, protocol.LimitNotDone)
	if !k.reached(since) {
		return
	}
	room := "the room"
	if c.Request.Room != "" {
		room = k.ringPlace(c.Request.Room)
	}
	k.raise(Flag{Kind: FlagCaseNotDone, Item: c.Name, Severity: Today, Since: since, Who: "coordinator", Basis: k.r.citeLimit(protocol.LimitNotDone),
		Text:   fmt.Sprintf("The biopsy was planned for %s and no piece has been taken; limit %s after that.", k.clock(c.Request.Planned), k.r.limit(protocol.LimitNotDone)),
		Remedy: fmt.Sprintf("Ring %s: was it done? Enter what was taken, with its own time; if it is put off, amend the planned time; if it is called off, close the case.", room)})
}

// holdsOf reports whether a pot is planned for a lesion or has pieces of it.
func (c *Case) holdsOf(p *Pot, lesion string) bool {
	if p.Plan != nil && p.Plan.Lesion == lesion {
		return true
	}
	for s := range c.PiecesIn(p.Name) {
		if s.Lesion == lesion {
			return true
		}
	}
	return false
}

// firstPot is the first of the pots planned for a lesion, else the first with a piece of it.
func (c *Case) firstPot(lesion string) (Name, bool) {
	var first Name
	for _, p := range c.Pots {
		if p.Plan != nil && p.Plan.Lesion == lesion {
			return p.Name, true
		}
		if first == "" && c.holdsOf(p, lesion) {
			first = p.Name
		}
	}
	return first, first != ""
}

// judgedByLab reports whether the laboratory has given a final result on every pot with pieces of a lesion: then it has
// said whether they were enough, and the eye's judgement is over.
func (c *Case) judgedByLab(lesion string) bool {
	judged := false
	for _, p := range c.Pots {
		if !c.holdsOf(p, lesion) || !c.anyRecorded(p) && len(p.Seals) == 0 {
			continue
		}
		if !c.hasFinal(p.Name) {
			return false
		}
		judged = true
	}
	return judged
}

// roomCleared is when the room was cleared after all pieces; other stations' clocks may be off a little.
func (c *Case) roomCleared() (time.Time, bool) {
	last := c.lastTaken()
	if last.When.IsZero() && c.Ended != nil {
		last = c.Ended.Mark
	}
	for _, m := range c.Cleared {
		if !m.When.Before(last.When) || m.Station != last.Station && last.When.Sub(m.When) <= StationClocks {
			return m.When, true
		}
	}
	return time.Time{}, false
}

// trueSince is the instant from which something that holds now has held all along. It can only have begun at one of the
// instants given.
func trueSince(instants []time.Time, holds func(time.Time) bool) time.Time {
	slices.SortFunc(instants, time.Time.Compare)
	since := time.Time{}
	for _, at := range slices.Backward(instants) {
		if !holds(at) {
			break
		}
		since = at
	}
	return since
}

// lesionWord is how a sentence calls a lesion: "left breast, 2 o'clock".
func (k *checking) lesionWord(l *Lesion) string {
	word := l.Organ
	if name := k.r.p.Organs[l.Organ].Name; name != "" {
		word = name
	}
	if l.Side != "" {
		word = l.Side + " " + word
	}
	if l.Position != "" {
		word += ", " + l.Position
	}
	return word
}
