package cli

import (
	"fmt"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/ask"
)

func (a *app) printers() *cobra.Command {
	c := &cobra.Command{
		Use: "printers", Short: "Show, test and clear up label printers", Args: cobra.NoArgs,
		Long: "Label printers are tables [printers.NAME] of the daemon's configuration file: way (raw, ipp, device, spool), to,\n" +
			"language, dots_per_mm, stock (layouts that fit the labels in it), gap_mm and stations (whose printer it is).\n\n" +
			"A label that may have come out is never printed again by itself: `printers jobs` asks about it, `printers settle`\n" +
			"answers, and so does the first scan of it.",
		Example: "  pottrail printers list\n  pottrail printers test room-2",
		RunE:    func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	c.AddCommand(a.printersList(), a.printersTry(), a.printersJobs(), a.printersSettle(), a.printersCallOff())
	return c
}

func (a *app) printersList() *cobra.Command {
	return a.withJSON(&cobra.Command{
		Use: "list", Short: "Say how each printer is", Args: cobra.NoArgs,
		Long: "Says how each label printer is: where it is, what is in it, what it says of itself, how many labels wait for it, and\n" +
			"what went wrong last. Exit 1 when one does not answer, something is wrong with what waits, or a label asks.",
		Example: "  pottrail printers list",
		RunE: func(cmd *cobra.Command, _ []string) error {
			var answer ask.PrintersAnswer
			if err := a.client().post(cmd.Context(), pathPrinters, ask.PrintersRequest{}, &answer); err != nil {
				return err
			}
			if a.json {
				if err := a.printJSON(answer); err != nil {
					return err
				}
			} else if err := a.tellPrinters(answer.Printers); err != nil {
				return err
			}
			for _, p := range answer.Printers {
				if !p.OK {
					return wrong()
				}
			}
			return nil
		},
	})
}

func (a *app) tellPrinters(all []ask.PrinterAnswer) error {
	if len(all) == 0 {
		_, err := fmt.Fprintln(a.Out, "No printer is set up: add a table [printers.NAME] to the daemon's configuration file.")
		return err
	}
	table := tabwriter.NewWriter(a.Out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "PRINTER\tWAY\tWHERE\tLANGUAGE\tDOTS/MM\tSTOCK\tSTATIONS\tWAITING\tASKING\tSTATE")
	for _, p := range all {
		fmt.Fprintf(table, "%s\t%s\t%s\t%s\t%d\t%s\t%s\t%d\t%d\t%s\n", p.Name, p.Way, p.To, p.Language, p.DotsPerMM, strings.Join(p.Stock, " "),
			orDash(strings.Join(p.Stations, " ")), p.Waiting, p.Asks, p.State)
	}
	if err := table.Flush(); err != nil {
		return err
	}
	for _, p := range all {
		if p.Trouble != "" {
			fmt.Fprintf(a.Out, "%s: %s\n", p.Name, p.Trouble)
		}
		if p.Asks > 0 {
			fmt.Fprintf(a.Out, "%s: somebody must say whether a label came out; see `pottrail printers jobs`\n", p.Name)
		}
	}
	return nil
}

func orDash(text string) string {
	if text == "" {
		return "–"
	}
	return text
}

// printersTry prints a calibration label.
func (a *app) printersTry() *cobra.Command {
	var by, station string
	c := &cobra.Command{
		Use: "test PRINTER", Short: "Print a calibration label", Args: cobra.ExactArgs(1),
		Long: "Prints a calibration label: rulers to lay a real ruler on, the symbol at several sizes to scan, a wedge that shows\n" +
			"whether the printer is too dark or too pale. Waits up to ten seconds and says what became of it.",
		Example: "  pottrail printers test room-2",
		RunE: func(cmd *cobra.Command, args []string) error {
			client := a.client()
			var answer ask.JobsAnswer
			if err := client.post(cmd.Context(), pathTest, ask.TestPrinterRequest{Printer: args[0], By: by, Station: station}, &answer); err != nil {
				return err
			}
			return a.outcomes(cmd.Context(), client, answer.Jobs)
		},
	}
	addBy(c, &by, &station)
	return a.withJSON(c)
}
