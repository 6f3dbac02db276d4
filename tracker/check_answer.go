package tracker

import (
	"fmt"
	"slices"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// unread: a result was issued and no clinician has read it.
func (k *checking) unread() {
	for _, r := range k.current() {
		if !r.Seen.IsZero() || k.excused(r) {
			continue
		}
		key := protocol.LimitUnread
		if k.serious(r.Category) {
			key = protocol.LimitUnreadSerious
		}
		since := k.r.until(r.When, key)
		if !k.reached(since) {
			continue
		}
		by := ""
		if k.unreadCritical(r) {
			by = string(FlagResultCritical)
		}
		k.raiseUnless(by, Flag{Kind: FlagResultUnread, Item: k.c.Name, Severity: Today, Since: since, Due: since, Who: "clinician", Basis: k.r.citeLimit(key),
			Text:   fmt.Sprintf("%s was issued %s and nobody has read it; limit %s.", k.resultWord(r), k.clock(r.When), k.r.limit(key)),
			Remedy: fmt.Sprintf("Ask %s to read it and take it on.", k.ring("clinician"))})
	}
}

// excused reports whether the case was closed with a reason after the result came: whoever closed it knew of it.
func (k *checking) excused(r *Result) bool {
	return k.owesNothing() && !r.When.After(k.c.Closing.When)
}

// Result classes of the protocol that rules name.
const (
	classInadequate = "inadequate"
	classBenign     = "benign"
	classSuspicious = "suspicious"
	classMalignant  = "malignant"
)

func (k *checking) class(category string) string {
	class, _ := k.r.p.ClassOf(category)
	return class
}

// serious reports whether a category is malignant or suspicious.
func (k *checking) serious(category string) bool {
	class := k.class(category)
	return class == classMalignant || class == classSuspicious
}

// resultWord is how a sentence calls a result: "The final result B2 on pot A".
func (k *checking) resultWord(r *Result) string {
	word := "The " + string(r.Stage) + " result"
	if r.Category != "" {
		word += " " + r.Category
	}
	var letters []string
	for _, n := range r.Pots {
		letters = append(letters, n.Letter())
	}
	switch len(letters) {
	case 0:
		return word
	case 1:
		return word + " on pot " + letters[0]
	}
	return word + " on pots " + and(letters)
}

// changed: a result was amended, or has a new category, after an earlier one was read, told or the case closed.
func (k *checking) changed() {
	died := k.c.Closing != nil && k.c.Closing.Outcome == OutcomeDied
	for _, r := range k.current() {
		before, known := k.changes(r)
		if !known || !r.Seen.IsZero() && (died || !r.Told.IsZero()) {
			continue
		}
		f := Flag{Kind: FlagResultChanged, Item: k.c.Name, Severity: Now, Since: r.When, Who: "clinician", Basis: "common practice, no source",
			Text: fmt.Sprintf("%s was issued %s, after %s.", k.resultWord(r), k.clock(r.When), before)}
		if r.Seen.IsZero() {
			f.Remedy = fmt.Sprintf("Ring %s: read it now and say what it changes; then the patient must be told.", k.ring("clinician"))
		} else {
			f.Remedy = fmt.Sprintf("It is read: ask %s to tell the patient what changed.", k.ring("clinician"))
		}
		k.raise(f)
	}
}

// changes says what had already happened on an earlier answer when r changed it.
func (k *checking) changes(r *Result) (what string, changed bool) {
	for _, earlier := range k.c.Results {
		if !earlier.When.Before(r.When) || !earlier.overlaps(r) {
			continue
		}
		newCategory := r.Category != "" && earlier.Category != "" && !protocol.SameCategory(r.Category, earlier.Category)
		if r.Stage != StageAmended && !newCategory {
			continue
		}
		from := string(earlier.Stage) + " result"
		if earlier.Category != "" {
			from += " " + earlier.Category
		}
		switch {
		case !earlier.Told.IsZero() && !earlier.Told.After(r.When):
			return "the patient was told of the " + from, true
		case !earlier.Seen.IsZero() && !earlier.Seen.After(r.When):
			return "the " + from + " was read", true
		case k.c.Closing != nil && !k.c.Closing.When.After(r.When):
			return "the case was closed", true
		}
	}
	return "", false
}

// discordance: imaging and pathology do not go together, and nobody has put them side by side.
func (k *checking) discordance() {
	for _, r := range k.current() {
		if k.c.concordanceOf(r.ID) {
			continue
		}
		class := k.class(r.Category)
		for _, lesion := range k.c.lesionsOf(r) {
			f := Flag{Kind: FlagDiscordant, Item: k.c.Name, Since: r.When, Who: "clinician", Basis: k.r.cite("concordance"),
				Remedy: fmt.Sprintf("Ask %s to look at images and report together and record the plan.", k.ring("clinician"))}
			together := Severity("")
			if group, known := k.r.p.ImagingGroup(lesion.Imaging); known {
				together = Severity(k.r.p.Concord.Severity(group, class))
			}
			missed := Severity("")
			if class != classMalignant && k.c.calciumMissed(lesion) {
				missed = Severity(k.r.p.Concord.CalciumMissed)
			}
			switch {
			case together == "" && missed == "":
				continue
			case together != "" && (missed == "" || together.Rank() < missed.Rank()):
				f.Severity = together
			default:
				f.Severity = missed
				f.Text = fmt.Sprintf("%s: the target of lesion %s was calcification, and no calcium was seen in the pieces.", k.resultWord(r), lesion.Key)
			}
			if f.Text == "" {
				f.Text = fmt.Sprintf("%s, and imaging said %s for lesion %s: they do not go together by themselves.", k.resultWord(r), lesion.Imaging, lesion.Key)
			}
			k.raise(f)
		}
	}
}

// concordanceOf reports whether a talk named the result, assessed it and has a plan.
func (c *Case) concordanceOf(id EventID) bool {
	return slices.ContainsFunc(c.Talks, func(t Talk) bool {
		return t.Concordance != "not-assessed" && t.Plan != "" && slices.Contains(t.Results, id)
	})
}

// lesionsOf lists the lesions that a result speaks of, by its pots.
func (c *Case) lesionsOf(r *Result) []*Lesion {
	var lesions []*Lesion
	add := func(key string) {
		if lesion := c.Request.Lesion(key); lesion != nil && !slices.Contains(lesions, lesion) {
			lesions = append(lesions, lesion)
		}
	}
	for _, n := range r.Pots {
		if p := c.Pot(n); p != nil && p.Plan != nil {
			add(p.Plan.Lesion)
			continue
		}
		for s := range c.PiecesIn(n) { // nobody planned the pot: its pieces say
			add(s.Lesion)
		}
	}
	return lesions
}

// calciumMissed reports whether calcification was the target and the radiograph of the pieces showed none.
func (c *Case) calciumMissed(lesion *Lesion) bool {
	if lesion.Target != "calcification" {
		return false
	}
	missed := false
	for _, s := range c.Pieces {
		of := s.Lesion
		if p := c.Pot(s.Pot); of == "" && p != nil && p.Plan != nil {
			of = p.Plan.Lesion
		}
		if of != lesion.Key {
			continue
		}
		switch s.Calcium {
		case "seen":
			return false
		case "not-seen":
			missed = true
		}
	}
	return missed
}

// waiting: a result was read and the patient was not told. Of a malignant or critical one a letter alone is no telling.
func (k *checking) waiting() {
	if k.c.Closing != nil && k.c.Closing.Outcome == OutcomeDied {
		return
	}
	for _, r := range k.current() {
		if r.Seen.IsZero() || k.excused(r) {
			continue
		}
		if !k.untold(r) {
			continue
		}
		letterOnly := !r.Told.IsZero()
		watch, today := k.r.until(r.Seen, protocol.LimitTellWatch), k.r.until(r.Seen, protocol.LimitTellToday)
		if !k.reached(watch) {
			continue
		}
		f := Flag{Kind: FlagPatientWaiting, Item: k.c.Name, Severity: Watch, Since: watch, Due: today, Who: "clinician",
			Basis: k.r.citeLimit(protocol.LimitTellWatch),
			Text: fmt.Sprintf("%s was read %s and the patient has not been told; limit %s.", k.resultWord(r), k.clock(r.Seen),
				k.r.limit(protocol.LimitTellToday)),
			Remedy: fmt.Sprintf("Ask %s when the patient will be told.", k.ring("clinician"))}
		if letterOnly {
			f.Text = fmt.Sprintf("%s was read %s and the patient has only a letter; it wants a conversation, limit %s.", k.resultWord(r),
				k.clock(r.Seen), k.r.limit(protocol.LimitTellToday))
		}
		if k.reached(today) {
			f.Severity, f.Basis = Today, k.r.citeLimit(protocol.LimitTellToday)
		}
		k.raise(f)
	}
}

// untold reports whether the patient has not been told of a result: of a malignant or critical one a letter alone is no
// telling.
func (k *checking) untold(r *Result) bool {
	if r.Told.IsZero() {
		return true
	}
	serious := r.Critical || k.class(r.Category) == classMalignant
	return serious && !slices.ContainsFunc(r.ToldBy, func(how string) bool { return how != "letter" })
}
