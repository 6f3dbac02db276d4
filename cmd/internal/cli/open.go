package cli

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"strings"

	"github.com/go-json-experiment/json"
	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/tracker"
)

func (a *app) open() *cobra.Command {
	var by, station, clinic, again string
	c := &cobra.Command{
		Use: "open [FILE]", Short: "Open cases", Args: cobra.MaximumNArgs(1),
		Long: "Opens a case from JSON, or a whole clinic list from CSV, from a file or standard input: the patient goes into the\n" +
			"sealed people file, the case gets its number, and the pots and labels that it needs are printed.\n\n" +
			"JSON: clinic, patient (family, given, birth_date, record_number, national_number), national_kind (nhs, other; if\n" +
			"left out, ten digits at a clinic in the United Kingdom are an NHS number), priority, room, planned,\n" +
			"lesions (organ, side, position, target, imaging, studies), and pots if they are not to be worked out from the\n" +
			"studies; or an array of such. CSV: a heading line with " + strings.Join(csvColumns, ", ") + ";\n" +
			"studies are parted by spaces; lines with the same order number are lesions of one case.\n\n" +
			"Exit 1 when one was refused; the others are opened.",
		Example: "  pottrail open clinic-list.csv --clinic MBY --by clerk.ann\n  pottrail open case.json --json",
		RunE: func(cmd *cobra.Command, args []string) error {
			in, err := a.openInput(append(args, "")[0])
			if err != nil {
				return err
			}
			defer in.Close()
			data, err := io.ReadAll(io.LimitReader(in, 16<<20))
			if err != nil {
				return unreadable("%w", err)
			}
			requests, err := readOpenings(data)
			if err != nil {
				return err
			}
			if again != "" {
				name, err := tracker.ParseItem(again)
				if err != nil || len(requests) != 1 {
					return usage("--case names the one case that is opened, as MBY-26-00417")
				}
				requests[0].Case = name.Name
			}
			return a.openAll(cmd.Context(), requests, clinic, by, station)
		},
	}
	c.Flags().StringVar(&clinic, "clinic", "", "the `CLINIC`'s key, where a case names none")
	c.Flags().StringVar(&again, "case", "", "the number on the labels of a `CASE` that was opened after a backup which was put back; all others are given one")
	addBy(c, &by, &station)
	return a.withJSON(c)
}

// readOpenings reads one case, an array of them, or a clinic list.
func readOpenings(data []byte) ([]ask.OpenRequest, error) {
	trimmed := bytes.TrimSpace(bytes.TrimPrefix(data, []byte("\ufeff")))
	if len(trimmed) == 0 {
		return nil, unreadable("there is nothing to read: give a case as JSON or a clinic list as CSV")
	}
	switch trimmed[0] {
	case '{':
		var one ask.OpenRequest
		if err := json.Unmarshal(trimmed, &one, json.RejectUnknownMembers(true)); err != nil {
			return nil, unreadable("the case cannot be read: %s", ask.Unreadable(err))
		}
		return []ask.OpenRequest{one}, nil
	case '[':
		var many []ask.OpenRequest
		if err := json.Unmarshal(trimmed, &many, json.RejectUnknownMembers(true)); err != nil {
			return nil, unreadable("the cases cannot be read: %s", ask.Unreadable(err))
		}
		return many, nil
	}
	return readClinicList(trimmed)
}

func (a *app) openAll(ctx context.Context, requests []ask.OpenRequest, clinic, by, station string) error {
	refused := 0
	for i, request := range requests {
		if request.Clinic == "" {
			request.Clinic = clinic
		}
		if request.By == "" {
			request.By = by
		}
		if request.Station == "" {
			request.Station = station
		}
		var opened ask.Opened
		if err := a.client().post(ctx, pathOpen, request, &opened); err != nil {
			if len(requests) == 1 || !isUnreadable(err) {
				return err
			}
			refused++
			fmt.Fprintf(a.Err, "case %d of the list: %v\n", i+1, err)
			continue
		}
		if a.json {
			if err := a.printJSON(opened); err != nil {
				return err
			}
			continue
		}
		a.tellOpened(opened)
	}
	if refused > 0 {
		return wrong()
	}
	return nil
}

func (a *app) tellOpened(o ask.Opened) {
	fmt.Fprintf(a.Out, "%s opened\n", o.Case.Printed())
	for _, p := range o.Pots {
		fmt.Fprintf(a.Out, "  pot %s  %s for %s", p.Pot, p.Medium, strings.Join(p.Studies, ", "))
		if p.Pieces > 0 {
			fmt.Fprintf(a.Out, ", %d planned", p.Pieces)
		}
		if why := o.Why[p.Pot]; why != "" {
			fmt.Fprintf(a.Out, " (%s)", why)
		}
		fmt.Fprintln(a.Out)
	}
	names := make([]string, len(o.Labels))
	for i, n := range o.Labels {
		names[i] = string(n)
	}
	fmt.Fprintf(a.Out, "  labels: %s, and the request form\n", strings.Join(names, " "))
	fmt.Fprintf(a.Out, "  in the room, with the patient there: pottrail labels %s --needed --out labels.pdf\n", o.Case)
	if o.Unprintable != "" {
		fmt.Fprintf(a.Err, "NO LABEL: %s\n  Open the case anew with that put right before the patient comes, and close this one.\n", o.Unprintable)
	}
	for _, f := range o.Raised {
		fmt.Fprintf(a.Out, "  %s\n", flagLine(f.Severity, f.Text, f.Remedy))
	}
}

// csvColumns are the headings that a clinic list may have.
var csvColumns = []string{"clinic", "family", "given", "birth_date", "record_number", "national_number", "national_kind", "priority", "room",
	"planned", "organ", "side", "position", "target", "imaging", "studies", "order", "clinical"}
