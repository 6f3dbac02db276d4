package protocol

import "slices"

// Words of events: rules and labels use them by name.
func lookKeys() []string {
	return []string{"blood-only", "fatty", "firm-white", "fluid", "fragmented", "grey-brown", "mixed", "pus"}
}
func carrierKeys() []string { return []string{"cassette", "foam", "loose", "slide", "tube"} }
func targetKeys() []string {
	return []string{anyTarget, "calcification", "distortion", "fluid", "mass", "node"}
}

// anyTarget stands for every target that an organ does not name.
const anyTarget = "any"

// Bounds of numbers: piece numbers have two figures, and tissue is neither frozen nor cooked.
const (
	mostPieces       = 99
	coldestC, hotC   = -100.0, 60.0
	countsCores      = "cores"
	countsPasses     = "passes"
	answersByDefault = `mark with default = true what a final result answers when it names no studies, as histology`
)

func (c *checker) studies() {
	byDefault := false
	for _, key := range keys(c.p.Studies) {
		s, at := c.p.Studies[key], "studies."+key
		c.named(at)
		byDefault = byDefault || s.Default
		for _, one := range []struct {
			key   string
			limit *Limit
		}{{"to_fixation", s.ToFixation}, {"target", s.Target}, {"adds", s.Adds}, {"after_final", s.AfterFinal}} {
			if one.limit != nil {
				c.limit(at + "." + one.key)
			}
		}
		if s.ToFixation != nil {
			c.elapsed(at+".to_fixation.span", s.ToFixation.Span)
		} else if s.OnlyToday {
			c.fail(at+".only_today", "take it out, or give to_fixation", "there is no time to fixation that it could soften")
		}
		c.ownTarget(at, s)
		c.window(at, s)
		c.fresh(at, key, s)
		c.servable(at, key, s)
	}
	if c.has("studies") && !byDefault {
		c.fail("studies", answersByDefault, "no study is a default")
	}
}

// ownTarget: a study's own target, an addition to the priority's and an addendum exclude each other.
func (c *checker) ownTarget(at string, s Study) {
	given := 0
	for _, l := range []*Limit{s.Target, s.Adds, s.AfterFinal} {
		if l != nil {
			given++
		}
	}
	if given > 1 {
		c.fail(at, "keep one", "of target, adds and after_final only one can count")
	}
	if s.Default && s.AfterFinal != nil {
		c.fail(at+".after_final", "take out one of the two", "the study is answered by the final result itself, as default says")
	}
}

func (c *checker) window(at string, s Study) {
	if s.Window == nil {
		return
	}
	at += ".window"
	c.sourced(at)
	if s.Window.Min.IsZero() && s.Window.Max.IsZero() {
		c.fail(at, "give min, max or both", "it sets no limit")
		return
	}
	c.elapsed(at+".min", s.Window.Min)
	c.elapsed(at+".max", s.Window.Max)
	if m := s.Window.Max; m.Elapsed > 0 && s.Window.Min.Elapsed > m.Elapsed {
		c.fail(at+".min", "", "nothing can be in fixative for at least %s and at most %s", s.Window.Min, m)
	}
}

func (c *checker) fresh(at, study string, s Study) {
	f := s.Fresh
	if f == nil {
		return
	}
	at += ".fresh"
	c.sourced(at)
	if f.Span.IsZero() && len(f.Media) == 0 {
		c.fail(at, "give span, media or both", "it sets no limit")
	}
	for _, medium := range keys(f.Media) {
		m, known := c.p.Media[medium]
		switch key := at + ".media." + medium; {
		case !known:
			c.fail(key, meant(medium, keys(c.p.Media)), "%q is no medium", medium)
		case m.Fixing:
			c.fail(key, "", "%q fixes; the limit is for fresh tissue", medium)
		case !slices.Contains(m.Serves, study) && !slices.Contains(m.Loss, study):
			c.fail(key, "take it out, or let the medium serve the study", "%q does not serve the study", medium)
		}
	}
	cold, warm := c.has(at+".min_c"), c.has(at+".max_c")
	switch {
	case cold != warm:
		c.fail(at, "give min_c and max_c, or none", "a temperature range has two ends")
	case !cold && !f.Warm.IsZero():
		c.fail(at+".warm", "give min_c and max_c", "there is no range that it could be outside of")
	case cold && f.Warm.IsZero():
		c.need(at, "warm")
	}
	if cold == warm && !(f.MinC >= coldestC && f.MaxC <= hotC && f.MinC <= f.MaxC) { // also of what is not a number
		c.fail(at+".min_c", "degrees Celsius", "no tissue can be kept at %g to %g °C", f.MinC, f.MaxC)
	}
	c.elapsed(at+".warm", f.Warm)
}

// servable: some medium is right for the study, and one that fixes if it needs fixation.
func (c *checker) servable(at, study string, s Study) {
	served, fixed := false, false
	for _, m := range c.p.Media {
		if slices.Contains(m.Serves, study) {
			served, fixed = true, fixed || m.Fixing
		}
	}
	switch {
	case !served:
		c.fail(at, "put it into serves of a medium", "no medium is right for this study")
	case !fixed && (s.ToFixation != nil || s.Window != nil):
		c.fail(at, "put it into serves of a medium with fixing = true", "it needs fixation, and no medium that is right for it fixes")
	}
}

func (c *checker) media() {
	studies := keys(c.p.Studies)
	for _, key := range keys(c.p.Media) {
		m, at := c.p.Media[key], "media."+key
		c.named(at)
		c.need(at, "fixing", "serves", "loss")
		c.sourced(at)
		c.medium(at, m)
		c.list(at+".serves", m.Serves, "study", studies)
		c.list(at+".loss", m.Loss, "study", studies)
		for i, study := range m.Loss {
			if slices.Contains(m.Serves, study) {
				c.fail(member(at+".loss", i), "keep it in one of the two", "%q is in serves and in loss", study)
			}
		}
		if len(m.Serves)+len(m.Loss) == 0 && c.has(at+".serves") && c.has(at+".loss") {
			c.fail(at, "", "it serves no study")
		}
	}
}
