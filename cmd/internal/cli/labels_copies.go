package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/tracker"
)

// copyChoice is what the options of labels say about copies: what a print stands in place of, or beside.
type copyChoice struct {
	replaces string
	oneMore  bool
	needed   bool
}

func (o *copyChoice) addFlags(c *cobra.Command) {
	c.Flags().StringVar(&o.replaces, "replaces", "", "the `COPY` that the print replaces, where several are about")
	c.Flags().BoolVar(&o.oneMore, "one-more", false, "the print stands beside the copies that are about, and replaces none")
	c.Flags().BoolVar(&o.needed, "needed", false, "of the cases that are named: all labels that the room needs and that are not about")
	c.MarkFlagsMutuallyExclusive("replaces", "one-more", "needed")
}

// request asks for the labels of these things.
func (o *copyChoice) request(items []string, preview bool) ask.LabelsRequest {
	return ask.LabelsRequest{Items: items, Preview: preview, Replaces: o.replaces, OneMore: o.oneMore, Needed: o.needed}
}

// copyWords says which copy a print is, and what becomes of the others: "copy 2, replaces copy 1: destroy that one".
func copyWords(c ask.LabelContent) string {
	word := "copy " + c.Copy.String()
	if c.StandIn != "" {
		return word + ", in place of " + c.StandIn.Printed() + " of the downtime roll: destroy that one when this is on"
	}
	switch {
	case c.Replaces != 0 && len(c.Beside) > 0:
		return fmt.Sprintf("%s, replaces copy %s: destroy that one; %s stays", word, c.Replaces, copiesWord(c.Beside))
	case c.Replaces != 0:
		return fmt.Sprintf("%s, replaces copy %s: destroy that one", word, c.Replaces)
	case len(c.Beside) > 0:
		return fmt.Sprintf("%s, one more beside %s", word, copiesWord(c.Beside))
	}
	return word
}

// copiesWord is "copy 1", "copies 1 and 3".
func copiesWord(copies []tracker.Copy) string {
	words := make([]string, len(copies))
	for i, c := range copies {
		words[i] = c.String()
	}
	if len(words) == 1 {
		return "copy " + words[0]
	}
	return "copies " + strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}
