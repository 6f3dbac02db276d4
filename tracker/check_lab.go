package tracker

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// queried: the laboratory keeps a pot and asks something of the clinic. Its going on with the pot in any way ends that,
// since then nobody waits for the answer.
func (k *checking) queried() {
	if k.owesNothing() {
		return
	}
	for _, p := range k.c.Pots {
		q := p.Queried
		if q == nil || k.settled(p) || k.c.resultAfter(p, q.When) {
			continue
		}
		needs := ""
		if q.Needs != "" {
			needs = " It needs: " + ended(q.Needs)
		}
		k.raise(Flag{Kind: FlagLabQueried, Item: p.Name, Severity: Today, Since: q.When, Who: "operator", Basis: "common practice, no source",
			Text:   fmt.Sprintf("%s: the laboratory keeps it and asks since %s: %s%s", potWord(p.Name), k.clock(q.When), ended(q.Why), needs),
			Remedy: fmt.Sprintf("Ring %s with the answer, so that it goes on with the pot.", k.ring("laboratory"))})
	}
}

// resultAfter reports whether a result that speaks of the pot was issued after an instant.
func (c *Case) resultAfter(p *Pot, t time.Time) bool {
	return slices.ContainsFunc(c.Results, func(r *Result) bool { return r.When.After(t) && slices.Contains(r.Pots, p.Name) })
}

// referrals: tissue was sent on and is not back when it was to be. Where nobody said when, nothing is watched.
func (k *checking) referrals() {
	if k.owesNothing() {
		return
	}
	for _, p := range k.c.Pots {
		for i := range p.Referrals {
			away := &p.Referrals[i]
			if !away.Returned.IsZero() || away.Due.IsZero() || k.settled(p) || !k.missed(away.Due) {
				continue
			}
			since := away.Due
			if away.When.After(since) {
				since = away.When // recorded with a day that had gone by
			}
			what := away.What
			if what == "" {
				what = "material"
			}
			k.raise(Flag{Kind: FlagReferralLate, Item: p.Name, Severity: Today, Since: since, Due: away.Due, Who: "laboratory", Basis: "common practice, no source",
				Text: fmt.Sprintf("%s: %s went to %s on %s, to be back by %s, and no return is recorded.", potWord(p.Name), what, k.placeWord(away.To), k.clock(away.When),
					k.clock(away.Due)),
				Remedy: fmt.Sprintf("Ring %s. Ask for it back, or for the day on which it will be; record its return.", k.ringPlace(away.To))})
		}
	}
}

// ended is what people wrote, with one mark at its end: a question keeps its own.
func ended(words string) string {
	words = strings.TrimSpace(words)
	if strings.HasSuffix(words, "?") || strings.HasSuffix(words, "!") {
		return words
	}
	return strings.TrimRight(words, ". ") + "."
}
