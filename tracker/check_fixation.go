package tracker

import (
	"fmt"
	"time"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// fixativeTime watches each piece from the patient into its medium: cold-ischaemia-long and fixative-time-missing.
func (k *checking) fixativeTime() {
	for _, s := range k.c.Pieces {
		p := k.c.Pot(s.Pot)
		if p == nil || s.Taken.When.IsZero() {
			continue
		}
		study, limit, onlyToday, needed := k.r.fixationLimit(p)
		if !needed {
			continue
		}
		if start, ok := k.r.fixationStart(k.c, p, s); ok {
			if start.Sub(s.Taken.When) > limit {
				k.ischaemiaOver(s, study, limit, start)
			}
			continue
		}
		lid, sealed := k.r.lidOn(p)
		if !sealed {
			k.stillOut(s, study, limit, onlyToday)
		}
		k.timeMissing(s, study, limit, lid, sealed)
	}
}

// ischaemiaOver: the piece reached fixative, but too late. That can no longer be put right.
func (k *checking) ischaemiaOver(s *Piece, study string, limit time.Duration, start time.Time) {
	over := s.Taken.When.Add(limit)
	if k.answered(FlagColdIschaemiaLong, s.Name, over, start) {
		return
	}
	k.raise(Flag{Kind: FlagColdIschaemiaLong, Item: s.Name, Severity: Today, Since: over,
		Text: fmt.Sprintf("%s left the patient %s and reached fixative %s, after %s; the limit for %s is %s.", pieceWord(s),
			k.clock(s.Taken.When), k.clock(start), span(start.Sub(s.Taken.When)), k.studyWord(study), span(limit)),
		Remedy: fmt.Sprintf("Tell %s, so that the report can say so.", k.ring("laboratory")),
		Who:    "operator", Basis: k.r.cite("studies." + study + ".to_fixation")})
}

// stillOut: the piece is past its limit and not in a medium yet. Minutes count, unless its studies bear it.
func (k *checking) stillOut(s *Piece, study string, limit time.Duration, onlyToday bool) {
	over := s.Taken.When.Add(limit)
	if !k.missed(over) {
		return
	}
	severity := Now
	if onlyToday {
		severity = Today
	}
	k.raise(Flag{Kind: FlagColdIschaemiaLong, Item: s.Name, Severity: severity, Since: over, Due: over,
		Text: fmt.Sprintf("%s left the patient %s and is not in fixative as far as is known; the limit for %s is %s.", pieceWord(s),
			k.clock(s.Taken.When), k.studyWord(study), span(limit)),
		Remedy: fmt.Sprintf("Put it into fixative at once and scan it; if it is in already, write down when. Then tell %s.", k.ring("laboratory")),
		Who:    "operator", Basis: k.r.cite("studies." + study + ".to_fixation")})
	k.hold(string(FlagColdIschaemiaLong), s.Name, FlagFixativeTimeMissing)
}

// timeMissing: nobody wrote down when the piece went into its medium.
func (k *checking) timeMissing(s *Piece, study string, limit time.Duration, lid time.Time, sealed bool) {
	since := k.r.until(s.Taken.When, protocol.LimitFixativeWatch)
	if !k.reached(since) || k.answered(FlagFixativeTimeMissing, s.Name, since, time.Time{}) {
		return
	}
	f := Flag{Kind: FlagFixativeTimeMissing, Item: s.Name, Since: since, Who: "operator",
		Text: fmt.Sprintf("%s left the patient %s and no time into fixative is written down; the limit for %s is %s.", pieceWord(s),
			k.clock(s.Taken.When), k.studyWord(study), span(limit)),
		Basis: k.r.citeLimit(protocol.LimitFixativeWatch)}
	soon := k.r.until(s.Taken.When, protocol.LimitFixativeNow)
	switch {
	case sealed:
		f.Severity = Today
		f.Remedy = fmt.Sprintf("The lid has been on since %s: write down when the piece went in, or answer that nobody knows, and tell %s.", k.clock(lid), k.ring("laboratory"))
	case k.reached(soon):
		f.Severity, f.Due, f.Basis = Now, s.Taken.When.Add(limit), k.r.citeLimit(protocol.LimitFixativeNow)
		f.Remedy = "Put it into its pot and scan it, or write down when it went in."
	default:
		f.Severity, f.Due = Watch, soon
		f.Remedy = "Put it into its pot and scan it."
	}
	k.raise(f)
}

// fixation judges the time in fixative of what was loaded: short by the pot's last piece in, long by its first.
func (k *checking) fixation() {
	for _, p := range k.c.Pots {
		window, ok := k.r.window(p)
		if !ok {
			continue
		}
		short, long, tooShort, tooLong := fixed{}, fixed{}, false, false
		for s := range k.c.PiecesIn(p.Name) {
			got, ok := k.fixedTime(p, s)
			if !ok {
				continue
			}
			if got.spent < window.min && (!tooShort || got.spent < short.spent) {
				short, tooShort = got, true
			}
			if window.max > 0 && got.spent > window.max && (!tooLong || got.spent > long.spent) {
				long, tooLong = got, true
			}
		}
		if tooShort {
			k.outside(FlagFixationShort, p, short, window.minStudy, window.min, "the least", "leave it in longer, or end fixation by hand later")
		}
		if tooLong {
			k.outside(FlagFixationLong, p, long, window.maxStudy, window.max, "the most", "take it out now")
		}
	}
}

// fixed is the fixation of one piece.
type fixed struct {
	start, end, loaded time.Time
	spent              time.Duration
}

// fixedTime is how long a piece was in fixative; not known when a time is missing, negative, or the medium does not fix.
func (k *checking) fixedTime(p *Pot, s *Piece) (fixed, bool) {
	start, ok := k.r.fixationStart(k.c, p, s)
	if !ok || start.Before(s.Taken.When) {
		return fixed{}, false
	}
	medium := s.Medium
	if medium == "" {
		medium, _ = k.c.medium(p)
	}
	if !k.r.p.Media[medium].Fixing {
		return fixed{}, false
	}
	end, loaded, ok := k.r.fixationEnd(p, s)
	if !ok || end.Before(start) {
		return fixed{}, false
	}
	return fixed{start: start, end: end, loaded: loaded, spent: end.Sub(start)}, true
}

// window is the strictest time in fixative among a pot's studies.
type window struct {
	min, max           time.Duration
	minStudy, maxStudy string
}

func (r *Rules) window(p *Pot) (window, bool) {
	var w window
	for _, key := range p.Studies {
		s := r.p.Studies[key]
		if s.Window == nil {
			continue
		}
		if d := s.Window.Min.Elapsed; d > w.min {
			w.min, w.minStudy = d, key
		}
		if d := s.Window.Max.Elapsed; d > 0 && (w.max == 0 || d < w.max) {
			w.max, w.maxStudy = d, key
		}
	}
	return w, w.min > 0 || w.max > 0
}

func (k *checking) outside(kind FlagKind, p *Pot, got fixed, study string, limit time.Duration, bound, cure string) {
	end := k.r.until(got.loaded, protocol.LimitLoadedNow)
	if k.answered(kind, p.Name, got.loaded, end) {
		return
	}
	f := Flag{Kind: kind, Item: p.Name, Since: got.loaded, Who: "laboratory", Basis: k.r.cite("studies." + study + ".window"),
		Text: fmt.Sprintf("%s: fixation from %s to %s is %s; %s for %s is %s.", potWord(p.Name), k.clock(got.start), k.clock(got.end),
			span(got.spent), bound, k.studyWord(study), span(limit))}
	if k.reached(end) {
		f.Severity = Today
		f.Remedy = fmt.Sprintf("Ask %s to note it on the report.", k.ring("laboratory"))
	} else {
		f.Severity, f.Due = Now, end
		f.Remedy = fmt.Sprintf("Ring %s: can it still come out of the run? If so, %s.", k.ring("laboratory"), cure)
	}
	k.raise(f)
}
