package cli

import (
	"fmt"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/say"
)

func (a *app) staff() *cobra.Command {
	c := &cobra.Command{
		Use: "staff", Short: "Say who may sign in: badges and PINs", Args: cobra.NoArgs,
		Long: "Looks after the people who sign in: a badge says who, and a PIN proves it, at a device that is enrolled (`pottrail\n" +
			"stations`). Until somebody is set up, nobody signs in and this machine alone is served. Who has which role stands in the\n" +
			"clinic's protocol.\n\n" +
			"These commands go by the data folder: whoever owns that can always put things right.",
		Example: "  pottrail staff add nurse.osei\n  pottrail staff badge nurse.osei --name \"Abena Osei\" --role nurse --out badge.pdf",
		RunE:    func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	c.AddCommand(a.staffAdd(), a.staffList(), a.staffPIN(), a.staffRemove(), a.staffUnlock(), a.staffSetUpLink(), a.staffSessions(), a.staffEndSession(), a.staffDoubts(), a.staffBadge())
	return c
}

func (a *app) staffAdd() *cobra.Command {
	var request ask.StaffRequest
	var pinFile string
	c := &cobra.Command{
		Use: "add KEY", Short: "Put somebody on the list, with a PIN", Args: cobra.ExactArgs(1),
		Long: "Puts somebody on the list of those who may sign in, by the key that is on their badge and in the protocol's lists of\n" +
			"staff. Let them type the PIN themselves: 6 characters at least, digits or any text, and not one of those that are\n" +
			"guessed first. It is asked for twice; where nobody is at a terminal it is read from standard input, or from a file with\n" +
			"--pin-file. It is no argument, since arguments are seen by others on this machine.\n\n" +
			"With the first person on the list signing in begins.",
		Example: "  pottrail staff add nurse.osei\n  pottrail staff add porter.lund --pin-file ./pin.txt",
		RunE: func(cmd *cobra.Command, args []string) error {
			pin, err := a.readPIN(pinFile, args[0])
			if err != nil {
				return err
			}
			request.Key, request.PIN = args[0], pin
			return a.tellOne(cmd, pathStaffAdd, request, "may sign in")
		},
	}
	addPINFile(c, &pinFile)
	addBy(c, &request.By, &request.Station)
	return a.withJSON(c)
}

func (a *app) staffPIN() *cobra.Command {
	var request ask.StaffRequest
	var pinFile string
	c := &cobra.Command{
		Use: "pin KEY", Short: "Give somebody a new PIN", Args: cobra.ExactArgs(1),
		Long: "Gives somebody on the list a new PIN, which they type themselves, as with `staff add`. Their badge is unlocked, and what\n" +
			"they have open anywhere is signed out. This works whatever was tried with the badge before.",
		Example: "  pottrail staff pin nurse.osei",
		RunE: func(cmd *cobra.Command, args []string) error {
			pin, err := a.readPIN(pinFile, args[0])
			if err != nil {
				return err
			}
			request.Key, request.PIN = args[0], pin
			return a.tellOne(cmd, pathStaffPIN, request, "has a new PIN")
		},
	}
	addPINFile(c, &pinFile)
	addBy(c, &request.By, &request.Station)
	return a.withJSON(c)
}

func (a *app) staffRemove() *cobra.Command {
	var request ask.StaffRequest
	c := &cobra.Command{
		Use: "remove KEY", Short: "Take somebody off the list", Args: cobra.ExactArgs(1),
		Long: "Takes somebody off the list: they can no longer sign in, and what they have open anywhere is signed out. What they did\n" +
			"stays on record in their name. The last administrator stays on the list.",
		Example: "  pottrail staff remove porter.lund",
		RunE: func(cmd *cobra.Command, args []string) error {
			request.Key = args[0]
			return a.tellOne(cmd, pathStaffRemove, request, "may no longer sign in")
		},
	}
	addBy(c, &request.By, &request.Station)
	return a.withJSON(c)
}

func (a *app) staffUnlock() *cobra.Command {
	var request ask.StaffRequest
	c := &cobra.Command{
		Use: "unlock KEY", Short: "Let a badge be tried again after wrong PINs", Args: cobra.ExactArgs(1),
		Long: "After wrong PINs a badge must wait at the station where they were tried: a second, two, four, up to a minute. After ten\n" +
			"it is locked there, and may be tried again each quarter of an hour; after twenty, or a hundred at several stations, it\n" +
			"stays locked until this command. Ask the person first whether it was them. Other people, and other stations, go on.",
		Example: "  pottrail staff unlock nurse.osei\n  pottrail staff unlock nurse.osei --at room-2",
		RunE: func(cmd *cobra.Command, args []string) error {
			request.Key = args[0]
			return a.tellOne(cmd, pathStaffUnlock, request, "may try again")
		},
	}
	c.Flags().StringVar(&request.At, "at", "", "at this `STATION` alone")
	addBy(c, &request.By, &request.Station)
	return a.withJSON(c)
}

// tellOne sends a request about one person and says what it came to.
func (a *app) tellOne(cmd *cobra.Command, path string, request ask.StaffRequest, done string) error {
	var answer ask.StaffAnswer
	if err := a.client().post(cmd.Context(), path, request, &answer); err != nil {
		return err
	}
	if a.json {
		return a.printJSON(answer)
	}
	_, err := fmt.Fprintf(a.Out, "%s %s\n", plain(request.Key), done)
	return err
}

func (a *app) staffList() *cobra.Command {
	var request ask.StaffListRequest
	c := &cobra.Command{
		Use: "list", Short: "List who may sign in", Args: cobra.NoArgs,
		Long:    "Lists who may sign in, since when, and whose badge is locked after wrong PINs.",
		Example: "  pottrail staff list --all",
		RunE: func(cmd *cobra.Command, _ []string) error {
			var answer ask.StaffAnswer
			if err := a.client().post(cmd.Context(), pathStaff, request, &answer); err != nil {
				return err
			}
			if a.json {
				return a.printJSON(answer)
			}
			return a.tellStaff(answer)
		},
	}
	c.Flags().BoolVar(&request.All, "all", false, "also those who were taken off the list")
	return a.withJSON(c)
}

func (a *app) tellStaff(answer ask.StaffAnswer) error {
	now := time.Now()
	table := tabwriter.NewWriter(a.Out, 0, 0, 2, ' ', 0)
	for _, m := range answer.Staff {
		state := "since " + say.Instant(m.Added, time.Local, now)
		if !m.Removed.IsZero() {
			state = "taken off " + say.Instant(m.Removed, time.Local, now) + " by " + plain(m.ChangedBy)
		}
		if m.NoPIN {
			state += "; needs a new PIN: the key that sealed the old one is lost"
		}
		fmt.Fprintf(table, "%s\t%s\n", plain(m.Key), state)
		for _, l := range m.Locked {
			fmt.Fprintf(table, "\tlocked %s\n", lockWord(l, now))
		}
	}
	if err := table.Flush(); err != nil {
		return err
	}
	if len(answer.Staff) == 0 {
		_, err := fmt.Fprintln(a.Out, "Nobody is set up: nobody signs in, and this machine alone is served.")
		return err
	}
	return nil
}

// lockWord says where and for how long a badge is locked.
func lockWord(l ask.Lock, now time.Time) string {
	at := "at " + plain(l.Station)
	if l.Station == "" {
		at = "everywhere"
	}
	until := "until `staff unlock`"
	if !l.Opens.IsZero() {
		until = "one try from " + say.Clock(l.Opens, time.Local) + " on, or `staff unlock`"
	}
	return fmt.Sprintf("%s: %d wrong PINs, the last %s; %s", at, l.Wrong, say.Instant(l.Last, time.Local, now), until)
}

func (a *app) staffSetUpLink() *cobra.Command {
	var request ask.LinkRequest
	c := &cobra.Command{
		Use: "set-up-link", Short: "Make a link for the first administrator", Args: cobra.NoArgs,
		Long: "Makes the link by which the first administrator is set up in a browser, with a PIN, and the device enrolled. It is good\n" +
			"once, for 30 minutes, and any link of before is good no longer. `serve` makes one by itself when nobody is set up. There\n" +
			"is no password that comes with the program.",
		Example: "  pottrail staff set-up-link",
		RunE: func(cmd *cobra.Command, _ []string) error {
			var answer ask.LinkAnswer
			if err := a.client().post(cmd.Context(), pathSetUpLink, request, &answer); err != nil {
				return err
			}
			return a.tellLink(answer, "to be the first administrator")
		},
	}
	addBy(c, &request.By, &request.Station)
	return a.withJSON(c)
}

// tellLink shows a one-time link.
func (a *app) tellLink(answer ask.LinkAnswer, what string) error {
	if a.json {
		return a.printJSON(answer)
	}
	fmt.Fprintf(a.Out, "%s\n\nOpen this link %s. It is good once, until %s.\n", answer.Link, what, say.Clock(answer.Until, time.Local))
	if answer.Again {
		fmt.Fprintf(a.Out, "A station %s is enrolled already: it goes on until the link is used, and not after.\n", plain(answer.Name))
	}
	if answer.Only {
		fmt.Fprintln(a.Out, "Pages are served to this machine alone, so it works on this machine alone.")
	}
	return nil
}
