package cli

import (
	"bufio"
	"fmt"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/say"
)

func (a *app) people() *cobra.Command {
	c := &cobra.Command{
		Use: "people", Short: "Find patients, and look after their sealed records", Args: cobra.NoArgs,
		Long: "Who the patients are is kept apart from everything else, sealed, each record under a key of its own, and those keys\n" +
			"under a master key. No name and no number of a patient is ever an argument here: arguments are seen by whoever lists\n" +
			"the processes of this machine, and stay in the shell's history. They are asked for, or read from standard input.",
		Example: "  pottrail people find --why 'asked whether the result is back'\n  pottrail people reads",
		RunE:    func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	c.AddCommand(a.peopleFind(), a.peopleForget(), a.peopleReads(), a.peopleRotateKey())
	return c
}

func (a *app) peopleFind() *cobra.Command {
	var request ask.FindRequest
	var number bool
	c := &cobra.Command{
		Use: "find", Short: "Find a patient and where the cases stand", Args: noIdentifiers,
		Long: "Finds a patient by family name and birth date, or with --number by the record number or the national number, and says\n" +
			"where each case stands. It asks for them or, where nobody is at a terminal, reads them from standard input, a line\n" +
			"each. Case, accents, spaces and hyphens do not matter; a birth date is written 1961-02-14 or, day first, 14/2/1961.\n\n" +
			"That somebody looked, who, when and why, is noted: `people reads` lists it. Exit 1 when nobody fits.",
		Example: "  pottrail people find --why 'asked whether the result is back'\n  printf 'Halvorsen\\n1961-02-14\\n' | pottrail people find --why 'clinic of tomorrow'",
		RunE: func(cmd *cobra.Command, _ []string) error {
			in := bufio.NewReader(a.In)
			var err error
			if number {
				request.Number, err = a.wanted(in, "record number or national number> ", "a number")
			} else if request.Family, err = a.wanted(in, "family name> ", "a family name"); err == nil {
				request.BirthDate, err = a.readBirthDate(in)
			}
			if err != nil {
				return err
			}
			var answer ask.FindAnswer
			if err := a.client().post(cmd.Context(), pathFind, request, &answer); err != nil {
				return err
			}
			if a.json {
				if err := a.printJSON(answer); err != nil {
					return err
				}
			} else if err := a.tellFound(answer); err != nil {
				return err
			}
			if len(answer.Found) == 0 {
				return wrong()
			}
			return nil
		},
	}
	c.Flags().BoolVar(&number, "number", false, "ask for the record number or the national number, in place of name and birth date")
	c.Flags().StringVar(&request.Why, "why", "", "`WHAT` it is for, in words without the patient's name; it is noted")
	addBy(c, &request.By, &request.Station)
	return a.withJSON(c)
}

// noIdentifiers refuses arguments without repeating them: they may well be a name.
func noIdentifiers(_ *cobra.Command, args []string) error {
	if len(args) > 0 {
		return usage("no name and no number is an argument here, since others on this machine can see it: start it without, and it asks; and clear what was typed from the shell's history")
	}
	return nil
}

// wanted reads a line that must be there.
func (a *app) wanted(in *bufio.Reader, prompt, what string) (string, error) {
	line, err := a.readLine(in, prompt)
	if err == nil && line == "" {
		err = unreadable("standard input: %s is wanted", what)
	}
	return line, err
}

func (a *app) readBirthDate(in *bufio.Reader) (string, error) {
	line, err := a.wanted(in, "birth date> ", "a birth date")
	if err != nil {
		return "", err
	}
	for _, layout := range []string{time.DateOnly, "2/1/2006", "2.1.2006", "2-1-2006", "2 1 2006", "2 Jan 2006", "2 January 2006"} {
		if day, err := time.Parse(layout, line); err == nil {
			return day.Format(time.DateOnly), nil
		}
	}
	return "", unreadable("the birth date is no day: write it as 1961-02-14 or, day first, 14/2/1961") // without what was typed
}

func (a *app) tellFound(answer ask.FindAnswer) error {
	for _, f := range answer.Found {
		number := ""
		if f.Patient.RecordNumber != "" {
			number = ", " + plain(f.Patient.RecordNumber)
		}
		fmt.Fprintf(a.Out, "%s%s\n", patientWord(f.Patient), number)
		if len(f.Cases) == 0 {
			fmt.Fprintln(a.Out, "  no case is recorded here")
		}
		if err := a.tellCases(f.Cases, answer.At); err != nil {
			return err
		}
	}
	if len(answer.Found) == 0 {
		_, err := fmt.Fprintln(a.Out, "Nobody here fits. Is the name spelled as on the request? With --number a record number finds them too.")
		return err
	}
	return nil
}

// tellCases says where cases stand, a line each.
func (a *app) tellCases(cases []ask.FoundCase, now time.Time) error {
	for _, c := range cases {
		zone, err := time.LoadLocation(c.Zone)
		if err != nil {
			return fmt.Errorf("the clinic's zone: %w", err)
		}
		fmt.Fprintf(a.Out, "  %s  %s, last %s\n", c.Name.Printed(), c.Step, say.Instant(c.Last, zone, now))
		if c.Worst != nil {
			fmt.Fprintf(a.Out, "    %s\n", flagLine(c.Worst.Severity, c.Worst.Text, c.Worst.Remedy))
		}
	}
	return nil
}

func (a *app) peopleReads() *cobra.Command {
	var request ask.ReadsRequest
	c := &cobra.Command{
		Use: "reads [CASE]", Short: "List who was shown which patient", Args: cobra.MaximumNArgs(1),
		Long: "Lists who was shown a patient's record, when, by what and why, the latest first; with a CASE, or any of its codes, only\n" +
			"of its patient. Patients are named by their refs alone. Labels that were printed are events of their case: `trail`\n" +
			"has those.",
		Example: "  pottrail people reads MBY-26-00417",
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 1 {
				item, err := readItem(args[0])
				if err != nil {
					return err
				}
				request.Case = item.String()
			}
			var answer ask.ReadsAnswer
			if err := a.client().post(cmd.Context(), pathReads, request, &answer); err != nil {
				return err
			}
			if a.json {
				return a.printJSON(answer)
			}
			return a.tellReads(answer)
		},
	}
	c.Flags().IntVar(&request.Limit, "limit", 100, "most `NOTES` that are listed; 0: all")
	c.Flags().StringVar(&request.Ref, "ref", "", "only of the patient with this `REF`")
	return a.withJSON(c)
}

func (a *app) tellReads(answer ask.ReadsAnswer) error {
	table := tabwriter.NewWriter(a.Out, 0, 0, 2, ' ', 0)
	now := time.Now()
	for _, r := range answer.Reads {
		ref := r.Ref
		if ref == "" {
			ref = "-"
		}
		fmt.Fprintf(table, "%s\t%s\t%s\t%s\t%s\t%s\n", say.Instant(r.At, time.Local, now), plain(r.By), plain(r.Station), r.How, plain(ref), plain(strings.TrimSpace(r.Why)))
	}
	if err := table.Flush(); err != nil {
		return err
	}
	if len(answer.Reads) == 0 {
		fmt.Fprintln(a.Out, "Nobody was shown a patient's record.")
	}
	if answer.Dropped > 0 {
		fmt.Fprintf(a.Out, "%d older ones are no longer kept\n", answer.Dropped)
	}
	return nil
}
