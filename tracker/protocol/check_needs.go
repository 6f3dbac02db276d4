package protocol

// needs: tables of which every protocol has one, each with its source.
func (c *checker) needs() {
	c.need("fixative", "ratio")
	if c.has("fixative.ratio") && !(c.p.Fixative.Ratio >= 1) { // also of what is not a number
		c.fail("fixative.ratio", "volumes of medium to one of tissue", "%g is no ratio", c.p.Fixative.Ratio)
	}
	for _, table := range []string{"fixative", "concordance", "meeting"} {
		c.sourced(table)
	}
	c.need("meeting", "categories")
}
