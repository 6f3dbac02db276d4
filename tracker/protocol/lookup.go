package protocol

import "slices"

// TargetsOf lists the targets of a priority under the set in force, as keys in Targets.
func (p *Protocol) TargetsOf(priority string) []string {
	return p.Sets[p.TargetSet].Priorities[priority]
}

// PiecesNeeded is how many adequate pieces a lesion calls for by organ, target and needle; a gauge of 0 is not known. The
// key is where the number stands, for [Protocol.Cite]. Not ok: the protocol asks for none.
func (p *Protocol) PiecesNeeded(organ, target string, gauge float64) (n int, counts, key string, ok bool) {
	o, known := p.Organs[organ]
	if !known {
		return 0, "", "", false
	}
	if gauge > 0 {
		for _, name := range keys(o.Needles) {
			needle := o.Needles[name]
			if gauge < needle.FromGauge || gauge > needle.ToGauge {
				continue
			}
			if n, ok := needed(needle.Pieces, target); ok {
				return n, o.Counts, "organs." + organ + ".needles." + name, true
			}
		}
	}
	n, ok = needed(o.Pieces, target)
	return n, o.Counts, "organs." + organ, ok
}

func needed(pieces map[string]int, target string) (n int, ok bool) {
	if n, ok = pieces[target]; ok {
		return n, true
	}
	n, ok = pieces[anyTarget]
	return n, ok
}

// PoorLook reports whether a look is poor for an organ and the studies of its pot: pus is none for culture, and fat is in
// a breast.
func (p *Protocol) PoorLook(look, organ string, studies []string) bool {
	l, known := p.Looks[look]
	if !known || slices.ContainsFunc(studies, func(s string) bool { return slices.Contains(l.GoodFor, s) }) {
		return false
	}
	return l.Poor || slices.Contains(l.PoorIn, organ)
}

// WantsMeeting reports whether a result's category wants a meeting. Undivided is set when the category has been divided
// since, so that the laboratory must say which it is.
func (p *Protocol) WantsMeeting(category string) (undivided *Undivided, ok bool) {
	if category == "" {
		return nil, false
	}
	key := plain(category)
	if u, known := p.undivided[key]; known {
		return &u, true
	}
	return nil, slices.ContainsFunc(p.Meeting.Categories, func(c string) bool { return sameOrPart(key, plain(c)) })
}

// sameOrPart reports whether a plain category is the other, or that one with one letter after its figure.
func sameOrPart(key, category string) bool {
	if key == category || key == bethesda+category && isNumeral(category) {
		return true
	}
	n := len(category)
	return len(key) == n+1 && n > 0 && key[:n] == category && category[n-1] >= '0' && category[n-1] <= '9' && key[n] >= 'A' && key[n] <= 'Z'
}

// Severity is how bad an imaging group and a class of results are together until both were put side by side: "now",
// "today", "watch", or "" when they go together.
func (c Concordance) Severity(group, class string) string {
	switch group {
	case ImagingHigh:
		return c.High[class]
	case ImagingMid:
		return c.Mid[class]
	}
	return ""
}
