package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/tracker"
)

func (a *app) flags() *cobra.Command {
	var request ask.Request
	var explain, rulesFile string
	var refused bool
	var by, station string
	c := &cobra.Command{
		Use: "flags", Short: "List what is wrong now", Args: cobra.NoArgs,
		Long: "Lists what is wrong now, worst first, `watch` too. Exit 1 when there is anything.\n" +
			"--explain KIND says in plain words when a flag comes and goes, --explain all does for every kind; both need no daemon.\n" +
			"--refused lists what was refused and why.",
		Example: "  pottrail flags --clinic MBY --severity now\n  pottrail flags --explain cold-ischaemia-long",
		RunE: func(cmd *cobra.Command, _ []string) error {
			switch {
			case explain != "":
				return a.explain(explain, rulesFile)
			case rulesFile != "":
				return usage("--protocol goes with --explain: what is open is judged by the protocol that its clinic adopted")
			case refused:
				return a.refused(cmd, by, station)
			}
			var answer ask.FlagsAnswer
			if err := a.client().question(cmd.Context(), "flags", request, &answer); err != nil {
				return err
			}
			return a.printFindings(answer)
		},
	}
	c.Flags().StringVar(&request.Name, "item", "", "only of this case, pot, piece or bag (`CODE` or name)")
	c.Flags().StringVar(&request.Clinic, "clinic", "", "only of this `CLINIC`")
	c.Flags().StringVar(&request.Kind, "kind", "", "only this `KIND`")
	c.Flags().StringVar((*string)(&request.Severity), "severity", "", "only now, today or watch: this `SEVERITY`")
	c.Flags().StringVar(&request.Held, "held", "", "no: without what is held back; only: nothing else (`WHICH`)")
	c.Flags().BoolVar(&request.Under, "under", false, "say under which protocol each was raised")
	c.Flags().StringVar(&explain, "explain", "", "say in plain words what this `KIND` means, or all")
	c.Flags().StringVar(&rulesFile, "protocol", "", "with --explain: the numbers of this protocol `FILE`")
	c.Flags().BoolVar(&refused, "refused", false, "list what was refused, which is noted as a read")
	addBy(c, &by, &station)
	c.MarkFlagsMutuallyExclusive("explain", "refused")
	return a.withJSON(c)
}

// printFindings prints flags and what is held back; exit 1 when there is a flag.
func (a *app) printFindings(answer ask.FlagsAnswer) error {
	if a.json {
		if err := a.printJSON(answer); err != nil {
			return err
		}
	} else {
		a.tellFindings(answer)
	}
	if len(answer.Flags) > 0 {
		return wrong()
	}
	return nil
}

func (a *app) tellFindings(answer ask.FlagsAnswer) {
	for i, f := range answer.Flags {
		fmt.Fprintf(a.Out, "%-5s %s  %s\n", strings.ToUpper(string(f.Severity)), f.Item.Printed(), f.Kind)
		fmt.Fprintf(a.Out, "      %s\n      %s\n      %s · %s\n", f.Text, f.Remedy, f.Who, f.Basis)
		if i < len(answer.Under) {
			fmt.Fprintf(a.Out, "      %s\n", underLine(answer.Under[i]))
		}
	}
	for _, h := range answer.Held {
		fmt.Fprintf(a.Out, "held  %s  %s, by %s\n", h.Item.Printed(), h.Kind, h.By)
	}
	if len(answer.Flags) == 0 {
		fmt.Fprintln(a.Out, "Nothing is wrong.")
	}
}

// underLine says under which protocol a flag was raised.
func underLine(u ask.Under) string {
	const digits = 12
	sum := u.SHA256[:min(digits, len(u.SHA256))]
	if u.Adopted.IsZero() {
		return fmt.Sprintf("raised under the protocol inside the program, sha256 %s", sum)
	}
	return fmt.Sprintf("raised under %q, sha256 %s, adopted %s by %s", u.Title, sum, u.Adopted.Format("Mon 2 Jan 2006 15:04"), u.By)
}

// flagLine is a flag in one line.
func flagLine(severity tracker.Severity, text, remedy string) string {
	return fmt.Sprintf("%s: %s %s", strings.ToUpper(string(severity)), text, remedy)
}

func (a *app) refused(cmd *cobra.Command, by, station string) error {
	var answer ask.RefusedAnswer
	if err := a.client().post(cmd.Context(), pathRefused, ask.RefusedRequest{By: by, Station: station}, &answer); err != nil {
		return err
	}
	if a.json {
		if err := a.printJSON(answer); err != nil {
			return err
		}
	} else {
		for _, r := range answer.Refused {
			fmt.Fprintf(a.Out, "%s  %s  %s\n  %s\n", r.At.Local().Format("2006-01-02 15:04:05"), r.Code, r.Text, r.Data)
		}
		if answer.Dropped > 0 {
			fmt.Fprintf(a.Out, "%d older ones are no longer kept\n", answer.Dropped)
		}
		if len(answer.Refused) == 0 {
			fmt.Fprintln(a.Out, "Nothing was refused.")
		}
	}
	if len(answer.Refused) > 0 {
		return wrong()
	}
	return nil
}
