package tracker

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// containers: the medium of a pot cannot serve a study asked of it.
func (k *checking) containers() {
	if k.owesNothing() {
		return
	}
	for _, p := range k.c.Pots {
		medium, held := k.c.medium(p)
		if medium == "" || k.c.unused(p) {
			continue
		}
		var wrong, loss []string
		var wrongSince, lossSince time.Time
		for _, study := range p.Studies {
			suit, known := k.r.p.Suits(medium, study)
			switch {
			case !known:
			case suit == protocol.Wrong:
				wrong, wrongSince = append(wrong, k.studyWord(study)), bothTrue(wrongSince, held, p.Asked[study])
			case suit == protocol.Loss:
				loss, lossSince = append(loss, k.studyWord(study)), bothTrue(lossSince, held, p.Asked[study])
			}
		}
		_, lid := k.r.lidOn(p)
		f := Flag{Kind: FlagContainerWrong, Item: p.Name, Since: lossSince, Who: "operator", Basis: k.r.cite("media." + medium)}
		switch {
		case len(wrong) > 0:
			f.Text = fmt.Sprintf("%s: %s cannot serve %s.", potWord(p.Name), k.mediumWord(medium), and(wrong))
			f.Severity, f.Since = Now, wrongSince
			f.Remedy = k.useInstead(p)
			if lid {
				f.Severity = Today
				f.Remedy = fmt.Sprintf("Ring %s and ask what can still be done with it; is another piece needed?", k.ring("laboratory"))
			}
		case len(loss) > 0:
			f.Text = fmt.Sprintf("%s: %s serves %s with loss.", potWord(p.Name), k.mediumWord(medium), and(loss))
			switch {
			case p.Plan != nil && p.Plan.Medium == medium:
				f.Severity = Watch
				f.Remedy = "It is planned so: make sure that the laboratory knows."
			case lid:
				f.Severity = Today
				f.Remedy = fmt.Sprintf("Tell %s that it came in this instead of what was planned.", k.ring("laboratory"))
			default:
				f.Severity = Now
				f.Remedy = k.useInstead(p)
			}
		default:
			continue
		}
		k.raise(f)
	}
}

// useInstead says what the pot should hold: the media that serve every study asked of it.
func (k *checking) useInstead(p *Pot) string {
	var media []string
	for key, m := range k.r.p.Media {
		serves := func(study string) bool {
			suit, known := k.r.p.Suits(key, study)
			return known && suit == protocol.Right
		}
		if !slices.ContainsFunc(p.Studies, func(study string) bool { return !serves(study) }) {
			media = append(media, m.Name)
		}
	}
	slices.Sort(media)
	switch n := len(media); n {
	case 0:
		return "No one medium serves all of these: give each study a pot of its own, before a piece goes in."
	case 1:
		return fmt.Sprintf("Use %s, before a piece goes in.", media[0])
	default:
		return fmt.Sprintf("Use %s or %s, before a piece goes in.", strings.Join(media[:n-1], ", "), media[n-1])
	}
}

// bothTrue is the earlier of first, unless zero, and the instant from which both a and b hold.
func bothTrue(first, a, b time.Time) time.Time {
	if b.After(a) {
		a = b
	}
	if !first.IsZero() && first.Before(a) {
		return first
	}
	return a
}

// unused reports whether the procedure ended without this pot.
func (c *Case) unused(p *Pot) bool {
	return c.Ended != nil && (slices.Contains(c.Ended.Unused, p.Name) || c.Ended.Outcome == "not-done" && !c.anyTaken(p.Name))
}

// owesNothing reports whether the case was closed with a reason: then what nobody can do any more is not asked for.
func (k *checking) owesNothing() bool { return k.c.Closing != nil && k.c.Closing.Why != "" }

// expiredMedia: the medium was past its date when it was filled.
func (k *checking) expiredMedia() {
	for _, p := range k.c.Pots {
		if len(p.Fillings) == 0 {
			continue
		}
		fill := p.Fillings[len(p.Fillings)-1]
		if fill.Expires == "" || fill.When.Before(fill.Expires.End(k.r.zone)) || k.answered(FlagMediumExpired, p.Name, fill.When, time.Time{}) {
			continue
		}
		k.raise(Flag{Kind: FlagMediumExpired, Item: p.Name, Severity: Now, Since: fill.When, Who: "operator",
			Text: fmt.Sprintf("%s was filled %s with %s that expired at the end of %s.", potWord(p.Name), k.clock(fill.When),
				k.mediumWord(fill.Medium), fill.Expires.End(k.r.zone).AddDate(0, 0, -1).Format("Mon 2 Jan 2006")),
			Remedy: "Fill it again from a fresh lot, or answer why this one may be used.",
			Basis:  "common practice, no source"})
	}
}

// roomOpen: half an hour after the last piece a pot is not sealed or the room not cleared.
func (k *checking) roomOpen() {
	if k.owesNothing() {
		return
	}
	last := k.c.lastTaken()
	if last.When.IsZero() {
		return
	}
	var open []string
	for _, p := range k.c.Pots {
		if _, lid := k.r.lidOn(p); !lid && k.c.anyTaken(p.Name) {
			open = append(open, p.Name.Letter())
		}
	}
	cleared := slices.ContainsFunc(k.c.Cleared, func(m Mark) bool {
		return !m.When.Before(last.When) || m.Station != last.Station && last.When.Sub(m.When) <= StationClocks
	})
	if len(open) == 0 && cleared {
		return
	}
	since := k.r.until(last.When, protocol.LimitRoomOpen)
	if !k.reached(since) {
		return
	}
	f := Flag{Kind: FlagRoomOpen, Item: k.c.Name, Severity: Now, Since: since, Who: "operator", Basis: k.r.citeLimit(protocol.LimitRoomOpen)}
	switch {
	case len(open) == 0:
		f.Text = fmt.Sprintf("The last piece was taken %s and the room is not cleared; limit %s.", k.clock(last.When), k.r.limit(protocol.LimitRoomOpen))
		f.Remedy = "Look for labels and pots left over, then clear the room."
	case len(open) == 1:
		f.Text = fmt.Sprintf("The last piece was taken %s and pot %s is not sealed; limit %s.", k.clock(last.When), open[0], k.r.limit(protocol.LimitRoomOpen))
		f.Remedy = "Put the lid on, read the label back with a second person, and scan it."
	default:
		f.Text = fmt.Sprintf("The last piece was taken %s and pots %s are not sealed; limit %s.", k.clock(last.When), and(open), k.r.limit(protocol.LimitRoomOpen))
		f.Remedy = "Put the lids on, read the labels back with a second person, and scan them."
	}
	k.raise(f)
}

// lastTaken is when the last piece left the patient; pieces cut from others do not count.
func (c *Case) lastTaken() Mark {
	var last Mark
	for _, s := range c.Pieces {
		if s.From == "" && s.Taken.When.After(last.When) {
			last = s.Taken
		}
	}
	return last
}

// readBack: a pot changes hands unsealed, or was read back by the one who sealed it.
func (k *checking) readBack() {
	for _, p := range k.c.Pots {
		var alone *Seal
		read := false
		for i := range p.Seals {
			if p.Seals[i].With == p.Seals[i].By {
				alone = &p.Seals[i]
			} else {
				read = true
			}
		}
		if read {
			continue
		}
		f := Flag{Kind: FlagReadBackMissing, Item: p.Name, Who: "operator", Basis: k.r.citeLimit(protocol.LimitPhone)}
		if alone != nil {
			f.Since = alone.When
			f.Text = fmt.Sprintf("%s was sealed %s and its label read back by the same person.", potWord(p.Name), k.clock(alone.When))
			f.Remedy = "Read the label back with a second person or the patient, and seal it again."
		} else if held, ok := k.leftRoom(p); ok {
			f.Since = held.When
			f.Text = fmt.Sprintf("%s changed hands %s without being sealed and read back.", potWord(p.Name), k.clock(held.When))
			f.Remedy = "Look at lid and label now; ask the operator to record the sealing if it was done, or to come and identify the pot."
		} else {
			continue
		}
		if k.answered(FlagReadBackMissing, p.Name, f.Since, time.Time{}) {
			continue
		}
		f.Severity = Today
		if late := k.r.until(f.Since, protocol.LimitPhone); !k.reached(late) {
			f.Severity, f.Due = Watch, late
		}
		k.raise(f)
	}
}

// leftRoom is the first time a pot changed hands: its own scan or its bag's at a place other than a room, or one of the
// whole case when it holds something; a pot that was not used is not meant by that.
func (k *checking) leftRoom(p *Pot) (Custody, bool) {
	for _, held := range p.Custody {
		if k.r.role(held.Place) != roleRoom && (held.Direct || held.Bag != "" || p.HasEvents && !k.c.unused(p)) {
			return held, true
		}
	}
	return Custody{}, false
}

// piecesDiffer compares what was read aloud at sealing, what was potted, and what the laboratory counted.
func (k *checking) piecesDiffer() {
	for _, p := range k.c.Pots {
		potted, unknown := 0, 0
		for s := range k.c.PiecesIn(p.Name) {
			switch {
			case !s.Potted.When.IsZero():
				potted++
			case !s.Taken.When.IsZero():
				unknown++
			}
		}
		recorded := potted+unknown > 0
		fits := func(n int) bool { return n >= potted && n <= potted+unknown }
		var aloud *int
		var sealed time.Time
		if n := len(p.Seals); n > 0 {
			aloud, sealed = p.Seals[n-1].Pieces, p.Seals[n-1].When
		}
		if p.Counted != nil && p.Counted.Pieces != nil {
			n := *p.Counted.Pieces
			switch {
			case recorded && fits(n):
				continue
			case aloud != nil && *aloud == n && !recorded, aloud == nil && !recorded:
				continue
			case aloud == nil || *aloud != n:
				sent := potted + unknown
				if aloud != nil {
					sent = *aloud
				}
				k.counted(p, n, sent)
				continue
			}
		}
		if aloud != nil && recorded && !fits(*aloud) {
			k.readAloud(p, *aloud, potted+unknown, sealed)
		}
	}
}

func (k *checking) counted(p *Pot, found, sent int) {
	since := p.Counted.When
	if k.answered(FlagPiecesDiffer, p.Name, since, time.Time{}) {
		return
	}
	f := Flag{Kind: FlagPiecesDiffer, Item: p.Name, Since: since, Who: "operator, laboratory", Basis: "common practice, no source",
		Severity: difference(found, sent),
		Text: fmt.Sprintf("%s: %s sent, the laboratory counted %d on %s.", potWord(p.Name), plural(sent, "piece", "pieces"),
			found, k.clock(since))}
	switch {
	case found == 0:
		f.Remedy = "Look now: inside the lid, in gauze and wrapping, in the room's waste before it goes. Keep the pot."
	case found < sent:
		f.Remedy = "Ask the operator how many went in, and the laboratory to look in the lid; answer with what was found."
	default:
		f.Remedy = "Cores break: ask the laboratory whether these are fragments, and answer."
	}
	k.raise(f)
}

// difference is how bad it is to find another number than was sent.
func difference(found, sent int) Severity {
	switch {
	case found == 0:
		return Now
	case found < sent:
		return Today
	}
	return Watch
}

// readAloud: the count at sealing is not what was potted. While the room is not cleared it can be looked for.
func (k *checking) readAloud(p *Pot, aloud, potted int, sealed time.Time) {
	cleared, done := k.c.clearedAfter(sealed)
	if k.answered(FlagPiecesDiffer, p.Name, sealed, cleared) && done {
		return
	}
	f := Flag{Kind: FlagPiecesDiffer, Item: p.Name, Severity: Now, Since: sealed, Who: "operator", Basis: "common practice, no source",
		Text:   fmt.Sprintf("%s: %s read aloud at sealing, %d recorded as put in.", potWord(p.Name), plural(aloud, "piece was", "pieces were"), potted),
		Remedy: "Count again with a second person before the room is cleared; strike the wrong record and seal again."}
	if done {
		f.Severity = difference(aloud, potted)
		f.Remedy = "Tell the laboratory how many to expect, and answer with what was found."
	}
	k.raise(f)
}
