package tracker

import (
	"cmp"
	"fmt"
	"slices"
	"time"
)

// Check says what is wrong with a case now, what is held back, and the next instant at which that could change by time
// alone. It depends on nothing but its arguments.
func Check(c *Case, r *Rules, now time.Time) Findings {
	k := newChecking(c, r, now)
	if !c.Known {
		k.unknownItems(c.Strangers)
		k.clocks(c.Doubts)
		return k.findings()
	}
	k.fixativeTime()
	k.fixation()
	k.containers()
	k.expiredMedia()
	k.labels()
	k.adequacy()
	k.roomOpen()
	k.readBack()
	k.piecesDiffer()
	k.lost()
	k.refused()
	k.notAtLab()
	k.hands()
	k.custody()
	k.queried()
	k.referrals()
	k.forecasts()
	k.overdue()
	k.unread()
	k.changed()
	k.discordance()
	k.waiting()
	k.afterwards()
	k.clocks(c.Doubts)
	k.roles(c.steps)
	k.openedTwice()
	k.gaps()
	k.horizon()
	return k.findings()
}

// CheckBag does for a bag what [Check] does for a case.
func CheckBag(b *Bag, r *Rules, now time.Time) Findings {
	k := newChecking(&Case{Labels: b.Labels, Answers: b.Answers, Doubts: b.Doubts}, r, now)
	k.bag = b.Name
	k.unknownItems(b.Strangers)
	k.leftOver()
	k.superseded()
	k.contents(b)
	k.clocks(b.Doubts)
	k.roles(b.steps)
	return k.findings()
}

// checking collects what one check finds. Every comparison with now goes through reached, which notes the instant as a
// wake; so the answer cannot change before wake without an event.
type checking struct {
	c       *Case
	r       *Rules
	now     time.Time
	bag     Name // set when a bag is checked
	wake    time.Time
	flags   []Flag
	holders []holding
	held    []HeldFlag // held back one by one: a result by the same result
	results []*Result  // those that no later one replaces
}

// holding is one cause that holds other flags back.
type holding struct {
	by    string
	flags []FlagKind
	item  Name // the pot or piece that it is about
}

func newChecking(c *Case, r *Rules, now time.Time) *checking {
	k := &checking{c: c, r: r, now: now}
	if len(c.Results) > 0 {
		k.results = c.current()
	}
	return k
}

// current lists the results that no later one replaces.
func (k *checking) current() []*Result { return k.results }

// reached reports whether the instant has come; if not, the check must be made again then.
func (k *checking) reached(t time.Time) bool {
	if !k.now.Before(t) {
		return true
	}
	if k.wake.IsZero() || t.Before(k.wake) {
		k.wake = t
	}
	return false
}

// missed reports whether a limit that may still be met at t itself is over: one second later.
func (k *checking) missed(t time.Time) bool { return k.reached(t.Add(time.Second)) }

// raise adds a flag to the findings.
func (k *checking) raise(f Flag) {
	if k.bag == "" && f.Kind != FlagUnknownItem {
		f.Case = k.c.Name
	}
	for i := range k.flags {
		if k.flags[i].Kind == f.Kind && k.flags[i].Item == f.Item {
			k.flags[i] = worse(k.flags[i], f)
			return
		}
	}
	k.flags = append(k.flags, f)
}

// raiseUnless adds a flag to the findings or, when there is something that holds it back, to what is held.
func (k *checking) raiseUnless(by string, f Flag) {
	if by == "" {
		k.raise(f)
		return
	}
	f.Case = k.c.Name
	for i := range k.held {
		if k.held[i].Kind == f.Kind && k.held[i].Item == f.Item && k.held[i].By == by {
			k.held[i].Flag = worse(k.held[i].Flag, f)
			return
		}
	}
	k.held = append(k.held, HeldFlag{Flag: f, By: by})
}

// worse merges two flags of a kind on one item: the more severe speaks, the earlier dates stand.
func worse(a, b Flag) Flag {
	if b.Severity.Rank() < a.Severity.Rank() || b.Severity == a.Severity && b.Since.Before(a.Since) {
		a, b = b, a
	}
	if b.Severity == a.Severity && b.Text != a.Text {
		a.Text += " " + b.Text
	}
	if b.Since.Before(a.Since) {
		a.Since = b.Since
	}
	return a
}

// answered reports whether somebody said what was done about a flag, at or after its cause; end is when the stretch in
// which it could still be put right was over, zero when there is none.
func (k *checking) answered(kind FlagKind, item Name, cause, end time.Time) bool {
	return slices.ContainsFunc(k.c.Answers, func(a Answer) bool {
		return a.Flag == kind && a.Item == item && !a.When.Before(cause) && !a.When.Before(end)
	})
}

// hold says that a cause holds back flags of some kinds on one pot or piece.
func (k *checking) hold(by string, item Name, kinds ...FlagKind) {
	k.holders = append(k.holders, holding{by: by, item: item, flags: kinds})
}

func (k *checking) heldBy(f Flag) string {
	for _, h := range k.holders {
		if h.item == f.Item && slices.Contains(h.flags, f.Kind) {
			return h.by
		}
	}
	return ""
}

func (k *checking) findings() Findings {
	out := Findings{Flags: []Flag{}, Held: []HeldFlag{}, Wake: k.wake}
	for _, f := range k.flags {
		if by := k.heldBy(f); by != "" {
			out.Held = append(out.Held, HeldFlag{Flag: f, By: by})
			continue
		}
		out.Flags = append(out.Flags, f)
	}
	out.Held = append(out.Held, k.held...)
	slices.SortStableFunc(out.Flags, CompareFlags)
	slices.SortStableFunc(out.Held, func(a, b HeldFlag) int { return CompareFlags(a.Flag, b.Flag) })
	return out
}

// CompareFlags orders flags: the most severe first, then the longest overdue, then by kind and item.
func CompareFlags(a, b Flag) int {
	return cmp.Or(
		cmp.Compare(a.Severity.Rank(), b.Severity.Rank()),
		compareDue(a.Due, b.Due),
		cmp.Compare(a.Case, b.Case),
		cmp.Compare(a.Kind, b.Kind),
		cmp.Compare(a.Item, b.Item),
	)
}

// compareDue puts what has no due time last.
func compareDue(a, b time.Time) int {
	switch {
	case a.IsZero() && b.IsZero():
		return 0
	case a.IsZero():
		return 1
	case b.IsZero():
		return -1
	}
	return a.Compare(b)
}

// Judgement is what is known of a watched thing at an instant.
type Judgement struct {
	Summary  Summary  `json:"summary"`
	Findings Findings `json:"findings"`
}

// Judge folds and checks a watched thing, a case, a bag or the day of a room, from its gathered events. A fault in the rules is never a
// reason to stop: it is itself a finding, `not-judged`.
func Judge(watched Name, gathered []*Event, r *Rules, now time.Time) (j Judgement) {
	defer func() {
		if fault := recover(); fault != nil {
			j.Findings = Findings{Flags: []Flag{notJudged(watched, lastWhen(gathered), fault)}, Held: []HeldFlag{}}
			j.Summary.Name = watched
		}
	}()
	if watched.Thing() == ThingRoomDay {
		j.Summary = Summary{Name: watched, Step: StepRoomDay}
		j.Findings = CheckRoom(watched, gathered, r)
		return j
	}
	if watched.Thing() == ThingBag {
		b := FoldBag(watched, gathered)
		j.Summary = b.Summary(r)
		j.Findings = CheckBag(b, r, now)
		j.Summary.sleep(gathered, r, j.Findings)
		return j
	}
	c := Fold(watched, gathered)
	j.Summary = c.Summary(r)
	j.Findings = Check(c, r, now)
	j.Summary.sleep(gathered, r, j.Findings)
	return j
}

func lastWhen(events []*Event) time.Time {
	var last time.Time
	for _, e := range events {
		if e.When().After(last) {
			last = e.When()
		}
	}
	return last
}

func notJudged(watched Name, since time.Time, fault any) Flag {
	f := Flag{Kind: FlagNotJudged, Item: watched, Severity: Now, Since: since,
		Text:   fmt.Sprintf("The rules failed on this %s, so nothing about it is watched.", watched.Thing()),
		Remedy: "Watch it by hand, and send the administrator this line: " + fmt.Sprint(fault) + ".",
		Who:    "administrator", Basis: "pottrail: a fault in its own rules"}
	if watched.Thing() == ThingCase {
		f.Case = watched
	}
	return f
}
