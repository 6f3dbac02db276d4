package cli

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/tracker/protocol"
)

func (a *app) places() *cobra.Command {
	plain := &plainLabels{form: labels.FormPlace}
	var clinic, file string
	c := &cobra.Command{
		Use: "places [KEY…]", Short: "List a clinic's places, and draw their labels",
		Long: "Lists the places of a clinic's protocol, or those that are named. With --out it draws a label for each, to be stuck up\n" +
			"where a porter scans it: a scan of it says where, and never what. Nothing is recorded.\n\n" +
			"Without --clinic it takes the protocol inside the program or, with --protocol, a file; then no daemon is needed.",
		Example: "  pottrail places --clinic MBY\n  pottrail places --clinic MBY hatch fridge --out places.pdf",
		RunE: func(cmd *cobra.Command, args []string) error {
			var from []string
			if file != "" {
				from = []string{file}
			}
			answer, err := a.protocolFor(cmd, clinic, false, from)
			if err != nil {
				return err
			}
			p, err := protocol.Parse([]byte(answer.Text))
			if err != nil {
				return protocolFault("the protocol in force", err)
			}
			keys := args
			if len(keys) == 0 {
				keys = slices.Sorted(maps.Keys(p.Places))
			}
			for _, key := range keys {
				if _, ok := p.Places[key]; !ok {
					return usage("there is no place %q; `pottrail places` lists them", key)
				}
			}
			if plain.out == "" {
				return a.tellPlaces(p, keys)
			}
			contents := make([]labels.Content, len(keys))
			for i, key := range keys {
				contents[i] = labels.Content{Key: key, Title: capital(p.Places[key].Name), Detail: roleOf(p, key)}
			}
			return plain.write(cmd.Context(), a, contents)
		},
	}
	c.Flags().StringVar(&clinic, "clinic", "", "those of this `CLINIC`'s protocol in force")
	c.Flags().StringVar(&file, "protocol", "", "those of this protocol `FILE`")
	plain.addFlags(c, "`FILE`.png or FILE.pdf for their labels")
	return a.withJSON(c)
}

// roleOf says what a place is for, unless its name does.
func roleOf(p *protocol.Protocol, key string) string {
	place := p.Places[key]
	if role := cmp.Or(p.Roles[place.Role].Name, place.Role); role != place.Name && "the "+role != place.Name {
		return role
	}
	return ""
}

func (a *app) tellPlaces(p *protocol.Protocol, keys []string) error {
	type place struct {
		Key     string `json:"key"`
		Name    string `json:"name"`
		Role    string `json:"role"`
		Contact string `json:"contact,omitzero"`
		Scans   string `json:"scans"` // what its label says to a scanner
	}
	list := make([]place, len(keys))
	for i, key := range keys {
		known := p.Places[key]
		list[i] = place{key, known.Name, known.Role, known.Contact, labels.PlaceText(key)}
	}
	if a.json {
		return a.printJSON(list)
	}
	table := tabwriter.NewWriter(a.Out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "PLACE\tNAME\tROLE\tCONTACT")
	for _, l := range list {
		fmt.Fprintf(table, "%s\t%s\t%s\t%s\n", l.Key, l.Name, l.Role, orDash(l.Contact))
	}
	return table.Flush()
}
