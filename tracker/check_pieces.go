package tracker

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// tally is what is known of the pieces of one lesion.
type tally struct {
	first    time.Time // a piece of it left the patient or was potted
	pieces   int       // each counted once, with what was cut from it
	poor     int       // of these, by their look
	cores    int       // adequate
	passes   int       // adequate, of a needle that aspirates
	calcium  int       // pieces in which calcium was seen
	unknown  bool      // how many there are cannot be known
	aspirate bool      // a piece is no core
}

func (t tally) adequate() int { return t.cores + t.passes }

// known is when a piece was taken, else when it was potted.
func (s *Piece) known() time.Time {
	if s.Taken.When.IsZero() {
		return s.Potted.When
	}
	return s.Taken.When
}

// isOf reports whether a piece is of a lesion; one that nobody recorded as taken is of its pot's.
func (c *Case) isOf(s *Piece, lesion string) bool {
	if s.Lesion != "" {
		return s.Lesion == lesion
	}
	p := c.Pot(s.Pot)
	return p != nil && p.Plan != nil && p.Plan.Lesion == lesion
}

// counts reports whether a piece is to be counted: it is out of the patient, and not cut from one that is counted.
func (c *Case) counts(s *Piece, lesion string) bool {
	if s.known().IsZero() || !c.isOf(s, lesion) {
		return false
	}
	if s.From == "" || s.From == s.Name {
		return true
	}
	for _, other := range c.Pieces { // what it was cut from, or an earlier part of the same that nobody recorded
		if !other.known().IsZero() && (other.Name == s.From || other.From == s.From && other.Name < s.Name) {
			return false
		}
	}
	return true
}

// looksPoor judges a piece by its look. A rinse is fluid by nature, and fluid is what was wanted where fluid is the target.
func (k *checking) looksPoor(s *Piece, l *Lesion) bool {
	if s.What == "rinse" || s.Look == "fluid" && l.Target == "fluid" {
		return false
	}
	var studies []string
	if p := k.c.Pot(s.Pot); p != nil {
		studies = p.Studies
	}
	return k.r.p.PoorLook(s.Look, l.Organ, studies)
}

// tally counts the pieces of a lesion as known at an instant; the zero time means now.
func (k *checking) tally(l *Lesion, until time.Time) tally {
	var t tally
	later := func(at time.Time) bool { return !until.IsZero() && at.After(until) }
	for i, s := range k.c.Pieces {
		if !k.c.counts(s, l.Key) || later(s.known()) {
			continue
		}
		if t.first.IsZero() || s.known().Before(t.first) {
			t.first = s.known()
		}
		t.pieces++
		poor := k.looksPoor(s, l)
		if poor {
			t.poor++
		}
		if s.Calcium == "seen" {
			t.calcium++
		}
		t.aspirate = t.aspirate || s.What != "core" && s.What != ""
		adequate := !poor && !k.c.foundPoor(s)
		switch {
		case s.What == "core" || s.What == "":
			if adequate {
				t.cores++
			}
		case s.Pass > 0:
			if adequate && !k.passCounted(i, l) {
				t.passes++
			}
		case s.What == "aspirate":
			if adequate {
				t.passes++
			}
		default:
			t.unknown = true // slides and rinses of passes that nobody numbered
		}
	}
	for _, p := range k.c.Pots {
		n := len(p.Seals)
		if n == 0 || p.Plan == nil || p.Plan.Lesion != l.Key || later(p.Seals[n-1].When) || k.c.anyRecorded(p) {
			continue
		}
		aloud := p.Seals[n-1].Pieces
		if aloud == nil || *aloud > 0 && k.r.p.Organs[l.Organ].Counts == "passes" {
			t.unknown = true
			continue
		}
		t.pieces += *aloud
		t.cores += *aloud
		if t.first.IsZero() || p.Seals[n-1].When.Before(t.first) {
			t.first = p.Seals[n-1].When
		}
	}
	return t
}

// passCounted reports whether an adequate piece before the ith is of the same pass.
func (k *checking) passCounted(i int, l *Lesion) bool {
	for _, other := range k.c.Pieces[:i] {
		if other.Pass == k.c.Pieces[i].Pass && other.What != "core" && k.c.counts(other, l.Key) && !k.looksPoor(other, l) && !k.c.foundPoor(other) {
			return true
		}
	}
	return false
}

// anyRecorded reports whether a piece of a pot was recorded by itself.
func (c *Case) anyRecorded(p *Pot) bool {
	for s := range c.PiecesIn(p.Name) {
		if !s.known().IsZero() {
			return true
		}
	}
	return false
}

// foundPoor reports whether on-site microscopy last said of this very piece that it is not adequate.
func (c *Case) foundPoor(s *Piece) bool {
	poor := false
	for _, a := range c.Adequacies {
		if a.Piece == s.Name {
			poor = !a.Adequate
		}
	}
	return poor
}

// onSite is the last judgement of on-site microscopy on a lesion, or nil.
func (c *Case) onSite(lesion string) *Adequacy {
	for i := len(c.Adequacies) - 1; i >= 0; i-- {
		if c.Adequacies[i].Lesion == lesion {
			return &c.Adequacies[i]
		}
	}
	return nil
}

// everAdequate reports whether on-site microscopy ever found a lesion's pieces adequate.
func (c *Case) everAdequate(lesion string) bool {
	return slices.ContainsFunc(c.Adequacies, func(a Adequacy) bool { return a.Lesion == lesion && a.Adequate })
}

// piecesPoor: most of what was taken of a lesion is of little use by its look.
func (k *checking) piecesPoor(l *Lesion, pot Name, t tally) {
	poor := func(t tally) bool { return 2*t.poor > t.pieces } // all, or over half and at least two: over half says both
	if !poor(t) {
		return
	}
	f := Flag{Kind: FlagPiecesPoor, Item: pot, Severity: Now, Who: "operator", Basis: k.r.cite("looks")}
	looks, hints := k.poorLooks(l, &f)
	f.Since = trueSince(k.instants(l), func(at time.Time) bool { return poor(k.tally(l, at)) })
	verb := "look"
	if t.poor == 1 {
		verb = "looks"
	}
	f.Text = fmt.Sprintf("%s: %d of %s %s poor: %s.", capital(k.lesionWord(l)), t.poor, plural(t.pieces, "piece", "pieces"), verb, and(looks))
	advice := k.r.p.Organs[l.Organ].Advice
	if advice == "" {
		advice = "Aim for another part of the lesion."
	}
	if _, done := k.c.roomCleared(); done {
		f.Severity = Today
		advice = fmt.Sprintf("Tell %s what to expect, and ask %s whether a repeat is needed.", k.ring("laboratory"), k.ring("clinician"))
	} else {
		advice += " Take more before the patient leaves."
	}
	f.Remedy = strings.Join(append(hints, advice), " ")
	k.raise(f)
	k.hold(string(FlagPiecesPoor), pot, FlagPiecesFew)
}

// poorLooks lists the poor looks of a lesion's pieces with their numbers, and what each usually means; the basis becomes
// that of the commonest.
func (k *checking) poorLooks(l *Lesion, f *Flag) (looks, hints []string) {
	var keys []string
	var numbers []int
	for _, s := range k.c.Pieces {
		if !k.c.counts(s, l.Key) || !k.looksPoor(s, l) {
			continue
		}
		i := 0
		for i < len(keys) && keys[i] != s.Look {
			i++
		}
		if i == len(keys) {
			keys, numbers = append(keys, s.Look), append(numbers, 0)
		}
		numbers[i]++
	}
	var most int
	for i, key := range keys {
		look := k.r.p.Looks[key]
		looks = append(looks, strconv.Itoa(numbers[i])+" "+look.Name)
		if look.Hint != "" {
			hints = append(hints, look.Hint)
		}
		if numbers[i] > most {
			most, f.Basis = numbers[i], k.r.cite("looks."+key)
		}
	}
	return looks, hints
}

// instants lists when anything became known that a tally counts.
func (k *checking) instants(l *Lesion) []time.Time {
	var out []time.Time
	for _, s := range k.c.Pieces {
		if k.c.counts(s, l.Key) {
			out = append(out, s.known())
		}
	}
	for _, p := range k.c.Pots {
		if n := len(p.Seals); n > 0 && k.c.holdsOf(p, l.Key) {
			out = append(out, p.Seals[n-1].When)
		}
	}
	return out
}

// piecesFew: there are fewer adequate pieces than lesion, target and needle call for.
func (k *checking) piecesFew(l *Lesion, pot Name, t tally) {
	need, word, key, ok := k.needed(l, t)
	site := k.c.onSite(l.Key)
	if !ok || t.unknown || site != nil && site.Adequate {
		return
	}
	refuted := site != nil && site.Piece == "" && !k.takenAfter(l, site.When)
	if t.adequate() >= need && !refuted {
		return
	}
	finished, over := k.finished(l)
	if t.pieces == 0 && !over {
		return
	}
	f := Flag{Kind: FlagPiecesFew, Item: pot, Severity: Watch, Since: t.first, Who: "operator", Basis: k.r.cite(key)}
	if t.pieces == 0 {
		f.Since = finished
	}
	if t.adequate() >= need || k.c.everAdequate(l.Key) {
		f.Since = site.When // until then they were enough
	}
	missing := need - t.adequate()
	count := plural(t.adequate(), "adequate "+word, "adequate "+pluralWord(word))
	f.Text = fmt.Sprintf("%s: %s, %d are called for.", capital(k.lesionWord(l)), count, need)
	if refuted {
		missing = max(missing, 1)
		f.Text = fmt.Sprintf("%s: %s taken, and on-site microscopy found them not adequate %s.", capital(k.lesionWord(l)),
			plural(t.adequate(), word, pluralWord(word)), k.clock(site.When))
	}
	switch {
	case l.Target == "calcification" && t.calcium > 0:
		f.Text += fmt.Sprintf(" Calcium was seen in %s.", plural(t.calcium, "piece", "pieces"))
	case l.Target == "calcification":
		f.Text += " Calcium has not been seen in any."
	}
	_, cleared := k.c.roomCleared()
	switch {
	case cleared:
		f.Remedy = fmt.Sprintf("Tell %s how few there are; should they not be enough, ask %s whether a repeat is needed.", k.ring("laboratory"), k.ring("clinician"))
	case over:
		f.Severity = Now
		f.Remedy = fmt.Sprintf("Take %s before the patient leaves, or record that on-site microscopy finds these adequate.", plural(missing, "more "+word, "more "+pluralWord(word)))
	default:
		f.Remedy = fmt.Sprintf("Take %s before the lid goes on.", plural(missing, "more "+word, "more "+pluralWord(word)))
	}
	k.raise(f)
}

func pluralWord(word string) string {
	if word == "pass" {
		return "passes"
	}
	return word + "s"
}

// needed is how many pieces the protocol asks for: the most that any needle used calls for. The word is what is counted.
func (k *checking) needed(l *Lesion, t tally) (n int, word, key string, ok bool) {
	n, counts, key, ok := k.r.p.PiecesNeeded(l.Organ, l.Target, 0)
	gauged := false
	for _, s := range k.c.Pieces {
		if s.Gauge <= 0 || !k.c.counts(s, l.Key) {
			continue
		}
		more, _, at, called := k.r.p.PiecesNeeded(l.Organ, l.Target, s.Gauge)
		if called && (!gauged || more > n) {
			n, key, ok, gauged = more, at, true, true
		}
	}
	word = "core"
	if t.aspirate && t.cores == 0 || t.pieces == 0 && counts == "passes" {
		word = "pass"
	} else if t.aspirate {
		word = "piece"
	}
	return n, word, key, ok
}

// finished is when no more pieces of a lesion were to come: the procedure had ended, or the lid was on every pot for it.
func (k *checking) finished(l *Lesion) (time.Time, bool) {
	var lids time.Time
	meant, open := false, false
	for _, p := range k.c.Pots {
		if !k.c.holdsOf(p, l.Key) || k.c.unused(p) && !k.c.anyTaken(p.Name) {
			continue
		}
		meant = true
		lid, on := k.r.lidOn(p)
		open = open || !on
		if lid.After(lids) {
			lids = lid
		}
	}
	switch ended := k.c.Ended; {
	case !meant:
		return time.Time{}, false
	case ended != nil && (open || ended.When.Before(lids)):
		return ended.When, true
	}
	return lids, !open
}

// takenAfter reports whether a piece of a lesion was taken after an instant.
func (k *checking) takenAfter(l *Lesion, at time.Time) bool {
	for _, s := range k.c.Pieces {
		if k.c.counts(s, l.Key) && s.known().After(at) {
			return true
		}
	}
	return false
}
