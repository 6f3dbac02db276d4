package cli

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"
	"unicode"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/say"
	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/tracker"
)

// binding is one run of labels bind.
type binding struct {
	app     *app
	by      string
	station string
	to      string
	in      *bufio.Reader
	flags   int
	failed  int
}

func (a *app) labelsBind() *cobra.Command {
	b := &binding{app: a}
	c := &cobra.Command{
		Use: "bind [CODE]", Short: "Say what a label of a downtime roll stands for", Args: cobra.MaximumNArgs(1),
		Long: "One scan and one pick. Takes a label of a downtime roll, as an argument or at a prompt, and lists what it may stand\n" +
			"for: things of the same sort in open cases of that clinic, of recent days, whose own label is not in use, the most\n" +
			"likely first, with name and birth date to tell patients apart. A number picks; so does a scan of the thing's own\n" +
			"label, or its name typed. From then on all that was scanned on the label, and will be, counts for that thing. The\n" +
			"label of a whole case takes those of its pots and pieces along.\n\n" +
			"--to says it without a list, for scripts. Without an argument it goes on with the next label until an empty line.\n" +
			"Exit 1 when something was flagged, refused, or not picked.",
		Example: "  pottrail labels bind MBY2600900A001W\n  pottrail labels bind MBY-26-00900-A --to MBY-26-00417-A --by nurse.osei",
		RunE:    func(cmd *cobra.Command, args []string) error { return b.run(cmd.Context(), args) },
	}
	c.Flags().StringVar(&b.to, "to", "", "the `NAME` of what it stands for")
	addBy(c, &b.by, &b.station)
	return a.withJSON(c)
}

func (b *binding) run(ctx context.Context, args []string) error {
	b.in = bufio.NewReader(b.app.In)
	if len(args) == 1 {
		if err := b.one(ctx, args[0]); err != nil {
			return err
		}
	} else {
		if b.to != "" {
			return usage("--to: say which label, as an argument")
		}
		for {
			text, err := b.read("scan the downtime label> ")
			if err != nil {
				return err
			}
			if text == "" {
				break
			}
			if err := b.one(ctx, text); err != nil {
				if !isUnreadable(err) { // a slip of one label does not end the work on the others
					return err
				}
				b.failed++
				fmt.Fprintf(b.app.Err, "%s%v\n", bell, err)
			}
		}
	}
	if b.flags+b.failed > 0 {
		return wrong()
	}
	return nil
}

// read reads one line, with a prompt when a person is there; "" at the end.
func (b *binding) read(prompt string) (string, error) { return b.app.readLine(b.in, prompt) }

// atTerminal reports whether a person types what a command reads.
func (a *app) atTerminal() bool {
	f, ok := a.In.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// readLine reads one line of standard input, with a prompt when a person is there; "" at the end.
func (a *app) readLine(in *bufio.Reader, prompt string) (string, error) {
	if a.atTerminal() {
		fmt.Fprint(a.Err, prompt)
	}
	line, err := in.ReadString('\n')
	if err != nil && !errors.Is(err, io.EOF) {
		return "", unreadable("standard input: %w", err)
	}
	return strings.TrimSpace(line), nil
}

// one binds one label.
func (b *binding) one(ctx context.Context, text string) error {
	label, err := readItem(text)
	if err != nil {
		return err
	}
	to := b.to
	if to == "" {
		var answer ask.BindAnswer
		if err := b.app.client().post(ctx, pathBind, ask.BindRequest{Label: label.String(), By: b.by, Station: b.station}, &answer); err != nil {
			return err
		}
		if to, err = b.pick(answer); err != nil {
			return err
		}
		if to == "" {
			b.failed++
			fmt.Fprintf(b.app.Err, "%s stands for nothing yet\n", answer.Label.Printed())
			return nil
		}
	} else if _, err := readItem(to); err != nil {
		return err
	}
	var answer ask.BindAnswer
	if err := b.app.client().post(ctx, pathBind, ask.BindRequest{Label: label.String(), To: to, By: b.by, Station: b.station}, &answer); err != nil {
		return err
	}
	return b.tell(answer)
}

// readItem reads a scan or a typed name of a thing.
func readItem(text string) (tracker.Item, error) {
	read, err := labels.Read(text)
	if err != nil {
		return tracker.Item{}, unreadable("%w", err)
	}
	if read.Kind == labels.ScanPlace || read.Kind == labels.ScanBadge {
		return tracker.Item{}, unreadable("this is the label of a place or a badge: scan that of a pot, a piece or a case")
	}
	return read.Item, nil
}

// pick lists what a label may stand for and reads which it is. The list shows names, so it goes to where people look and not
// to where data go.
func (b *binding) pick(answer ask.BindAnswer) (string, error) {
	zone, err := time.LoadLocation(answer.Zone)
	if err != nil {
		return "", fmt.Errorf("the clinic's zone: %w", err)
	}
	out := b.app.Err
	fmt.Fprintf(out, "%s, %s of a downtime roll, %s\n", answer.Label.Printed(), answer.Label.Thing(), scansWord(answer, zone))
	if len(answer.Candidates) == 0 {
		fmt.Fprintf(out, "There is no %s in an open case of recent days that wants a label. Open the case, or name the thing.\n", answer.Label.Thing())
	}
	table := tabwriter.NewWriter(out, 0, 8, 2, ' ', 0)
	for i, c := range answer.Candidates {
		fmt.Fprintf(table, "%4d\t%s\t%s\t%s\t%s\n", i+1, c.Name.Printed(), patientWord(c.Patient), siteWord(c), say.Instant(c.When, zone, time.Now())+roomWord(c.Room))
	}
	if err := table.Flush(); err != nil {
		return "", err
	}
	if answer.More > 0 {
		fmt.Fprintf(out, "     and %s less likely: scan the label or type the name\n", say.Count(answer.More, "other"))
	}
	text, err := b.read("which one? number, scan or name; empty for none> ")
	if err != nil || text == "" {
		return "", err
	}
	// A longer number picks nothing: it is no more repeated than any other label that is not ours.
	if n, err := strconv.Atoi(text); err == nil && len(text) <= 3 {
		if n < 1 || n > len(answer.Candidates) {
			return "", unreadable("%d is not in the list; nothing was bound", n)
		}
		return string(answer.Candidates[n-1].Name), nil
	}
	item, err := readItem(text)
	if err != nil {
		return "", err
	}
	return item.String(), nil
}

func scansWord(answer ask.BindAnswer, zone *time.Location) string {
	if answer.Scans == 0 {
		return "never scanned so far"
	}
	return fmt.Sprintf("scanned %s, first %s", times(answer.Scans), say.Instant(answer.First, zone, time.Now()))
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

// patientWord is what tells one patient from another: the name as labels write it, and the birth date.
func patientWord(p ask.Patient) string {
	if p.Family == "" {
		return "patient not known here"
	}
	born := p.BirthDate
	if day, err := time.Parse(time.DateOnly, p.BirthDate); err == nil {
		born = day.Format("2 Jan 2006")
	}
	name := strings.ToUpper(p.Family)
	if p.Given != "" {
		name += ", " + p.Given
	}
	return plain(name + ", born " + born)
}

func siteWord(c ask.BindCandidate) string {
	var words []string
	for _, word := range []string{strings.TrimSpace(c.Side + " " + c.Organ), c.Position, c.Medium} {
		if word != "" {
			words = append(words, word)
		}
	}
	return plain(strings.Join(words, ", "))
}

func roomWord(room string) string {
	if room == "" {
		return ""
	}
	return ", " + plain(room)
}

// plain takes out what would steer a terminal, or turn the words beside it round.
func plain(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp) {
			return '?'
		}
		return r
	}, text)
}

// tell says what the label stands for now, and what that brought to light.
func (b *binding) tell(answer ask.BindAnswer) error {
	b.flags += len(answer.Raised)
	if b.app.json {
		return b.app.printJSON(answer)
	}
	out := b.app.Out
	fmt.Fprintf(out, "%s stands for %s: what was scanned on it, and will be, counts for that\n", answer.Label.Printed(), answer.To.Printed())
	if answer.Note != "" {
		fmt.Fprintf(out, "  %s\n", answer.Note)
	}
	for _, f := range answer.Raised {
		fmt.Fprintf(out, "%s  %s\n", bell, flagLine(f.Severity, f.Text, f.Remedy))
	}
	for _, f := range answer.Cleared {
		fmt.Fprintf(out, "  cleared: %s\n", f.Text)
	}
	return nil
}
