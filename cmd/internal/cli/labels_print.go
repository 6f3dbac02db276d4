package cli

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/tracker"
)

// print has the labels printed, waits until it is known what became of each, and says it.
func (l *labelling) print(ctx context.Context, items []string) error {
	client := l.app.client()
	for _, item := range items {
		if _, err := itemArgument(item); err != nil {
			return err
		}
	}
	var printed ask.PrintAnswer
	request := ask.PrintRequest{LabelsRequest: l.copies.request(items, false), Printer: l.printer, By: l.by, Station: l.station, Layout: l.layout, Collector: l.collector}
	if err := client.post(ctx, pathPrint, request, &printed); err != nil {
		return lostAnswer(err)
	}
	things := make([]tracker.Name, len(printed.Jobs))
	for i, j := range printed.Jobs {
		things[i] = j.Name
	}
	tellRaised(l.app.Err, printed.Raised, things)
	if len(printed.Jobs) == 0 && !l.app.json {
		return l.tell(nil)
	}
	return l.app.outcomes(ctx, client, printed.Jobs)
}

// lostAnswer says what to do when the daemon went away after it had been asked to print: it may have done so. While it could
// not even be reached, nothing was asked.
func lostAnswer(err error) error {
	var call *os.SyscallError
	unreached := errors.As(err, &call) && call.Syscall == "connect" || errors.Is(err, fs.ErrNotExist) || errors.Is(err, fs.ErrPermission)
	if !errors.As(err, new(*goneError)) || unreached {
		return err
	}
	return couldNot(fmt.Errorf("what became of these labels is not known: %w", err),
		"when the daemon answers again, look at the printer and at `pottrail printers jobs --all` before printing anew")
}

// outcomes waits for what becomes of jobs and tells it, a sentence a line. Exit 1 unless every label came out, as far as its
// printer says.
func (a *app) outcomes(ctx context.Context, client *client, jobs []ask.PrintJob) error {
	ids := make([]uint64, len(jobs))
	for i, j := range jobs {
		ids[i] = j.Job
	}
	var answer ask.JobsAnswer
	if err := client.post(ctx, pathJobs, ask.JobsRequest{Jobs: ids, Wait: true}, &answer); err != nil {
		return couldNot(fmt.Errorf("given to the printer, and what became of it is not known: %w", err), "when the daemon answers again, `pottrail printers jobs` tells what waits and what must be looked for")
	}
	bad := false
	for i, j := range answer.Jobs {
		if i < len(jobs) && jobs[i].Job == j.Job { // told once, as it was printed
			j.Beside, j.StandIn = jobs[i].Beside, jobs[i].StandIn
			answer.Jobs[i] = j
		}
		bad = bad || !cameOut(j)
		if a.json {
			continue
		}
		if _, err := fmt.Fprintln(a.Out, outcome(j)); err != nil {
			return err
		}
	}
	if a.json {
		if err := a.printJSON(answer.Jobs); err != nil {
			return err
		}
	}
	if bad {
		return wrong()
	}
	return nil
}

func cameOut(j ask.PrintJob) bool { return j.State == ask.PrintSent || j.State == ask.PrintConfirmed }

// outcome says what became of a label, and what to do if it did not come out.
func outcome(j ask.PrintJob) string {
	why := ""
	if j.Problem != "" {
		why = ": " + j.Problem
	}
	switch j.State {
	case ask.PrintSent:
		return "printed " + printedWords(j)
	case ask.PrintConfirmed:
		return fmt.Sprintf("printed %s on %s, and it was seen", j.What(), j.Printer)
	case ask.PrintUnknown:
		return fmt.Sprintf("not known whether %s came out of %s%s%s\n  look there, then: pottrail printers settle %d --came-out, or --did-not", j.What(), j.Printer, why, keep(j), j.Job)
	case ask.PrintNotPrinted:
		return fmt.Sprintf("not printed: %s on %s%s%s", j.What(), j.Printer, why, anew(j))
	case ask.PrintSending:
		return fmt.Sprintf("on its way: %s to %s, job %d%s", j.What(), j.Printer, j.Job, why)
	}
	return fmt.Sprintf("waits: %s for %s%s%s\n  it comes out when the printer takes it; to take it back: pottrail printers call-off %d", j.What(), j.Printer, why, keep(j), j.Job)
}

// keep says that the copy which a reprint is to replace must not be destroyed yet.
func keep(j ask.PrintJob) string {
	if j.Replaces == 0 {
		return ""
	}
	return fmt.Sprintf("\n  it is to replace copy %s: keep that one until the new one is in your hand", j.Replaces)
}

// printedWords says what came out where and, of a reprint, what becomes of the other copies.
func printedWords(j ask.PrintJob) string {
	out := j.What() + " on " + j.Printer
	if j.Name == "" {
		return out
	}
	if _, others, ok := strings.Cut(copyWords(ask.LabelContent{Copy: j.Copy, Replaces: j.Replaces, Beside: j.Beside, StandIn: j.StandIn}), ", "); ok {
		out += ", " + others
	}
	return out
}

// anew says how a label that never came out is printed again.
func anew(j ask.PrintJob) string {
	if j.Name == "" {
		return fmt.Sprintf("\n  to try again: pottrail printers test %s", j.Printer)
	}
	return fmt.Sprintf("\n  it is recorded as spoiled; print it anew with: pottrail labels %s --printer %s", j.Name, j.Printer)
}
