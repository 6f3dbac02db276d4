package cli

import (
	"fmt"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/tracker"
)

// mostReserved is the longest downtime roll, in cases.
const mostReserved = 500

func (a *app) labelsReserve() *cobra.Command {
	var by, station, clinic string
	var pots, pieces int
	c := &cobra.Command{
		Use: "reserve N", Short: "Reserve a roll of labels for days without the daemon", Args: cobra.ExactArgs(1),
		Long: "Takes N case numbers for a downtime roll and records a label for each case, pot and piece of it, so that they are\n" +
			"known when they are scanned later. Prints the codes, one a line. When the daemon is back, bind each used case to\n" +
			"the real one (an event label.bound).",
		Example: "  pottrail labels reserve 20 --clinic MBY --pots 2 --pieces 4 >roll.txt",
		RunE: func(cmd *cobra.Command, args []string) error {
			n, err := strconv.Atoi(args[0])
			if err != nil || n < 1 || n > mostReserved {
				return usage("%q: reserve 1 to %d cases", args[0], mostReserved)
			}
			if err := tracker.CheckClinic(clinic); err != nil {
				return usage("--clinic: %w", err)
			}
			if pots < 0 || pots > 23 || pieces < 0 || pieces > tracker.MaxPiece {
				return usage("--pots is at most 23 and --pieces at most %d", tracker.MaxPiece)
			}
			var reserved ask.Reserved
			if err := a.client().post(cmd.Context(), pathReserve, ask.ReserveRequest{Clinic: clinic, Count: n}, &reserved); err != nil {
				return err
			}
			var codes []string
			for _, name := range reserved.Cases {
				things, err := rollOf(name, pots, pieces)
				if err != nil {
					return err
				}
				made := make([]*tracker.Event, len(things))
				for i, thing := range things {
					made[i] = newEvent(clinic, by, station, time.Now(), []tracker.Item{{Name: thing}}, &tracker.LabelPrinted{Copy: '1', Layout: tracker.LayoutDowntime})
					code, err := tracker.MakeCode(thing, '1')
					if err != nil {
						return err
					}
					codes = append(codes, code.String())
				}
				if err := a.recordOwn(cmd.Context(), made); err != nil {
					return err
				}
			}
			if a.json {
				return a.printJSON(map[string]any{"cases": reserved.Cases, "codes": codes})
			}
			for _, code := range codes {
				if _, err := fmt.Fprintln(a.Out, code); err != nil {
					return err
				}
			}
			return nil
		},
	}
	c.Flags().StringVar(&clinic, "clinic", "", "the `CLINIC`'s key")
	c.Flags().IntVar(&pots, "pots", 1, "`POTS` a case")
	c.Flags().IntVar(&pieces, "pieces", 0, "`PIECES` a pot with labels of their own")
	_ = c.MarkFlagRequired("clinic") // it exists: it was just added
	addBy(c, &by, &station)
	return a.withJSON(c)
}

// rollOf lists a case with its pots and pieces.
func rollOf(name tracker.Name, pots, pieces int) ([]tracker.Name, error) {
	const letters = "ABCDEFGHJKLMNPQRSTUVWXY"
	things := []tracker.Name{name}
	for i := range pots {
		pot, err := name.WithPot(string(letters[i]))
		if err != nil {
			return nil, err
		}
		things = append(things, pot)
		for n := 1; n <= pieces; n++ {
			piece, err := pot.WithPiece(n)
			if err != nil {
				return nil, err
			}
			things = append(things, piece)
		}
	}
	return things, nil
}
