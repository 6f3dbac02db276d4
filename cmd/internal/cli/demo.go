package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/cmd/internal/daemon"
	"github.com/pottrail/pottrail/cmd/internal/examine"
)

func (a *app) demo() *cobra.Command {
	var seed uint64
	var weeks int
	c := &cobra.Command{
		Use: "demo", Short: "Run the daemon over an invented network", Args: cobra.NoArgs,
		Long: "Runs the daemon over an invented network of clinics and a laboratory, with six weeks of cases and today's work in\n" +
			"progress, faults of real days included. Nobody in it is real. It keeps its own data folder, in the user's cache\n" +
			"unless --data names one, and never touches a real one. Its labels come out as pictures in that folder, under printed,\n" +
			"unless a configuration file named with --config has printers. Started again, it goes on where it was.",
		Example: "  pottrail demo",
		RunE: func(cmd *cobra.Command, _ []string) error {
			if !cmd.Flags().Changed("data") && a.Getenv("POTTRAIL_DATA") == "" {
				dir, err := config.DemoFolder()
				if err != nil {
					return err
				}
				a.options.Folder.Dir = dir
			}
			if a.file == "" { // the user's own file may name real printers, and invented labels look like real ones
				a.options.Printers = nil
			}
			self, err := examine.Self()
			if err != nil {
				return err
			}
			a.options.People = config.People{} // invented patients are not sealed with a clinic's key
			o := daemon.Options{Self: self, Options: a.options, Log: a.log(), Version: readVersion().Version, Ready: a.sayReady,
				Demo: &daemon.Demo{Seed: seed, Weeks: weeks, Progress: a.sayHistory}}
			return couldNotRun(daemon.Run(cmd.Context(), o))
		},
	}
	a.options.AddFlags(c.Flags(), config.PartDaemon, config.PartTLS)
	c.Flags().Uint64Var(&seed, "seed", 1, "`SEED`: the same seed makes the same network")
	c.Flags().IntVar(&weeks, "weeks", 6, "`WEEKS` of history")
	return c
}

// sayHistory tells when the invented history is in.
func (a *app) sayHistory(done, total int) {
	if done == total {
		fmt.Fprintf(a.Out, "demo    %d events of an invented network are in; nobody in it is real\n", total)
	}
}
