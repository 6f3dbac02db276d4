package cli

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/tracker"
)

// mostReserved is the longest downtime roll, in cases.
const mostReserved = 500

// mostOnRoll is the most labels of one roll: a printer's day.
const mostOnRoll = 10_000

// reserving is one run of labels reserve.
type reserving struct {
	app         *app
	by, station string
	clinic      string
	pots        int
	pieces      int
	roll        roll
}

func (a *app) labelsReserve() *cobra.Command {
	r := &reserving{app: a, roll: roll{app: a}}
	c := &cobra.Command{
		Use: "reserve N", Short: "Reserve and draw a roll of labels for days without the daemon", Args: cobra.ExactArgs(1),
		Long: "Takes N case numbers for a downtime roll and records a label for each case, pot and piece of it, so that they are\n" +
			"known when they are scanned later. Prints the codes, one a line, and draws the labels into --out, or prints them on a\n" +
			"--printer that has downtime labels in its stock. Only the code is printed; there are places to write the patient, the\n" +
			"site and the times on, that into the fixative too. The labels of a case stand together: the case, and each pot with\n" +
			"its pieces; on sheets none begins on one page and ends on the next. When the daemon is back, `labels bind` says what\n" +
			"each used label stands for.",
		Example: "  pottrail labels reserve 20 --clinic MBY --pots 2 --pieces 4 --out roll.pdf\n" +
			"  pottrail labels reserve 20 --clinic MBY --pots 2 --out roll.pdf --sheet a4-3x8",
		RunE: func(cmd *cobra.Command, args []string) error {
			n, err := strconv.Atoi(args[0])
			if err != nil || n < 1 || n > mostReserved {
				return usage("%q: reserve 1 to %d cases", args[0], mostReserved)
			}
			return r.run(cmd.Context(), n)
		},
	}
	c.Flags().StringVar(&r.clinic, "clinic", "", "the `CLINIC`'s key")
	c.Flags().IntVar(&r.pots, "pots", 1, "`POTS` a case")
	c.Flags().IntVar(&r.pieces, "pieces", 0, "`PIECES` a pot with labels of their own")
	_ = c.MarkFlagRequired("clinic") // it exists: it was just added
	r.roll.addFlags(c)
	addBy(c, &r.by, &r.station)
	return a.withJSON(c)
}

func (r *reserving) run(ctx context.Context, n int) error {
	if err := tracker.CheckClinic(r.clinic); err != nil {
		return usage("--clinic: %w", err)
	}
	if r.pots < 0 || r.pots > 23 || r.pieces < 0 || r.pieces > tracker.MaxPiece {
		return usage("--pots is at most 23 and --pieces at most %d", tracker.MaxPiece)
	}
	if total := n * (1 + r.pots*(1+r.pieces)); total > mostOnRoll {
		return usage("%d cases with %d pots of %d pieces each are %d labels: a roll has %d at most", n, r.pots, r.pieces, total, mostOnRoll)
	}
	if err := r.roll.check(); err != nil {
		return err
	}
	if r.roll.printer != "" {
		if err := r.hasBlanks(ctx); err != nil {
			return err
		}
	}
	var reserved ask.Reserved
	if err := r.app.client().post(ctx, pathReserve, ask.ReserveRequest{Clinic: r.clinic, Count: n}, &reserved); err != nil {
		return err
	}
	cases := make([][]tracker.Code, len(reserved.Cases))
	for i, name := range reserved.Cases {
		things, err := rollOf(name, r.pots, r.pieces)
		if err != nil {
			return err
		}
		for _, thing := range things {
			code, err := tracker.MakeCode(thing, '1')
			if err != nil {
				return err
			}
			cases[i] = append(cases[i], code)
		}
	}
	record := func(ctx context.Context) error { return r.record(ctx, cases) }
	if r.roll.printer != "" {
		return r.print(ctx, cases)
	}
	if r.roll.out == "" {
		if err := record(ctx); err != nil {
			return err
		}
	} else {
		all, err := r.roll.draw(cases)
		if err != nil {
			return err
		}
		files, err := r.roll.files(all)
		if err != nil {
			return err
		}
		if err := writeAround(ctx, files, record); err != nil {
			return err
		}
	}
	return r.tell(reserved.Cases, cases)
}

// hasBlanks refuses a printer that has no labels to write on, before a number is taken.
func (r *reserving) hasBlanks(ctx context.Context) error {
	var known ask.PrintersAnswer
	if err := r.app.client().post(ctx, pathPrinters, ask.PrintersRequest{Printer: r.roll.printer}, &known); err != nil {
		return err
	}
	var stock []string
	for _, p := range known.Printers { // the one that was asked for
		stock = append(stock, p.Stock...)
	}
	if !slices.ContainsFunc(stock, func(name string) bool { return strings.HasPrefix(name, string(labels.FormDowntime)+"-") }) {
		return usage("printer %s has no labels of a downtime roll; there are %s", r.roll.printer, strings.Join(stock, ", "))
	}
	return nil
}

// print has the roll printed, some cases at once, and says what became of each label.
func (r *reserving) print(ctx context.Context, cases [][]tracker.Code) error {
	const atOnce = 400
	client := r.app.client()
	var jobs []ask.PrintJob
	for len(cases) > 0 {
		var items []string
		for n := 0; len(cases) > 0 && (n == 0 || len(items)+len(cases[0]) <= atOnce); n++ {
			for _, code := range cases[0] {
				items = append(items, string(code.Name()))
			}
			cases = cases[1:]
		}
		var printed ask.PrintAnswer
		request := ask.PrintRequest{LabelsRequest: ask.LabelsRequest{Items: items, Roll: true}, Printer: r.roll.printer, By: r.by, Station: r.station, Layout: r.roll.layout}
		if err := client.post(ctx, pathPrint, request, &printed); err != nil {
			return err
		}
		jobs = append(jobs, printed.Jobs...)
	}
	return r.app.outcomes(ctx, client, jobs)
}

// record records each label as printed on a roll, a few hundred at once.
func (r *reserving) record(ctx context.Context, cases [][]tracker.Code) error {
	const atOnce = 400
	printer := ""
	if r.roll.out != "" {
		printer = "file"
	}
	var made []*tracker.Event
	now := time.Now()
	for _, codes := range cases {
		for _, code := range codes {
			made = append(made, newEvent(r.clinic, r.by, r.station, now, []tracker.Item{{Name: code.Name()}},
				&tracker.LabelPrinted{Copy: code.Copy(), Printer: printer, Layout: tracker.LayoutDowntime}))
		}
	}
	for len(made) > 0 {
		n := min(len(made), atOnce)
		if err := r.app.recordOwn(ctx, made[:n]); err != nil {
			return err
		}
		made = made[n:]
	}
	return nil
}

func (r *reserving) tell(names []tracker.Name, cases [][]tracker.Code) error {
	var codes []string
	for _, list := range cases {
		for _, code := range list {
			codes = append(codes, code.String())
		}
	}
	if r.app.json {
		answer := map[string]any{"cases": names, "codes": codes}
		if r.roll.out != "" {
			answer["file"] = r.roll.out
		}
		return r.app.printJSON(answer)
	}
	for _, code := range codes {
		if _, err := fmt.Fprintln(r.app.Out, code); err != nil {
			return err
		}
	}
	if r.roll.out != "" {
		which := names[0].Printed()
		if len(names) > 1 {
			which += " to " + names[len(names)-1].Printed()
		}
		fmt.Fprintf(r.app.Err, "%s: %d labels in %s\n", which, len(codes), r.roll.out)
		return r.roll.paper.tellNext(r.app.Err, r.roll.written)
	}
	return nil
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
