package protocol

// needs: tables of which every protocol has one, each with its source.
func (c *checker) needs() {
	c.fixativeRatio()
	for _, table := range []string{"fixative", "concordance", "meeting"} {
		c.sourced(table)
	}
	c.need("meeting", "categories")
}
