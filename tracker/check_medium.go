package tracker

import (
	"fmt"
	"math"
	"strconv"
	"time"

	"github.com/pottrail/pottrail/tracker/tissue"
)

// mediumScant: before the lid is on, there is less fixative in a pot than its tissue wants.
func (k *checking) mediumScant() {
	for _, p := range k.c.Pots {
		if _, lid := k.r.lidOn(p); lid || len(p.Fillings) == 0 {
			continue
		}
		medium, _ := k.c.medium(p)
		if !k.r.p.Media[medium].Fixing {
			continue
		}
		volume, known := k.volume(p, medium, time.Time{})
		inside, unmeasured := k.tissueIn(p, time.Time{})
		ratio := k.r.p.Fixative.Ratio
		least := tissue.LeastFixative(inside, ratio)
		if !known || volume >= least {
			continue
		}
		since := trueSince(k.fillingsAndPieces(p), func(at time.Time) bool {
			volume, known := k.volume(p, medium, at)
			inside, _ := k.tissueIn(p, at)
			return known && volume < tissue.LeastFixative(inside, ratio)
		})
		text := fmt.Sprintf("%s: %s mL of %s for %s mL of tissue; %s times the tissue is wanted, %s mL.", potWord(p.Name), upTo(volume, 2),
			k.mediumWord(medium), upTo(inside, 2), upTo(ratio, 1), upTo(least, 1))
		if unmeasured > 0 {
			text += fmt.Sprintf(" %s without a known needle or length and not counted.", plural(unmeasured, "core is", "cores are"))
		}
		k.raise(Flag{Kind: FlagMediumScant, Item: p.Name, Severity: Now, Since: since, Who: "operator", Basis: k.r.cite("fixative"), Text: text,
			Remedy: fmt.Sprintf("Add at least %s mL before the lid goes on, and scan how much.", upTo(least-volume, 1))})
	}
}

// upTo writes a number with so many decimals at most, never less than it is.
func upTo(x float64, decimals int) string {
	scale := math.Pow10(decimals)
	return strconv.FormatFloat(math.Ceil(x*scale-1e-9)/scale, 'f', -1, 64)
}

// volume is how much of a medium is in a pot, in mL, as known at an instant; the zero time means now. A filling with the
// same medium adds to what is there; another medium, or one after a medium past its date, takes its place. It is not known
// when a filling does not say how much.
func (k *checking) volume(p *Pot, medium string, until time.Time) (ml float64, known bool) {
	in := ""
	for i, fill := range p.Fillings {
		if !until.IsZero() && fill.When.After(until) {
			break
		}
		if i > 0 {
			before := p.Fillings[i-1]
			if before.Medium != fill.Medium || before.Expires != "" && !before.When.Before(before.Expires.End(k.r.zone)) {
				ml, in = 0, ""
			}
		}
		if in == "" {
			known = true
		}
		in = fill.Medium
		ml += fill.VolumeML
		known = known && fill.VolumeML > 0
	}
	return ml, known && in == medium
}

// tissueIn is the volume of the pieces in a pot, in mL, as known at an instant, and how many cores could not be measured:
// these count as nothing. A piece cut from one in the same pot is part of that.
func (k *checking) tissueIn(p *Pot, until time.Time) (ml float64, unmeasured int) {
	for s := range k.c.PiecesIn(p.Name) {
		if s.known().IsZero() || !until.IsZero() && s.known().After(until) || s.Astray != nil || k.cutFromHere(p, s) {
			continue
		}
		one, ok := tissue.PieceVolume(s.What, s.Gauge, s.LengthMM)
		if !ok {
			unmeasured++
		}
		ml += one
	}
	return ml, unmeasured
}

func (k *checking) cutFromHere(p *Pot, s *Piece) bool {
	for other := range k.c.PiecesIn(p.Name) {
		if other.Name == s.From && !other.known().IsZero() {
			return true
		}
	}
	return false
}

func (k *checking) fillingsAndPieces(p *Pot) []time.Time {
	var out []time.Time
	for _, fill := range p.Fillings {
		out = append(out, fill.When)
	}
	for s := range k.c.PiecesIn(p.Name) {
		if !s.known().IsZero() {
			out = append(out, s.known())
		}
	}
	return out
}
