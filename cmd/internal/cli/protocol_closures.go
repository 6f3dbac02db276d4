package cli

import (
	"fmt"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"unicode"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/ics"
)

func (a *app) protocolClosures() *cobra.Command {
	var calendar string
	var through int
	c := &cobra.Command{
		Use: "closures FILE", Short: "Turn a calendar file into closed days of a protocol", Args: cobra.ExactArgs(1),
		Long: `Reads the all-day events of a calendar file (.ics) and prints lines for a protocol file: a table
calendars.KEY.imported with those days as closed. Put them at the end of the file that has calendars.KEY, in place of what
was imported there before, then check the file and adopt it. Days of the region and of closed stay as they are.

An event of several days closes each of them; one that repeats on the same date every year is followed up to the year of
--through. An event with a time of day closes no whole day: it is refused with its line, and belongs into the hours of that
date. What closes nothing, as a cancelled event, is told. Needs no daemon.`,
		Example: "  pottrail protocol closures trust.ics --calendar england-wales >>ours.toml\n  pottrail protocol check ours.toml",
		RunE: func(_ *cobra.Command, args []string) error {
			if !tableKey.MatchString(calendar) {
				return usage("--calendar %q: it is the key of a calendar in the protocol, as england-wales", calendar)
			}
			in, err := a.openInput(args[0])
			if err != nil {
				return err
			}
			defer in.Close()
			found, err := ics.Read(in, through)
			if err != nil {
				return protocolFault(args[0], err)
			}
			if len(found.Closed) == 0 {
				return unreadable("%s closes no day%s", args[0], leftOut(found.LeftOut))
			}
			if text := leftOut(found.LeftOut); text != "" {
				fmt.Fprintf(a.Err, "pottrail: %s: left out%s\n", args[0], text)
			}
			source := fmt.Sprintf("%s, %s", plainName(args[0]), countOf(len(found.Closed), "day"))
			if a.json {
				return a.printJSON(struct {
					Calendar string        `json:"calendar"`
					Closed   []string      `json:"closed"`
					Source   string        `json:"source"`
					LeftOut  []ics.LeftOut `json:"left_out,omitempty"`
				}{calendar, found.Closed, source, found.LeftOut})
			}
			_, err = fmt.Fprintf(a.Out, "\n[calendars.%s.imported]\nsource = %s\nclosed = [\n%s]\n", calendar, tomlText(source), tomlList(found.Closed))
			return err
		},
	}
	c.Flags().StringVar(&calendar, "calendar", "", "the calendar's `KEY` in the protocol")
	c.Flags().IntVar(&through, "through", 0, "the last `YEAR` of what repeats every year without an end")
	_ = c.MarkFlagRequired("calendar") // it exists: it was just added
	return a.withJSON(c)
}

// tableKey is how keys of a protocol's tables are written.
var tableKey = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,39}$`)

// leftOut tells what closed nothing, one a line.
func leftOut(list []ics.LeftOut) string {
	var text strings.Builder
	for _, one := range list {
		fmt.Fprintf(&text, "\n  line %d: %s: %s", one.Line, one.Title, one.Why)
	}
	return text.String()
}

// plainName is a file's name without its folders, which say nothing elsewhere.
func plainName(file string) string {
	if file == "-" {
		return "standard input"
	}
	name := []rune(filepath.Base(file))
	return string(name[:min(len(name), 80)])
}

func countOf(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return strconv.Itoa(n) + " " + what + "s"
}

// tomlText writes a text as a TOML string; what cannot be printed becomes a question mark.
func tomlText(text string) string {
	var out strings.Builder
	out.WriteByte('"')
	for _, r := range text {
		switch {
		case r == '"' || r == '\\':
			out.WriteByte('\\')
			out.WriteRune(r)
		case !unicode.IsPrint(r) || r == unicode.ReplacementChar:
			out.WriteByte('?')
		default:
			out.WriteRune(r)
		}
	}
	return out.String() + `"`
}

// tomlList writes days as lines of a TOML list, each year on lines of its own.
func tomlList(days []string) string {
	var out strings.Builder
	for i, day := range days {
		switch {
		case i == 0:
			out.WriteString("  ")
		case day[:4] != days[i-1][:4]:
			out.WriteString("\n  ")
		default:
			out.WriteByte(' ')
		}
		fmt.Fprintf(&out, "%q,", day)
	}
	return out.String() + "\n"
}
