package cli

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/say"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/tracker"
)

// bell is what a terminal rings at.
const bell = "\a"

// scanning is one run of scan: the step, and what goes into its events.
type scanning struct {
	app     *app
	step    *step
	by      string
	station string
	data    string
	at      string
	fill    filling
	prompt  bool
	flags   int
	refused int

	patience time.Duration             // how long the daemon may be gone
	waiting  map[string]*tracker.Event // what nobody confirmed, by what was scanned
}

func (a *app) scan() *cobra.Command {
	s := &scanning{app: a, patience: patience}
	var word string
	c := &cobra.Command{
		Use: "scan [CODE…]", Short: "Record a step for what is scanned", Args: cobra.ArbitraryArgs,
		Long: "Takes codes or names as arguments, lines of standard input, or at a prompt for a scanner that types, and records\n" +
			"one step for each. It answers in words and rings the bell on a flag. Without --step it says what a code is and\n" +
			"records nothing. A scanned place (P:hatch) or badge (B:porter.lund) sets the place or who.\n\n" +
			"Steps:\n" + stepsHelp() + "\n" +
			"Any other kind of event goes with --step KIND and --facts JSON.\n\n" +
			"Exit 1 when a scan raised a flag or was refused.",
		Example: "  pottrail scan --step custody --place hatch --by porter.lund MBY2600417A001Y\n" +
			"  pottrail scan --step bagged --bag MBY-26-00431-Z <codes.txt",
		RunE: func(cmd *cobra.Command, args []string) error {
			if word != "" {
				var err error
				if s.step, err = findStep(word); err != nil {
					return err
				}
			}
			return s.run(cmd.Context(), args)
		},
	}
	c.Flags().StringVar(&word, "step", "", "the `STEP` to record")
	c.Flags().StringVar(&s.data, "facts", "", "what the event says, as `JSON`, in place of the options below")
	c.Flags().StringVar(&s.at, "at", "", "when it happened, a `TIME` with its offset (default: now)")
	addBy(c, &s.by, &s.station)
	s.fill.addFlags(c)
	return a.withJSON(c)
}

func (s *scanning) run(ctx context.Context, args []string) error {
	for _, arg := range args {
		if err := s.one(ctx, arg); err != nil {
			return err
		}
	}
	if len(args) == 0 {
		if err := s.lines(ctx); err != nil {
			return err
		}
	}
	if s.flags > 0 || s.refused > 0 {
		return wrong()
	}
	return nil
}

// lines reads scans from standard input, with a prompt when a person is there.
func (s *scanning) lines(ctx context.Context) error {
	if f, ok := s.app.In.(*os.File); ok {
		s.prompt = term.IsTerminal(int(f.Fd()))
	}
	in := bufio.NewReader(s.app.In)
	for {
		if s.prompt {
			fmt.Fprint(s.app.Err, "scan> ")
		}
		line, err := nextScan(in)
		if text := strings.TrimSpace(line); text != "" {
			if err := s.one(ctx, text); err != nil {
				return err
			}
		}
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			return unreadable("standard input: %w", err)
		case ctx.Err() != nil:
			return couldNot(ctx.Err(), "")
		}
	}
}

// nextScan reads up to the end of a line: a line feed, or the carriage return alone that a scanner on a serial line sends.
// Of a line without end only so much is kept as labels.Read looks at, and some more, so that it sees that there was more.
func nextScan(in *bufio.Reader) (string, error) {
	const longest = 4096
	var line []byte
	for {
		c, err := in.ReadByte()
		if err != nil {
			return string(line), err
		}
		if c == '\n' || c == '\r' {
			return string(line), nil
		}
		if len(line) < longest {
			line = append(line, c)
		}
	}
}

// refuse says why a scan was not taken. The sentence holds nothing of a label that is not ours, as it may name a patient.
func (s *scanning) refuse(err error) {
	s.refused++
	out, what := s.app.Out, ""
	if s.app.json {
		out = s.app.Err // standard output is for JSON
	}
	if s.step != nil {
		what = "NOT RECORDED: "
	}
	fmt.Fprintf(out, "%s%s%s\n", bell, what, err)
}

// heed tells that a place or badge was taken, for what is scanned next.
func (s *scanning) heed(what, key string) {
	out := s.app.Out
	if s.app.json {
		out = s.app.Err
	}
	fmt.Fprintf(out, "%s: %s\n", what, key)
}

// one takes one scan. A code that cannot be read is told and the next one may come; only a daemon that is gone ends it.
func (s *scanning) one(ctx context.Context, text string) error {
	read, err := labels.Read(text)
	if err != nil {
		s.refuse(err)
		return nil
	}
	switch {
	case read.Kind == labels.ScanPlace:
		s.fill.place = read.Key
		s.heed("place", read.Key)
		return nil
	case read.Kind == labels.ScanBadge:
		s.by = read.Key
		s.heed("by", read.Key)
		return nil
	case s.step == nil:
		return s.look(ctx, read.Item)
	}
	if s.step.word == stepTaken && s.fill.lesion == "" {
		s.fill.lesion = s.lesionOf(ctx, read.Item)
		defer func() { s.fill.lesion = "" }()
	}
	e, err := s.event(read.Item)
	if err != nil {
		return err
	}
	e = s.again(e)
	verdict, err := s.confirmed(ctx, e)
	if errors.As(err, new(*unconfirmedError)) {
		return s.notConfirmed(read.Item, err)
	}
	if err != nil {
		return err
	}
	if err := s.tell(e, read.Item, verdict); err != nil {
		return err
	}
	s.tellLost(ctx, read.Item, verdict)
	return nil
}

// lesionOf is the lesion that a piece's pot is planned for, or "" when nobody planned it: the lesion of a piece is not guessed
// where it can be known.
func (s *scanning) lesionOf(ctx context.Context, item tracker.Item) string {
	var answer ask.PotAnswer
	if item.Name.Thing() != tracker.ThingPiece || s.app.client().question(ctx, "pot", ask.Request{Name: string(item.Name.Pot())}, &answer) != nil ||
		answer.Pot == nil {
		return ""
	}
	return answer.Pot.Lesion
}

// event makes the step's event for a scanned thing.
func (s *scanning) event(item tracker.Item) (*tracker.Event, error) {
	at := time.Now()
	if s.at != "" {
		var err error
		if at, err = timeOption("--at", s.at); err != nil {
			return nil, err
		}
	}
	if s.data != "" {
		return s.generic(item, at)
	}
	fact, on, err := s.step.make(&s.fill, item)
	if err != nil {
		return nil, usage("--step %s: %w", s.step.word, err)
	}
	e := newEvent(on.Name.Clinic(), s.by, s.station, at, []tracker.Item{on}, fact)
	e.Entered = tracker.EnteredScan
	if item.Copy == 0 {
		e.Entered = tracker.EnteredTyped
	}
	return e, nil
}

// tell answers in words, and rings the bell when something is wrong.
func (s *scanning) tell(e *tracker.Event, item tracker.Item, v events.Verdict) error {
	if !v.OK {
		s.refused++
	}
	s.flags += len(v.Raised)
	if s.app.json {
		return s.app.printJSON(v)
	}
	out := s.app.Out
	if !v.OK {
		_, err := fmt.Fprintf(out, "%sNOT RECORDED %s: %s\n", bell, item.Name.Printed(), v.Error.Text)
		return err
	}
	fmt.Fprintf(out, "%s: %s\n", item.Name.Printed(), say.Event(e, time.Local))
	for _, f := range v.Raised {
		fmt.Fprintf(out, "%s  %s\n", bell, flagLine(f.Severity, f.Text, f.Remedy))
	}
	for _, f := range v.Cleared {
		fmt.Fprintf(out, "  cleared: %s\n", f.Text)
	}
	return nil
}

// look says what a code is, and records nothing.
func (s *scanning) look(ctx context.Context, item tracker.Item) error {
	var known ask.CodesAnswer
	if err := s.app.client().question(ctx, "codes", ask.Request{Name: item.String()}, &known); err != nil {
		return err
	}
	if s.app.json {
		return s.app.printJSON(known)
	}
	words := []string{fmt.Sprintf("%s is a %s", known.Printed, known.Thing)}
	switch {
	case !known.PutBack.IsZero():
		s.flags++
		words = append(words, lostWords(known))
	case !known.Known:
		s.flags++
		words = append(words, "nobody has made it known here: keep it and ask the coordinator")
	case known.Superseded:
		s.flags++
		words = append(words, fmt.Sprintf("this is copy %s, replaced by copy %s: an old label is still on something", known.Copy, known.ReplacedBy))
	case known.Destroyed:
		s.flags++
		words = append(words, fmt.Sprintf("this is copy %s, which is on record as destroyed: look at what it is on", known.Copy))
	case known.Roll && known.For != "":
		words = append(words, "of a downtime roll, stands for "+known.For.Printed())
	case known.Roll:
		words = append(words, "of a downtime roll, stands for nothing yet (pottrail labels bind says what for)")
	default:
		words = append(words, string(known.Step))
	}
	if known.Place != "" {
		words = append(words, fmt.Sprintf("at %s with %s since %s", known.Place, known.Holder, say.Instant(known.Since, time.Local, time.Now())))
	}
	if known.Worst != "" {
		words = append(words, "flagged "+strings.ToUpper(string(known.Worst)))
	}
	ring := ""
	if !known.Known || !known.PutBack.IsZero() || known.Superseded || known.Destroyed || known.Worst == tracker.Now {
		ring = bell
	}
	_, err := fmt.Fprintf(s.app.Out, "%s%s\n", ring, strings.Join(words, ", "))
	return err
}

// lostWords says what to do with a label that may have been printed after the backup from which the record was put back.
func lostWords(known ask.CodesAnswer) string {
	since := "the record was put back from a backup of " + say.Instant(known.PutBack, time.Local, time.Now()) + ", "
	switch {
	case !known.Known && known.Case == "":
		return since + "and this bag may have been packed after that: keep it, look what is in it, and record again that it was packed"
	case !known.Known:
		return since + "and this may have been printed after that: keep it, open " + known.Case.Printed() + " again from paper under this very number, and scan it again"
	}
	return fmt.Sprintf("%sand copy %s may have been printed after that: look for older copies of this label, destroy them and record them as spoiled", since, known.Copy)
}

// tellLost adds to what was recorded that its label may be from after a backup that was put back. What it asks is no more than
// advice: without an answer nothing is said.
func (s *scanning) tellLost(ctx context.Context, item tracker.Item, v events.Verdict) {
	var known ask.CodesAnswer
	if !v.OK || s.app.json || s.app.client().question(ctx, "codes", ask.Request{Name: item.String()}, &known) != nil || known.PutBack.IsZero() {
		return
	}
	fmt.Fprintf(s.app.Out, "%s  %s\n", bell, lostWords(known))
}
