package cli

import (
	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/labels"
)

func (a *app) staffBadge() *cobra.Command {
	plain := &plainLabels{form: labels.FormBadge}
	var name, role string
	c := &cobra.Command{
		Use: "badge KEY", Short: "Draw a badge", Args: cobra.ExactArgs(1),
		Long: "Draws the badge of a staff key: the name large, the role, and the symbol. Needs no daemon, and records nothing. A badge\n" +
			"alone proves nothing: it is a name that a scanner can read.",
		Example: "  pottrail staff badge nurse.osei --name \"Abena Osei\" --role nurse --out badge.pdf\n" +
			"  pottrail staff badge porter.lund --name \"Elin Lund\" --out badge.png --layout badge-50x25",
		RunE: func(cmd *cobra.Command, args []string) error {
			return plain.write(cmd.Context(), a, []labels.Content{{Key: args[0], Title: name, Detail: role}})
		},
	}
	c.Flags().StringVar(&name, "name", "", "the `NAME` to be read on it")
	c.Flags().StringVar(&role, "role", "", "the `ROLE` to be read on it")
	plain.addFlags(c, "`FILE`.png or FILE.pdf to write")
	_ = c.MarkFlagRequired("out")  // it exists: it was just added
	_ = c.MarkFlagRequired("name") // it exists: it was just added
	return a.withJSON(c)
}
