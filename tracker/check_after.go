package tracker

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// afterwards judges what becomes of an answer: taken on the same day, discussed, acted on, closed.
func (k *checking) afterwards() {
	k.critical()
	k.inadequate()
	k.meetings()
	k.plans()
	k.unfinished()
}

// critical: a critical result that no clinician took on before the day of its issue was over.
func (k *checking) critical() {
	for _, r := range k.current() {
		if !k.unreadCritical(r) {
			continue
		}
		over := k.dayAfter(r.When)
		f := Flag{Kind: FlagResultCritical, Item: k.c.Name, Severity: Now, Since: over, Who: "clinician", Basis: k.r.citeLimit(protocol.LimitCritical),
			Text:   fmt.Sprintf("%s is critical, was issued %s and nobody read it that day.", k.resultWord(r), k.clock(r.When)),
			Remedy: fmt.Sprintf("Ring %s now and speak to a person; record who took it on.", k.ring("clinician"))}
		if later := k.r.until(over, protocol.LimitCritical); k.reached(later) {
			f.Who = "clinician, coordinator"
			f.Remedy = fmt.Sprintf("Ring %s now and speak to a person; if nobody answers, find another clinician of the team. Record who took it on.", k.ring("clinician"))
		} else {
			f.Due = later
		}
		k.raise(f)
	}
}

// unreadCritical reports whether a critical result was not read on the day of its issue, and still is not.
func (k *checking) unreadCritical(r *Result) bool {
	return r.Critical && r.Seen.IsZero() && !k.excused(r) && k.reached(k.dayAfter(r.When))
}

// dayAfter is the midnight that ends an instant's day in the clinic's zone.
func (k *checking) dayAfter(t time.Time) time.Time {
	local := t.In(k.r.zone)
	return time.Date(local.Year(), local.Month(), local.Day()+1, 0, 0, 0, 0, k.r.zone)
}

// inadequate: there was too little to tell, and nobody has decided whether to try again.
func (k *checking) inadequate() {
	for _, r := range k.current() {
		if k.class(r.Category) != classInadequate || k.excused(r) || k.c.plannedAfter(r.When) {
			continue
		}
		k.raise(Flag{Kind: FlagSampleInadequate, Item: k.c.Name, Severity: Today, Since: r.When, Who: "clinician", Basis: k.r.cite("classes." + classInadequate),
			Text:   fmt.Sprintf("%s, issued %s, says that the sample was not enough for an answer.", k.resultWord(r), k.clock(r.When)),
			Remedy: fmt.Sprintf("Ask %s whether to repeat it, and record the plan.", k.ring("clinician"))})
	}
}

// meetings: a result of a kind that those who image, treat and report look at together.
func (k *checking) meetings() {
	for _, r := range k.current() {
		undivided, wants := k.r.p.WantsMeeting(r.Category)
		if !wants || k.excused(r) || k.c.talkedOf(r.ID) {
			continue
		}
		f := Flag{Kind: FlagNeedsMeeting, Item: k.c.Name, Severity: Today, Since: r.When, Who: "clinician", Basis: k.r.cite("meeting"),
			Text:   fmt.Sprintf("%s was issued %s and has not been discussed; such a result wants a meeting.", k.resultWord(r), k.clock(r.When)),
			Remedy: fmt.Sprintf("Ask %s to put it on the list of the next meeting and to record what was decided.", k.ring("clinician"))}
		if undivided != nil {
			f.Remedy += fmt.Sprintf(" Ask %s which it is: %s.", k.ring("laboratory"), strings.Join(undivided.Divided, " or "))
		}
		k.raise(f)
	}
}

// talkedOf reports whether a discussion named the result.
func (c *Case) talkedOf(id EventID) bool {
	return slices.ContainsFunc(c.Talks, func(t Talk) bool { return slices.Contains(t.Results, id) })
}

// plans: something was to be done about the patient, and nothing shows that it was.
func (k *checking) plans() {
	if k.owesNothing() || len(k.c.Repeats) > 0 || k.c.Closing != nil && carriesOut(k.c.Closing.Outcome) {
		return
	}
	for i, talk := range k.c.Talks {
		what, planned := planWords(talk.Plan)
		if !planned || k.c.replanned(i) {
			continue
		}
		since := k.r.until(talk.When, protocol.LimitPlan)
		if !k.reached(since) {
			continue
		}
		k.raise(Flag{Kind: FlagPlanNotDone, Item: k.c.Name, Severity: Today, Since: since, Due: since, Who: "coordinator", Basis: k.r.citeLimit(protocol.LimitPlan),
			Text:   fmt.Sprintf("On %s %s was decided, and nothing is recorded of it; limit %s.", k.clock(talk.When), what, k.r.limit(protocol.LimitPlan)),
			Remedy: fmt.Sprintf("Ask %s whether it is booked; open the repeat as a case of its own that names this one, or close this one with what was done.", k.ring("clinician"))})
	}
}

// carriesOut reports whether an outcome says that such a plan was carried out. The dead have no plan.
func carriesOut(outcome string) bool {
	return outcome == "repeat" || outcome == "surgery" || outcome == "referred" || outcome == OutcomeDied
}

// planWords are the plans that leave a trace when they are carried out, in words.
func planWords(plan string) (string, bool) {
	switch plan {
	case "repeat-biopsy":
		return "a repeat biopsy", true
	case "excise":
		return "an excision", true
	case "refer":
		return "a referral", true
	}
	return "", false
}

// replanned reports whether a later discussion of the same results decided anew.
func (c *Case) replanned(i int) bool {
	return slices.ContainsFunc(c.Talks[i+1:], func(later Talk) bool {
		return len(c.Talks[i].Results) == 0 || slices.ContainsFunc(later.Results, func(id EventID) bool { return slices.Contains(c.Talks[i].Results, id) })
	})
}

// unfinished: all is said and the case lies open, or it was closed over something that is still owed.
func (k *checking) unfinished() {
	closing := k.c.Closing
	switch {
	case closing == nil && len(k.c.Tellings) > 0:
		told := k.c.Tellings[len(k.c.Tellings)-1].When
		since := k.r.until(told, protocol.LimitUnfinished)
		if !k.reached(since) {
			return
		}
		k.raise(Flag{Kind: FlagCaseUnfinished, Item: k.c.Name, Severity: Watch, Since: since, Who: "coordinator", Basis: k.r.citeLimit(protocol.LimitUnfinished),
			Text:   fmt.Sprintf("The patient was told %s and the case is still open; limit %s.", k.clock(told), k.r.limit(protocol.LimitUnfinished)),
			Remedy: "Close it with its outcome, or say what it still waits for."})
	case closing != nil && closing.Why == "":
		left := k.leftOpen(closing.When)
		if len(left) == 0 {
			return
		}
		k.raise(Flag{Kind: FlagCaseUnfinished, Item: k.c.Name, Severity: Today, Since: closing.When, Who: "coordinator", Basis: "pottrail: a case is closed when nothing more is owed",
			Text:   fmt.Sprintf("The case was closed %s, and no reason was given for what is left: %s.", k.clock(closing.When), strings.Join(left, "; ")),
			Remedy: "Settle what is left, or close it again with the reason why that is not needed."})
	}
}

// leftOpen lists what a case was closed over: results unread, a patient not told, studies without an answer. What came
// after the closing has flags of its own.
func (k *checking) leftOpen(closed time.Time) (left []string) {
	for _, r := range k.current() {
		if r.When.After(closed) {
			continue
		}
		switch word := inSentence(k.resultWord(r)); {
		case r.Seen.IsZero():
			left = append(left, word+" is unread")
		case k.untold(r) && k.c.Closing.Outcome != OutcomeDied:
			left = append(left, "the patient has not been told of "+word)
		}
	}
	for _, p := range k.c.Pots {
		if missing := k.unansweredStudies(p, closed); len(missing) > 0 {
			left = append(left, inSentence(potWord(p.Name))+" has no answer for "+and(missing))
		}
	}
	return left
}

// inSentence is a phrase with a small letter at its beginning.
func inSentence(phrase string) string { return strings.ToLower(phrase[:1]) + phrase[1:] }

// unansweredStudies lists in words what was asked of a used pot by then and has no final answer.
func (k *checking) unansweredStudies(p *Pot, then time.Time) []string {
	_, received := k.r.receipt(p)
	if k.c.unused(p) || k.settled(p) || !received && !k.c.anyTaken(p.Name) {
		return nil
	}
	var missing []string
	for _, key := range p.Studies {
		if study, known := k.r.p.Studies[key]; known && !p.Asked[key].After(then) && !k.hasResult(p, key, study.Default, StageFinal) {
			missing = append(missing, k.studyWord(key))
		}
	}
	return missing
}
