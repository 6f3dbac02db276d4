package cli

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/cmd/internal/daemon"
	"github.com/pottrail/pottrail/cmd/internal/examine"
	"github.com/pottrail/pottrail/events/evidence"
	"github.com/pottrail/pottrail/store"
)

func (a *app) fsck() *cobra.Command {
	var signed, paper string
	c := a.withJSON(&cobra.Command{
		Use: "fsck [FILE]", Short: "Check every hash and index of the ledger, and the files beside it", Args: cobra.MaximumNArgs(1),
		Long: "Recomputes from the entries all that a ledger holds: each entry's bytes against its hash and every hash above it, gaps,\n" +
			"ids, what is filed where, what was last judged, when it is due, adopted protocols, verdicts that were given, the log of\n" +
			"flags, serials. It holds the ledger against every checkpoint that was signed, in the ledger and in checkpoints.log beside it,\n" +
			"so that an older copy in its place and a record that was written anew are found. Then it opens every record of the people\n" +
			"file, every job of the print queue, and the list of staff. It says of each thing that\n" +
			"does not fit which entry it is, what is wrong, and what to do; it changes nothing, and no patient is named.\n\n" +
			"Needs no daemon, and the files to itself: stop the daemon first (exit 3 when it is running), or name the FILE of a ledger's\n" +
			"copy, such as ledger.db out of a backup (tar xf BACKUP ledger.db). Reading is done by a process of its own, since a damaged file can end the one that reads it.\n\n" +
			"Exit codes: 0 all is well; 1 something is wrong; 2 FILE is no ledger; 3 could not.",
		Example: "  pottrail fsck --data ./clinic\n  pottrail fsck /media/usb/ledger.db --checkpoints ./clinic/checkpoints.log\n" +
			"  pottrail fsck --data ./clinic --paper '1234 53F1-A0C4-77AA-90BE-12CD'",
		RunE: func(cmd *cobra.Command, args []string) error {
			// Where the people file's key lies is an option of the daemon.
			if err := a.options.Load(cmd.Flags(), a.file, a.Getenv, config.PartFolder, config.PartDaemon); err != nil {
				return unreadable("%w", err)
			}
			job := daemon.FilesOf(a.options)
			named := len(args) == 1
			if named {
				job = examine.Job{Ledger: args[0]}
			}
			if signed != "" {
				if err := daemon.Checkpoints(&job, signed); err != nil {
					return unreadable("%w", err)
				}
			}
			if _, _, err := evidence.ParseShort(paper); paper != "" && err != nil {
				return usage("--paper %q: %w", paper, err)
			}
			job.Paper = paper
			if _, err := os.Stat(job.Ledger); err != nil {
				if named {
					return unreadable("%w", err)
				}
				return couldNot(fmt.Errorf("there is no ledger to check: %w", err), "name the data folder with --data, or a ledger's file")
			}
			self, err := examine.Self()
			if err != nil {
				return couldNot(err, "")
			}
			bar := a.examineBar()
			report, err := examine.Run(cmd.Context(), self, job, bar)
			if err != nil {
				return couldNot(err, "")
			}
			return a.sayReport(report, job, named)
		},
	})
	c.Flags().StringVar(&signed, "checkpoints", "", "hold the ledger against the checkpoints in this `FILE` (default: checkpoints.log in the data folder)")
	c.Flags().StringVar(&paper, "paper", "", "hold it against a `CHECKPOINT` as it is printed")
	return c
}

// examineBar shows how far a check is, a bar a stage.
func (a *app) examineBar() func(examine.Progress) {
	bar, of := func(int) {}, ""
	return func(p examine.Progress) {
		if stage := p.File + ", " + p.Stage; stage != of {
			bar, of = a.progress(int(p.Total), stage), stage
		}
		bar(int(p.Done))
	}
}

// sayReport prints what was found, and gives it its exit code.
func (a *app) sayReport(r *examine.Report, job examine.Job, named bool) error {
	if a.json {
		if err := a.printJSON(r); err != nil {
			return err
		}
	} else if err := a.printReport(r); err != nil {
		return err
	}
	for _, t := range r.Troubles {
		switch {
		case t.Code == "in-use":
			return couldNot(t, "stop the daemon first, or name the ledger.db of a backup (tar xf BACKUP ledger.db): a ledger that is being written cannot be checked")
		case t.Code == "newer":
			return couldNot(t, daemon.Hint(t))
		case named:
			return unreadable("%w", t)
		}
	}
	switch {
	case len(r.Troubles) > 0:
		t := r.Troubles[0]
		if t.File == examine.FileLedger {
			return &exitError{code: exitWrong, err: t, hint: "the ledger cannot be opened at all: copy the data folder, keep the copy, and put the last backup back"}
		}
		return &exitError{code: exitWrong, err: t, hint: "copy the data folder first; then put the last backup of that file back"}
	case !r.Well():
		return wrong()
	}
	return nil
}

func (a *app) printReport(r *examine.Report) error {
	for _, f := range r.Findings {
		if _, err := fmt.Fprintf(a.Out, "%s: %s\n        %s\n", f.File, f.Text, f.Remedy); err != nil {
			return err
		}
	}
	if more := r.Total - uint64(len(r.Findings)); more > 0 {
		fmt.Fprintf(a.Out, "and %d more\n", more)
	}
	if r.Ledger != nil {
		fmt.Fprintf(a.Out, "%d of %d entries, %d cases and bags, %d pages looked at; log of this node: %s\n", r.Ledger.Looked, r.Ledger.Entries, r.Ledger.Things, r.Ledger.Pages, or(r.Ledger.Origin, "not known"))
	}
	if r.Well() {
		_, err := fmt.Fprintln(a.Out, "all is well")
		return err
	}
	if r.Total > 0 {
		_, err := fmt.Fprintf(a.Out, "%d found. What to do step by step: %s.\n", r.Total, store.DamagedProcedure)
		return err
	}
	return nil
}

// examineHidden is the process that reads the files for others; nobody calls it by hand.
func (a *app) examineHidden() *cobra.Command {
	return &cobra.Command{
		Use: examine.Hidden, Hidden: true, Args: cobra.NoArgs,
		Short:   "Look at files for another process",
		Long:    "Looks at files for another process of pottrail, and tells it what it finds. `pottrail fsck` is for people.",
		Example: "  pottrail fsck --data ./clinic",
		RunE: func(cmd *cobra.Command, _ []string) error {
			return examine.Child(cmd.Context(), a.In, a.Out)
		},
	}
}
