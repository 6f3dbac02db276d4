package tracker

import (
	"fmt"
	"slices"
	"time"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// heldByPause is what holds a late result back while its clock is stopped.
const heldByPause = "clock.paused"

// owed is an answer that a pot waits for.
type owed struct {
	stage   Stage // "" when only the fact of an answer counts
	studies []string
	start   time.Time
	full    time.Time // when it is due without pauses
	target  time.Time // with them
	words   string    // of the limit
	unsure  string    // a sentence, where the calendar does not reach so far
	basis   string
}

// overdue: no result of the stage within its target, per pot and study.
func (k *checking) overdue() {
	if k.owesNothing() {
		return
	}
	priority := k.r.p.Priority[k.c.Request.Priority]
	for _, p := range k.c.Pots {
		if k.settled(p) || k.c.unused(p) || !k.c.inUse(p) {
			continue
		}
		owing := k.owing(p, priority)
		if len(owing) > 0 {
			k.pausedNow(p)
		}
		for _, o := range owing {
			k.late(p, o, priority.Urgent)
		}
	}
}

// inUse reports whether something happened to the pot itself. Of a case that is known only as a whole, every planned pot
// counts.
func (c *Case) inUse(p *Pot) bool {
	return p.HasEvents || !slices.ContainsFunc(c.Pots, func(other *Pot) bool { return other.HasEvents })
}

// owing lists what a pot still waits for, with pauses taken out of its clock.
func (k *checking) owing(p *Pot, priority protocol.Priority) []owed {
	var list []owed
	receipt, received := k.r.receipt(p)
	taken, hasPieces := k.c.firstTaken(p)
	if !received && !hasPieces {
		return nil
	}
	final, reported := k.firstFinal(p)
	add := func(o owed) {
		o.target = k.unpaused(p, o.start, o.full)
		for i := range list {
			if list[i].stage == o.stage && list[i].target.Equal(o.target) && list[i].words == o.words {
				list[i].studies = append(list[i].studies, o.studies...)
				return
			}
		}
		list = append(list, o)
	}
	for _, key := range p.Studies {
		study, known := k.r.p.Studies[key]
		if !known {
			continue
		}
		switch {
		case study.AfterFinal != nil && (reported || k.wantsReport(p)):
			if reported && !k.hasResult(p, key, study.Default, StageAddendum) {
				add(owed{stage: StageAddendum, studies: []string{key}, start: final, full: k.r.after(final, study.AfterFinal.Span),
					words: fmt.Sprintf("%s after the final result", study.AfterFinal.Span), unsure: k.r.unsureAfter(final, study.AfterFinal.Span), basis: k.r.cite("studies." + key + ".after_final")})
			}
		case !received:
			if !k.hasResult(p, key, study.Default, StageFinal) {
				add(owed{studies: []string{key}, start: taken, full: k.r.until(taken, protocol.LimitNoReceipt),
					words: fmt.Sprintf("%s from when it was taken", k.r.limit(protocol.LimitNoReceipt)), unsure: k.r.unsureAfter(taken, k.r.limit(protocol.LimitNoReceipt)), basis: k.r.citeLimit(protocol.LimitNoReceipt)})
			}
		case study.Target != nil:
			if !k.hasResult(p, key, study.Default, StageFinal) {
				add(owed{stage: StageFinal, studies: []string{key}, start: receipt, full: k.r.after(receipt, study.Target.Span),
					words: fmt.Sprintf("%s from receipt", study.Target.Span), unsure: k.r.unsureAfter(receipt, study.Target.Span), basis: k.r.cite("studies." + key + ".target")})
			}
		default:
			for _, name := range k.r.p.TargetsOf(k.c.Request.Priority) {
				target := k.r.p.Targets[name]
				stage := Stage(target.Stage)
				start, from := k.startOf(p, target.From, receipt, taken)
				if start.IsZero() || slices.Contains(target.Excludes, key) || k.hasResult(p, key, study.Default, stage) {
					continue
				}
				days := k.r.calendarOf(target.Calendar)
				o := owed{stage: stage, studies: []string{key}, start: start, full: after(days, start, target.Span),
					words: fmt.Sprintf("%s from %s", target.Span, from), basis: k.r.cite("targets." + name)}
				more := added(target, key, study)
				if stage != StageFinal {
					more = protocol.Span{}
				}
				if !more.IsZero() {
					o.full = after(days, o.full, more)
					o.words += fmt.Sprintf(" and %s more", more)
				}
				o.unsure = unsure(days, o.full, target.Span, more)
				add(o)
			}
		}
	}
	return list
}

// added is the time that a study adds to a target: what the target says of it, else what the study says.
func added(target protocol.Target, key string, study protocol.Study) protocol.Span {
	if more, ok := target.Adds[key]; ok {
		return more
	}
	if study.Adds != nil {
		return study.Adds.Span
	}
	return protocol.Span{}
}

// wantsReport reports whether a study of the pot is answered by a final result that names none: then others may wait for
// it.
func (k *checking) wantsReport(p *Pot) bool {
	return slices.ContainsFunc(p.Studies, func(key string) bool { return k.r.p.Studies[key].Default })
}

// startOf is the event at which a target's clock starts.
func (k *checking) startOf(p *Pot, from string, receipt, taken time.Time) (time.Time, string) {
	switch from {
	case "accession":
		if p.Accession == nil {
			return time.Time{}, from
		}
		return p.Accession.When, from
	case "taken":
		return taken, "when it was taken"
	}
	return receipt, "receipt"
}

// hasResult reports whether an answer of at least the stage exists for the study on the pot.
func (k *checking) hasResult(p *Pot, study string, byDefault bool, stage Stage) bool {
	return slices.ContainsFunc(k.c.Results, func(r *Result) bool {
		return (stage == StageProvisional || r.Stage != StageProvisional) && r.covers(p.Name, study, byDefault) &&
			(r.Stage != StageAddendum || r.Studies != nil)
	})
}

// firstFinal is when the pot's histology or cytology had its first final result.
func (k *checking) firstFinal(p *Pot) (time.Time, bool) {
	for _, r := range k.c.Results {
		if (r.Stage == StageFinal || r.Stage == StageAmended) && slices.Contains(r.Pots, p.Name) && (r.Studies == nil || hasMorphology(r.Studies)) {
			return r.When, true
		}
	}
	return time.Time{}, false
}

// unpaused moves a target on by the time that its clock stood still.
func (k *checking) unpaused(p *Pot, start, target time.Time) time.Time {
	counted := start // pauses are in order; what one has covered another does not add again
	for _, pause := range p.Pauses {
		from := pause.When
		if from.Before(counted) {
			from = counted
		}
		if !from.Before(target) || !pause.Until.After(from) {
			continue
		}
		target = target.Add(pause.Until.Sub(from))
		counted = pause.Until
	}
	return target
}

// pausedNow holds a late result back while the pot's clock is stopped.
func (k *checking) pausedNow(p *Pot) {
	for _, pause := range p.Pauses {
		if k.reached(pause.When) && !k.reached(pause.Until) {
			k.hold(heldByPause, p.Name, FlagResultOverdue)
			return
		}
	}
}

// Shares of a target at which a late result is noticed, in hundredths of the span from start to target.
// Source: contract page on flags; pottrail default.
const (
	noticeAt = 80
	worstAt  = 150
)

func (k *checking) late(p *Pot, o owed, urgent bool) {
	share := func(hundredths int) time.Time {
		return k.unpaused(p, o.start, o.start.Add(o.full.Sub(o.start)/100*time.Duration(hundredths)))
	}
	notice := share(noticeAt)
	if !k.reached(notice) {
		return
	}
	names := make([]string, 0, len(o.studies))
	for _, s := range o.studies {
		names = append(names, k.studyWord(s))
	}
	stage := "result"
	if o.stage != "" {
		stage = string(o.stage) + " result"
	}
	f := Flag{Kind: FlagResultOverdue, Item: p.Name, Severity: Watch, Since: notice, Due: o.target, Who: "coordinator", Basis: o.basis,
		Text:   fmt.Sprintf("%s: no %s for %s; it is due %s, %s.", potWord(p.Name), stage, and(names), k.clock(o.target), o.words),
		Remedy: "Nothing to do yet: it is near its target."}
	if k.missed(o.target) {
		f.Severity, f.Since = Today, o.target
		f.Text = fmt.Sprintf("%s: no %s for %s; it was due %s, %s.", potWord(p.Name), stage, and(names), k.clock(o.target), o.words)
		f.Remedy = k.askForResult(p)
		if urgent && k.reached(share(worstAt)) {
			f.Severity = Now
		}
	}
	f.Text += o.unsure
	k.raise(f)
}

func (k *checking) askForResult(p *Pot) string {
	ask := "where is it, and what does it wait for?"
	if p.Accession != nil {
		ask = p.Accession.Number + ": " + ask
	}
	return fmt.Sprintf("Ring %s. Ask: %s", k.ring("laboratory"), ask)
}
