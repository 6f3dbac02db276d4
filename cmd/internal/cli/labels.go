package cli

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"time"

	"github.com/schollz/progressbar/v3"
	"github.com/spf13/cobra"
	"golang.org/x/term"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/press"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/tracker"
)

// labelling is one run of labels.
type labelling struct {
	app       *app
	by        string
	station   string
	out       string
	printer   string
	layout    string
	collector string
	dots      int
	preview   bool
	paper     paper
	copies    copyChoice
}

func (a *app) labels() *cobra.Command {
	l := &labelling{app: a}
	c := &cobra.Command{
		Use: "labels ITEM…", Short: "Print labels", Args: cobra.MinimumNArgs(1),
		Long: "Prints labels for cases, pots, pieces and bags on the station's printer, on the one named with --printer, or into a\n" +
			"PNG (one file a label) or a PDF (a page a label, or the places of an adhesive --sheet) with --out. Each is recorded as\n" +
			"printed. --preview draws without the symbol and records nothing. Nothing is printed by halves: a label that cannot hold\n" +
			"what it must ends the command.\n\n" +
			"With a printer it waits up to ten seconds and says what became of each label; exit 1 unless all came out.\n\n" +
			"A reprint is the next copy. It replaces the one that is about, and a scan of that one is flagged from then on; where\n" +
			"several are about, --replaces COPY or --one-more says what it is. --needed prints for a case all that the room needs\n" +
			"and that is not about yet: pots, pieces that have a label of their own, and the request form.\n\n" +
			"A label goes on the pot, not on its lid, in the room, with the patient there.",
		Example: "  pottrail labels MBY-26-00417 --needed --station room-2\n" +
			"  pottrail labels MBY-26-00417-A --printer room-2\n" +
			"  pottrail labels MBY-26-00417-A MBY-26-00417-A01 --out labels.pdf",
		RunE: func(cmd *cobra.Command, args []string) error { return l.run(cmd.Context(), args) },
	}
	c.Flags().StringVar(&l.out, "out", "", "`FILE`.png or FILE.pdf to write")
	c.Flags().BoolVar(&l.preview, "preview", false, "draw without the symbol, record nothing")
	c.Flags().StringVar(&l.layout, "layout", "", "`LAYOUT` in place of the usual one: "+strings.Join(layoutNames(), ", "))
	c.Flags().IntVar(&l.dots, "dots", 12, "the printer's `DOTS` a millimetre")
	c.Flags().StringVar(&l.collector, "collector", "", "`WHO` takes the piece, to be printed; else a line to write on")
	c.Flags().StringVar(&l.printer, "printer", "", "the `PRINTER` to print on (default: the station's own)")
	c.MarkFlagsMutuallyExclusive("out", "printer")
	c.MarkFlagsMutuallyExclusive("dots", "printer") // a printer's are in the configuration
	l.copies.addFlags(c)
	l.paper.addFlags(c)
	addBy(c, &l.by, &l.station)
	c.AddCommand(a.labelsReserve(), a.labelsBind())
	return a.withJSON(c)
}

func layoutNames() []string {
	var names []string
	for _, l := range labels.Layouts() {
		switch l.Form {
		case labels.FormPlace, labels.FormBadge, labels.FormDowntime: // not of a thing whose label is asked for by name
			continue
		}
		names = append(names, l.Name)
	}
	return names
}

// drawn is one label with its picture and its file.
type drawn struct {
	press.Drawing
	file string
	at   time.Time // when what it says was read
}

func (l *labelling) run(ctx context.Context, args []string) error {
	if l.out == "" {
		if l.preview {
			return usage("--preview is drawn into a file: name it with --out")
		}
		if err := l.paper.check(l.out); err != nil {
			return err
		}
		return l.print(ctx, args)
	}
	kind := strings.ToLower(filepath.Ext(l.out))
	if kind != ".png" && kind != ".pdf" {
		return usage("--out %s: name a file that ends in .png or .pdf", l.out)
	}
	if err := l.paper.check(l.out); err != nil {
		return err
	}
	if err := folderFor(l.out); err != nil {
		return err
	}
	for _, arg := range args {
		if _, err := itemArgument(arg); err != nil {
			return err
		}
	}
	answer, all, err := l.drawAll(ctx, args)
	if err != nil {
		return err
	}
	if len(answer.Labels) == 0 {
		return l.tell(nil)
	}
	if err := l.write(ctx, kind, all); err != nil {
		return err
	}
	return l.tell(all)
}

// drawAll draws the labels as they would be now before a copy of any is used up: a thing has 35, and what cannot be drawn
// must cost none.
func (l *labelling) drawAll(ctx context.Context, args []string) (answer ask.LabelsAnswer, all []drawn, err error) {
	if err = l.app.client().post(ctx, pathLabels, l.request(args, true), &answer); err != nil {
		return answer, nil, err
	}
	if all, err = l.draw(answer); err != nil || l.preview || len(all) == 0 {
		return answer, all, err
	}
	before := answer
	answer = ask.LabelsAnswer{}
	if err = l.app.client().post(ctx, pathLabels, l.request(args, false), &answer); err != nil {
		return answer, nil, err
	}
	if !reflect.DeepEqual(answer.Labels, before.Labels) { // something came between
		all, err = l.draw(answer)
	}
	return answer, all, err
}

// request says which labels, and who is shown them.
func (l *labelling) request(args []string, preview bool) ask.LabelsRequest {
	r := l.copies.request(args, preview)
	r.By, r.Station = l.by, l.station
	return r
}

// draw makes every picture before anything is written or recorded.
func (l *labelling) draw(answer ask.LabelsAnswer) ([]drawn, error) {
	zone, err := time.LoadLocation(answer.Zone)
	if err != nil {
		return nil, fmt.Errorf("the clinic's zone: %w", err)
	}
	artist, err := press.NewArtist()
	if err != nil {
		return nil, err
	}
	wish := press.Wish{Layout: l.layout, DotsPerMM: l.dots, Preview: l.preview, Collector: l.collector, At: answer.At.In(zone)}
	bar := l.app.progress(len(answer.Labels), "drawing labels")
	all := make([]drawn, 0, len(answer.Labels))
	for i, content := range answer.Labels {
		d, err := artist.Draw(content, wish)
		if err != nil {
			return nil, unreadable("%w", err)
		}
		all = append(all, drawn{d, fileOf(l.out, content.Name, len(answer.Labels)), answer.At})
		bar(i + 1)
	}
	return all, nil
}

// fileOf is the file of one label: the one that was named or, for several pictures, the name before its extension.
func fileOf(out string, n tracker.Name, of int) string {
	if of == 1 || strings.EqualFold(filepath.Ext(out), ".pdf") {
		return out
	}
	return strings.TrimSuffix(out, filepath.Ext(out)) + "-" + string(n) + filepath.Ext(out)
}

// write draws the files and records the labels as printed around that; a preview is no print.
func (l *labelling) write(ctx context.Context, kind string, all []drawn) error {
	files := map[string][]byte{}
	if kind == ".pdf" {
		pictures := make([]*labels.Picture, len(all))
		for i, d := range all {
			pictures[i] = d.Picture
		}
		pdf, err := l.paper.pdf(l.app, pictures)
		if err != nil {
			return err
		}
		files[l.out] = pdf
	} else {
		for _, d := range all {
			var png bytes.Buffer
			if err := labels.WritePNG(&png, d.Picture); err != nil {
				return err
			}
			files[d.file] = png.Bytes()
		}
	}
	return writeAround(ctx, files, func(ctx context.Context) error {
		if l.preview {
			return nil
		}
		return l.record(ctx, all)
	})
}

func (l *labelling) record(ctx context.Context, all []drawn) error {
	made := make([]*tracker.Event, len(all))
	for i, d := range all {
		made[i] = newEvent(d.Content.Name.Clinic(), l.by, l.station, d.at, []tracker.Item{{Name: d.Content.Name}},
			&tracker.LabelPrinted{Copy: d.Content.Copy, Replaces: d.Content.Replaces, Printer: "file", Layout: d.RecordedLayout()})
	}
	verdicts, err := l.app.send(ctx, made)
	if err != nil {
		return err
	}
	var raised []events.Brief
	for i, v := range verdicts {
		if !v.OK {
			return &exitError{code: exitWrong, err: fmt.Errorf("%s was not printed: %s", all[i].Content.Name.Printed(), v.Error.Text)}
		}
		raised = append(raised, v.Raised...)
	}
	tellRaised(l.app.Err, raised, thingsOf(made))
	return nil
}

// thingsOf are the things that events are about.
func thingsOf(made []*tracker.Event) []tracker.Name {
	var names []tracker.Name
	for _, e := range made {
		for _, item := range e.Items {
			names = append(names, item.Name)
		}
	}
	return names
}

func (l *labelling) tell(all []drawn) error {
	if l.app.json {
		type printed struct {
			Name     tracker.Name   `json:"name"`
			Copy     tracker.Copy   `json:"copy"`
			Replaces tracker.Copy   `json:"replaces,omitzero"`
			Beside   []tracker.Copy `json:"beside,omitzero"`
			StandIn  tracker.Name   `json:"stand_in,omitzero"`
			Code     string         `json:"code"`
			Layout   string         `json:"layout"`
			File     string         `json:"file"`
			Preview  bool           `json:"preview,omitempty"`
		}
		list := make([]printed, len(all))
		for i, d := range all {
			list[i] = printed{d.Content.Name, d.Content.Copy, d.Content.Replaces, d.Content.Beside, d.Content.StandIn, d.Code.String(), d.Layout.Name, d.file, l.preview}
		}
		return l.app.printJSON(list)
	}
	if len(all) == 0 {
		_, err := fmt.Fprintln(l.app.Out, "nothing to print: every label that is needed is about")
		return err
	}
	word := "printed"
	if l.preview {
		word = "preview of"
	}
	for _, d := range all {
		if _, err := fmt.Fprintf(l.app.Out, "%s %s %s (%s) in %s\n", word, d.Content.Name.Printed(), copyWords(d.Content), d.Code, d.file); err != nil {
			return err
		}
	}
	return l.paper.tellNext(l.app.Out, len(all))
}

// progress shows a bar on a terminal when there is much to do; the answer is told how much is done.
func (a *app) progress(total int, what string) func(done int) {
	const much = 20
	f, ok := a.Err.(*os.File)
	if total < much || !ok || !term.IsTerminal(int(f.Fd())) {
		return func(int) {}
	}
	bar := progressbar.NewOptions(total, progressbar.OptionSetDescription(what), progressbar.OptionSetWriter(io.Writer(f)), progressbar.OptionClearOnFinish())
	return func(done int) { _ = bar.Set(done) } // a bar that cannot be drawn holds nothing up
}
