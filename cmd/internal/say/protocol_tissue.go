package say

import (
	"fmt"
	"slices"
	"strings"

	"github.com/pottrail/pottrail/tracker/protocol"
	"github.com/pottrail/pottrail/tracker/tissue"
)

func (w reader) fixation() Section {
	s := Section{Title: "Fixation"}
	for _, key := range sorted(w.p.Studies) {
		study := w.p.Studies[key]
		if l := study.ToFixation; l != nil {
			late := ""
			if study.OnlyToday {
				late = "; missed, it is a matter for today, never for now"
			}
			s.Statements = append(s.Statements, w.state("studies."+key+".to_fixation", study.Name+", from the patient into fixative", "within %s%s", l.Span, late))
		}
		if win := study.Window; win != nil {
			s.Statements = append(s.Statements, w.state("studies."+key+".window", study.Name+", time in fixative", "%s", window(*win)))
		}
	}
	s.Statements = append(s.Statements, w.state("fixative", "volume of a fixing medium", "at least %g times that of the tissue", w.p.Fixative.Ratio))
	for _, key := range sorted(w.p.Media) {
		if m := w.p.Media[key]; m.Fixing {
			s.Statements = append(s.Statements, Statement{Key: "media." + key + ".fixing", About: m.Name, Says: "fixes" + travels(m)})
		} else {
			s.Statements = append(s.Statements, Statement{Key: "media." + key + ".fixing", About: m.Name, Says: "does not fix" + travels(m)})
		}
	}
	return s
}

func window(w protocol.Window) string {
	switch {
	case w.Min.IsZero():
		return fmt.Sprintf("at most %s", w.Max)
	case w.Max.IsZero():
		return fmt.Sprintf("at least %s", w.Min)
	}
	return fmt.Sprintf("at least %s and at most %s", w.Min, w.Max)
}

// travels says how a medium may be carried: by its formaldehyde, and what may not lie in the same bag.
func travels(m protocol.Medium) string {
	text := ""
	if m.Formaldehyde > 0 {
		text += "; " + Transport(m.Formaldehyde)
	}
	if m.Vapour {
		text += "; its vapour spoils air-dried slides in the same bag"
	}
	if m.Dried {
		text += "; never in a bag with formalin"
	}
	if word := m.Warning(); word != "" {
		text += "; its label warns: " + word
	}
	if m.Carrier != "" {
		text += "; carrier of its pieces unless a request says otherwise: " + m.Carrier
	}
	return text
}

// Transport says what a solution with so many hundredths of formaldehyde counts as by road and by air, for its formaldehyde
// alone: what else is in it may count too.
func Transport(formaldehyde float64) string {
	road, air := class(formaldehyde, false), class(formaldehyde, true)
	if road == air {
		return fmt.Sprintf("%g %% formaldehyde, and for that alone by road and by air %s", formaldehyde, road)
	}
	return fmt.Sprintf("%g %% formaldehyde, and for that alone by road %s, by air %s", formaldehyde, road, air)
}

func class(formaldehyde float64, byAir bool) string {
	switch c := tissue.TransportClass(formaldehyde, byAir); c {
	case tissue.TransportFree:
		return "not subject to the rules on dangerous goods"
	case tissue.TransportUN3334:
		return "dangerous goods, UN 3334"
	case tissue.TransportUN2209:
		return "dangerous goods, UN 2209 of class 8 (corrosive)"
	default:
		return string(c)
	}
}

func (w reader) fresh() Section {
	s := Section{Title: "Fresh tissue, to the start at the bench"}
	for _, key := range sorted(w.p.Studies) {
		study := w.p.Studies[key]
		f := study.Fresh
		if f == nil {
			continue
		}
		var parts []string
		if !f.Span.IsZero() {
			parts = append(parts, fmt.Sprintf("within %s", f.Span))
		}
		for _, medium := range sorted(f.Media) {
			parts = append(parts, fmt.Sprintf("in %s within %s", w.medium(medium), f.Media[medium]))
		}
		if !f.Warm.IsZero() {
			parts = append(parts, fmt.Sprintf("at %g to %g °C if longer than %s", f.MinC, f.MaxC, f.Warm))
		}
		s.Statements = append(s.Statements, w.state("studies."+key+".fresh", study.Name, "%s", strings.Join(parts, ", ")))
	}
	return empty(s, "No study has a limit.")
}

// media is a table by study, and the source of each medium's row.
func (w reader) media() Section {
	s := Section{Title: "Media and studies", Note: "Which pot a study wants. Right: use it. With loss: it serves if nothing else is at hand. Wrong: it cannot serve.",
		Table: &Table{Columns: []string{"study", "right", "with loss", "wrong"}}}
	for _, study := range sorted(w.p.Studies) {
		by := map[protocol.Suit][]string{}
		for _, medium := range sorted(w.p.Media) {
			suit, _ := w.p.Suits(medium, study)
			by[suit] = append(by[suit], w.medium(medium))
		}
		s.Table.Rows = append(s.Table.Rows, []string{w.study(study), strings.Join(by[protocol.Right], ", "), strings.Join(by[protocol.Loss], ", "), strings.Join(by[protocol.Wrong], ", ")})
	}
	for _, key := range sorted(w.p.Media) {
		m := w.p.Media[key]
		var parts []string
		if len(m.Serves) > 0 {
			parts = append(parts, "right for "+all(m.Serves, w.study))
		}
		if len(m.Loss) > 0 {
			parts = append(parts, "with loss for "+all(m.Loss, w.study))
		}
		s.Statements = append(s.Statements, w.state("media."+key, m.Name, "%s", strings.Join(parts, "; ")))
	}
	return s
}

func (w reader) pieces() Section {
	s := Section{Title: "Pieces", Note: "How many adequate pieces a lesion calls for before the patient leaves."}
	for _, key := range sorted(w.p.Organs) {
		o, at := w.p.Organs[key], "organs."+key
		if o.Sided {
			s.Statements = append(s.Statements, Statement{Key: at + ".sided", About: o.Name, Says: "left or right is asked for"})
		} else {
			s.Statements = append(s.Statements, Statement{Key: at + ".sided", About: o.Name, Says: "has no sides"})
		}
		if len(o.Pieces) == 0 {
			s.Statements = append(s.Statements, w.state(at+".pieces", o.Name+", pieces", "no number"))
		}
		for _, target := range sorted(o.Pieces) {
			s.Statements = append(s.Statements, w.state(at+".pieces."+target, o.Name+", "+aim(target), "%s", plural(o.Pieces[target], o.Counts)))
		}
		for _, name := range sorted(o.Needles) {
			n := o.Needles[name]
			for _, target := range sorted(n.Pieces) {
				s.Statements = append(s.Statements, w.state(at+".needles."+name+".pieces."+target, fmt.Sprintf("%s, %s, with %s", o.Name, aim(target), gauges(n)),
					"%s", plural(n.Pieces[target], o.Counts)))
			}
		}
		if o.Advice != "" {
			s.Statements = append(s.Statements, Statement{Key: at + ".advice", About: o.Name + ", when pieces look poor", Says: strings.TrimSuffix(o.Advice, ".")})
		}
	}
	return s
}

// aim is a target for people; what an organ does not name is "any target".
func aim(target string) string {
	if target == "any" {
		return "any other target"
	}
	return target
}

func gauges(n protocol.Needle) string {
	if n.FromGauge == n.ToGauge {
		return fmt.Sprintf("a needle of %g G", n.FromGauge)
	}
	return fmt.Sprintf("a needle of %g to %g G", n.FromGauge, n.ToGauge)
}

func (w reader) looks() Section {
	s := Section{Title: "How pieces look, and how they travel"}
	for _, key := range sorted(w.p.Looks) {
		l := w.p.Looks[key]
		says := "a good piece"
		switch {
		case l.Poor:
			says = "a poor piece"
		case len(l.PoorIn) > 0:
			says = "a poor piece in " + all(l.PoorIn, w.organ)
		}
		if len(l.GoodFor) > 0 {
			says += ", but good for " + all(l.GoodFor, w.study)
		}
		if l.Hint != "" {
			says += ". " + strings.TrimSuffix(capital(l.Hint), ".")
		}
		s.Statements = append(s.Statements, w.state("looks."+key, l.Name, "%s", says))
	}
	for _, key := range sorted(w.p.Carriers) {
		says := "its pieces have no labels of their own"
		if w.p.Carriers[key].Labeled {
			says = "each piece has a label of its own"
		}
		s.Statements = append(s.Statements, w.state("carriers."+key, "carrier "+w.p.Carriers[key].Name, "%s", says))
	}
	return s
}

// suits lists each pair of medium and study: what the table says, cell by cell.
func (w reader) suits() []Statement {
	var list []Statement
	for _, medium := range sorted(w.p.Media) {
		for _, study := range sorted(w.p.Studies) {
			suit, _ := w.p.Suits(medium, study)
			list = append(list, w.state("media."+medium+" × studies."+study, w.medium(medium)+" for "+w.study(study), "%s", suit))
		}
	}
	return slices.Clip(list)
}
