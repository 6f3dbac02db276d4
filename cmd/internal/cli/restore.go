package cli

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/daemon"
	"github.com/pottrail/pottrail/store/backup"
	"github.com/pottrail/pottrail/store/people"
	"github.com/pottrail/pottrail/tracker"
)

func (a *app) restore() *cobra.Command {
	r := daemon.Restoring{Copies: daemon.DefaultCopies}
	c := &cobra.Command{
		Use: "restore FILE", Short: "Put a backup back into an empty folder", Args: cobra.ExactArgs(1),
		Long: "Puts a backup back into an empty folder, or one that it makes. Every byte of FILE is checked first, the copies are opened,\n" +
			"and the root of each log is worked out anew before and after. What is put back is a new origin: what is recorded\n" +
			"from now on is a log of its own, and what was recorded before stays as it was.\n\n" +
			"Labels may have been printed after the backup was made. So each clinic's serials of each year go on --margin further\n" +
			"(500, or twice what the busiest day before would make of the time since), and the next label of a thing of before passes over three copies. No label waits for a printer.\n\n" +
			"It needs no daemon, and the folder to itself. FILE may be - for standard input.",
		Example: "  pottrail restore /mnt/safe/monday.tar --data ./clinic-again --key /mnt/stick/people.key",
		RunE: func(cmd *cobra.Command, args []string) error {
			if cmd.Flags().Changed("margin") && r.Margin < 1 || r.Margin > tracker.MaxSerial/2 {
				return usage("--margin %d: pass over 1 to %d serials", r.Margin, tracker.MaxSerial/2)
			}
			if r.Copies < 0 || r.Copies > 34 {
				return usage("--copies %d: pass over 0 to 34 copies of a label", r.Copies)
			}
			file, err := a.openInput(args[0])
			if err != nil {
				return err
			}
			defer file.Close()
			r.Archive, r.Folder, r.Progress = file, a.options.Folder.Dir, a.phases()
			done, err := daemon.Restore(cmd.Context(), r)
			switch {
			case errors.Is(err, backup.ErrForeign), errors.Is(err, backup.ErrDamaged), errors.Is(err, backup.ErrNewer):
				return unreadable("%s: %w; nothing was put back", args[0], err)
			case errors.Is(err, people.ErrKeyWrong):
				return couldNot(err, "nothing was put back; without --key it is put back with the names sealed, and the key can follow")
			case err != nil:
				return couldNot(err, daemon.Hint(err))
			}
			if a.json {
				return a.printJSON(map[string]any{"folder": done.Folder, "manifest": done.Manifest, "origin": done.Renewed.Origin, "was": done.Renewed.Was,
					"serials": done.Renewed.Serials, "margin": done.Margin, "likely": done.Likely, "copies": r.Copies, "key": done.Key})
			}
			return a.sayRestored(done, r)
		},
	}
	c.Flags().StringVar(&r.Key, "key", "", "`FILE` with the key of the people file, copied into the folder")
	c.Flags().IntVar(&r.Margin, "margin", 0, fmt.Sprintf("pass over `N` serials of each clinic and year (default %d, more when many days were lost)", daemon.DefaultMargin))
	c.Flags().IntVar(&r.Copies, "copies", daemon.DefaultCopies, "pass over `N` copies of each label that may have been printed anew since")
	return a.withJSON(c)
}

// sayRestored says what is there again, what is missing, and what people must do now.
func (a *app) sayRestored(d daemon.Restored, r daemon.Restoring) error {
	m := d.Manifest
	var b strings.Builder
	fmt.Fprintf(&b, "restored %s in %s and %s into %s\n", many(m.Ledger.Entries, "event"), many(uint64(len(m.Ledger.Roots)), "log"), many(uint64(m.People.People), "patient"), d.Folder)
	fmt.Fprintf(&b, "until    %s, when the last of them was recorded; the backup is of %s\n", until(m), m.Created.Local().Format(time.RFC3339))
	fmt.Fprintf(&b, "checked  every byte; opened before and after, the root of each log is what it was\n")
	fmt.Fprintf(&b, "origin   %s from now on; what was recorded before stays that of %s\n", d.Renewed.Origin, d.Renewed.Was)
	for _, s := range d.Renewed.Serials {
		fmt.Fprintf(&b, "serials  %s\n", serialsOf(s.Clinic, s.Year, s.Last, s.Next))
	}
	fmt.Fprintf(&b, "         %d were passed over, for labels printed after the backup; at the pace of the busiest day before there were\n"+
		"         %d of one clinic. Were there more than were passed over, rolls counted? Then empty the folder and restore again\n"+
		"         with a larger --margin, before anything is printed\n", d.Margin, d.Likely)
	if d.Likely > d.Margin {
		fmt.Fprintf(&b, "WARNING  that margin is likely too small: two patients could get one number\n")
	}
	fmt.Fprintf(&b, "copies   the next label of a thing of before passes over %d copies, for reprints after the backup\n", r.Copies)
	fmt.Fprintf(&b, "MISSING  all that was recorded after %s: cases, labels, scans, results, calls. Labels that waited for a\n"+
		"         printer are gone, and none comes out by itself\n", until(m))
	steps := []string{}
	if !d.Key {
		steps = append(steps, fmt.Sprintf("put the key of the people file at %s/people.key (chmod 600): serve does not start without it", d.Folder))
	}
	if m.Demo {
		steps = append(steps, fmt.Sprintf("this is a backup of the demo: pottrail demo --data %s; it is never mixed with a real folder", d.Folder))
	} else {
		steps = append(steps, fmt.Sprintf("start it: pottrail serve --data %s, never the old folder again beside it", d.Folder))
	}
	steps = append(steps,
		"let phones and stations send what they still hold, again too: nothing counts twice",
		"enter what is on paper since then, with the time at which it happened",
		"look at each pot and bag that is about and scan it: pottrail scan CODE says of one from after the backup what to do. Open a case\n"+
			"            that is missing again under the number on its labels (pottrail open --case), and never under a new one",
		"give out the new public key to those who check proofs (pottrail checkpoint --key, once it runs), and keep the old one: what was\n"+
			"            signed before is checked with that",
		"sign in anew, everybody. Take off the list again whoever was taken off since, give new PINs again, enrol stations again.\n"+
			"            Behind --tls local there is a new local authority: phones and screens must trust it anew (/trust)",
		"let programs and devices in over NATS again (pottrail clients add); whoever used nats.json needs the new one",
		"ring the laboratory: what did it receive and answer since then?",
		"make a backup of the new folder")
	for i, step := range steps {
		lead := "        "
		if i == 0 {
			lead = "NOW     "
		}
		fmt.Fprintf(&b, "%s %d. %s\n", lead, i+1, step)
	}
	_, err := fmt.Fprint(a.Out, b.String())
	return err
}

func serialsOf(clinic string, year, last, next int) string {
	who := clinic + " in 20" + fmt.Sprintf("%02d", year)
	if clinic == "*" {
		who = fmt.Sprintf("any clinic without a number in 20%02d", year)
	}
	if next == 0 {
		return who + " has none left: no case can be opened there this year, unless restored with a smaller --margin"
	}
	return fmt.Sprintf("%s goes on at %05d; the backup knew %05d", who, next, last)
}
