package protocol

import "strings"

// Gauges of needles: 4 is wider than any biopsy needle, 34 thinner.
const (
	widestGauge, thinnestGauge = 4.0, 34.0
	mostAdvice                 = 240
	mostHint                   = 120
)

func (c *checker) organs() {
	for _, key := range keys(c.p.Organs) {
		o, at := c.p.Organs[key], "organs."+key
		c.named(at)
		c.need(at, "sided")
		if c.has(at + ".advice") {
			c.text(at+".advice", mostAdvice)
		}
		if len(o.Pieces) == 0 {
			if o.Counts != "" {
				c.fail(at+".counts", "give pieces", "there is no number that it could count")
			}
			if len(o.Needles) > 0 {
				c.fail(at+".needles", "give pieces: what holds when the needle is not known", "numbers by needle, and none for any other")
			}
			continue
		}
		c.sourced(at)
		c.need(at, "counts")
		if o.Counts != "" {
			c.among(at+".counts", o.Counts, "way to count", []string{countsCores, countsPasses})
		}
		c.numbers(at+".pieces", o.Pieces)
		c.needles(at+".needles", o.Needles)
	}
}

// numbers checks how many pieces targets call for.
func (c *checker) numbers(at string, pieces map[string]int) {
	for _, target := range keys(pieces) {
		c.among(at+"."+target, target, "target", targetKeys())
		if n := pieces[target]; n < 1 || n > mostPieces {
			c.fail(at+"."+target, "", "%d pieces: a pot can hold 1 to %d", n, mostPieces)
		}
	}
}

// needles: ranges of gauges the right way round, none that share one.
func (c *checker) needles(table string, needles map[string]Needle) {
	var sound []string
	for _, key := range keys(needles) {
		n, at := needles[key], dotted(table, key)
		c.need(at, "from_gauge", "to_gauge", "pieces")
		c.sourced(at)
		c.numbers(at+".pieces", n.Pieces)
		if c.has(at+".pieces") && len(n.Pieces) == 0 {
			c.fail(at+".pieces", "", "it asks for no pieces")
		}
		if !c.has(at+".from_gauge") || !c.has(at+".to_gauge") {
			continue
		}
		if !c.gauge(at+".from_gauge", n.FromGauge) || !c.gauge(at+".to_gauge", n.ToGauge) {
			continue
		}
		if n.FromGauge > n.ToGauge {
			c.fail(at+".from_gauge", "a thicker needle has the smaller number, and from is the thickest", "no needle is from %g to %g G", n.FromGauge, n.ToGauge)
			continue
		}
		for _, other := range sound {
			if o := needles[other]; n.FromGauge <= o.ToGauge && o.FromGauge <= n.ToGauge {
				c.fail(at+".from_gauge", "both ends are included, so begin a gauge further on", "%g to %g G shares needles with %s, %g to %g G", n.FromGauge, n.ToGauge, other, o.FromGauge, o.ToGauge)
				break
			}
		}
		sound = append(sound, key)
	}
}

func (c *checker) gauge(key string, gauge float64) bool {
	ok := gauge >= widestGauge && gauge <= thinnestGauge // never of what is not a number
	if !ok {
		c.fail(key, "", "%g is no gauge of a needle: %g to %g", gauge, widestGauge, thinnestGauge)
	}
	return ok
}

// looks and carriers of pieces are words of events, so a protocol has all of them.
func (c *checker) pieces() {
	c.exactly("looks", "look", keys(c.p.Looks), lookKeys())
	for _, key := range keys(c.p.Looks) {
		c.look("looks."+key, c.p.Looks[key])
	}
	c.exactly("carriers", "carrier", keys(c.p.Carriers), carrierKeys())
	for _, key := range keys(c.p.Carriers) {
		c.named("carriers." + key)
		c.need("carriers."+key, "labeled")
	}
}

func (c *checker) look(at string, l Look) {
	c.named(at)
	c.need(at, "poor")
	c.list(at+".poor_in", l.PoorIn, "organ", keys(c.p.Organs))
	c.list(at+".good_for", l.GoodFor, "study", keys(c.p.Studies))
	poor := l.Poor || len(l.PoorIn) > 0
	switch {
	case l.Poor && len(l.PoorIn) > 0:
		c.fail(at+".poor_in", "take out one of the two", "it is poor everywhere, as poor says")
	case !poor && len(l.GoodFor) > 0:
		c.fail(at+".good_for", "take it out, or say where it is poor", "it is poor nowhere, so this changes nothing")
	}
	if poor || c.has(at+".source") {
		c.sourced(at)
	}
	if c.has(at + ".hint") {
		c.text(at+".hint", mostHint)
	}
}

// fixativeRatio: some medium to one of tissue, and less than any pot holds.
func (c *checker) fixativeRatio() {
	const most = 1000
	c.need("fixative", "ratio")
	if r := c.p.Fixative.Ratio; c.has("fixative.ratio") && !(r >= 1 && r <= most) { // also of what is not a number
		c.fail("fixative.ratio", "volumes of medium to one of tissue", "%g is no ratio: 1 to %d", r, most)
	}
}

// medium checks what a medium is besides what it serves.
func (c *checker) medium(at string, m Medium) {
	const most = 40 // per cent: what formaldehyde dissolves to, without methanol's help
	switch f := m.Formaldehyde; {
	case !(f >= 0 && f <= most): // also of what is not a number
		c.fail(at+".formaldehyde", `in hundredths by weight: "10 %" formalin has about 3.7`, "%g %% is no share of formaldehyde: 0 to %d", f, most)
	case f > 0 && c.has(at+".fixing") && !m.Fixing:
		c.fail(at+".formaldehyde", "say fixing = true, or take it out", "formaldehyde fixes, and the medium is said not to")
	case f > 0 && !c.has(at+".vapour"):
		c.fail(at+".vapour", "say true if it spoils air-dried slides in the same bag, else false", "it is missing, and the medium holds formaldehyde")
	}
	if c.has(at+".caution") && !oneWord(m.Caution) {
		c.fail(at+".caution", "one word in small letters, as toxic or flammable; take it out if there is none", "%q is no word for a label: 3 to %d letters", m.Caution, mostCaution)
	}
	if _, known := c.p.Carriers[m.Carrier]; c.has(at+".carrier") && !known {
		c.fail(at+".carrier", "use one of "+strings.Join(keys(c.p.Carriers), ", "), "there is no carrier %q", m.Carrier)
	}
	switch {
	case m.Vapour && m.Dried:
		c.fail(at+".dried", "take out one of the two", "what is dried gives off no vapour")
	case m.Dried && m.Fixing:
		c.fail(at+".dried", "take out one of the two", "what is dried lies in no fixing medium")
	}
}

// mostCaution is the longest word that a pot's label has room for beside the medium.
const mostCaution = 12

// oneWord reports whether a caution is one short word.
func oneWord(s string) bool {
	return len(s) >= 3 && len(s) <= mostCaution && !strings.ContainsFunc(s, func(r rune) bool { return r < 'a' || r > 'z' })
}
