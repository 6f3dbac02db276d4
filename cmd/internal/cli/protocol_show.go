package cli

import (
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/daemon"
	"github.com/pottrail/pottrail/cmd/internal/say"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// stoppedUsage is what --stopped means, for showing and for adopting.
const stoppedUsage = "with the daemon stopped: at the ledger of the data folder itself"

func (a *app) protocolShow() *cobra.Command {
	var clinic string
	var words, stopped bool
	c := &cobra.Command{
		Use: "show [FILE]", Short: "Print a protocol, as a file or in plain words", Args: cobra.MaximumNArgs(1),
		Long: "Prints the protocol inside the program, to start one's own from; with --clinic the one in force for a clinic, and who\n" +
			"adopted it; with FILE that one. --words says it in plain words, each number with its source.\n" +
			"Only --clinic needs a daemon; with --stopped it reads the data folder of one that is stopped.",
		Example: "  pottrail protocol show >ours.toml\n  pottrail protocol show --words ours.toml\n  pottrail protocol show --clinic MBY --words",
		RunE: func(cmd *cobra.Command, args []string) error {
			answer, err := a.protocolFor(cmd, clinic, stopped, args)
			if err != nil {
				return err
			}
			switch {
			case words:
				return a.tellProtocol(answer)
			case a.json:
				return a.printJSON(answer)
			}
			if clinic != "" {
				fmt.Fprintf(a.Err, "# %s\n", adoptedWords(answer))
			}
			_, err = io.WriteString(a.Out, answer.Text)
			return err
		},
	}
	c.Flags().StringVar(&clinic, "clinic", "", "the one in force for this `CLINIC`")
	c.Flags().BoolVar(&words, "words", false, "in plain words")
	c.Flags().BoolVar(&stopped, "stopped", false, stoppedUsage)
	return a.withJSON(c)
}

// protocolFor finds the protocol that is asked for: a file, the one in force for a clinic, or the one inside the program.
func (a *app) protocolFor(cmd *cobra.Command, clinic string, stopped bool, args []string) (*ask.ProtocolAnswer, error) {
	switch {
	case stopped && clinic == "":
		return nil, usage("--stopped goes with --clinic")
	case clinic != "" && len(args) > 0:
		return nil, usage("name a file or a clinic, not both")
	case len(args) > 0:
		rules, err := a.readRules(args[0])
		if err != nil {
			return nil, err
		}
		p := rules.Protocol()
		return &ask.ProtocolAnswer{Title: p.Title, SHA256: p.SHA256, Text: p.Text}, nil
	case clinic == "":
		p := protocol.Default()
		return &ask.ProtocolAnswer{Title: p.Title, SHA256: p.SHA256, Text: p.Text}, nil
	}
	if err := tracker.CheckClinic(clinic); err != nil {
		return nil, usage("--clinic: %w", err)
	}
	if stopped {
		answer, err := daemon.StoppedProtocol(a.options, clinic)
		if err != nil {
			return nil, couldNot(err, daemon.Hint(err))
		}
		return answer, nil
	}
	answer := &ask.ProtocolAnswer{}
	if err := a.client().post(cmd.Context(), pathProtocol, ask.ProtocolRequest{Clinic: clinic}, answer); err != nil {
		return nil, err
	}
	return answer, nil
}

// adoptedWords says under which protocol a clinic is.
func adoptedWords(p *ask.ProtocolAnswer) string {
	if p.Adopted.IsZero() {
		return fmt.Sprintf("%s adopted none: the one inside the program is in force, SHA-256 %s", p.Clinic, p.SHA256)
	}
	text := fmt.Sprintf("in force for %s, adopted %s by %s (entry %d), SHA-256 %s", p.Clinic, p.Adopted.Local().Format("Mon 2 Jan 2006 15:04"), p.By, p.Seq, p.SHA256)
	if p.Fault != "" {
		text += "\n# This release cannot use it:\n#   " + strings.ReplaceAll(p.Fault, "\n", "\n#   ")
	}
	return text
}

// tellProtocol says a protocol in plain words.
func (a *app) tellProtocol(answer *ask.ProtocolAnswer) error {
	p, err := protocol.Parse([]byte(answer.Text))
	if err != nil {
		return protocolFault("the protocol in force", err)
	}
	sections := say.Protocol(p)
	if a.json {
		return a.printJSON(struct {
			Title    string        `json:"title"`
			SHA256   string        `json:"sha256"`
			Adopted  time.Time     `json:"adopted,omitzero"`
			By       string        `json:"by,omitzero"`
			Sections []say.Section `json:"sections"`
		}{p.Title, p.SHA256, answer.Adopted, answer.By, sections})
	}
	fmt.Fprintf(a.Out, "%s\n", p.Title)
	if answer.Clinic != "" {
		fmt.Fprintf(a.Out, "%s\n", adoptedWords(answer))
	}
	for _, s := range sections {
		fmt.Fprintf(a.Out, "\n%s\n%s\n", s.Title, strings.Repeat("-", len(s.Title)))
		if s.Note != "" {
			fmt.Fprintf(a.Out, "%s\n", s.Note)
		}
		if s.Table != nil {
			a.tellTable(*s.Table)
		}
		for _, line := range s.Statements {
			end := "."
			if strings.HasSuffix(line.Says, "?") {
				end = ""
			}
			fmt.Fprintf(a.Out, "%s: %s%s\n", capital(line.About), line.Says, end)
			if line.Basis != "" {
				fmt.Fprintf(a.Out, "    %s\n", line.Basis)
			}
		}
	}
	return nil
}

func capital(text string) string {
	if text == "" || text[0] < 'a' || text[0] > 'z' {
		return text
	}
	return strings.ToUpper(text[:1]) + text[1:]
}

// tellTable prints a table whose cells wrap between words.
func (a *app) tellTable(t say.Table) {
	const width = 30
	row := func(cells []string) {
		wrapped := make([][]string, len(cells))
		lines := 1
		for i, cell := range cells {
			wrapped[i] = wrap(cell, width)
			lines = max(lines, len(wrapped[i]))
		}
		for n := range lines {
			var b strings.Builder
			for _, cell := range wrapped {
				text := ""
				if n < len(cell) {
					text = cell[n]
				}
				fmt.Fprintf(&b, "%-*s", width+2, text)
			}
			fmt.Fprintln(a.Out, strings.TrimRight(b.String(), " "))
		}
	}
	row(t.Columns)
	for _, cells := range t.Rows {
		row(cells)
	}
	fmt.Fprintln(a.Out)
}

// wrap parts words into lines of at most so many bytes; a longer word has a line to itself.
func wrap(text string, width int) []string {
	var lines []string
	for _, word := range strings.Fields(text) {
		if n := len(lines); n > 0 && len(lines[n-1])+1+len(word) <= width {
			lines[n-1] += " " + word
			continue
		}
		lines = append(lines, word)
	}
	if lines == nil {
		return []string{"–"}
	}
	return lines
}
