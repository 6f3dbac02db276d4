package printers

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/pottrail/pottrail/labels/ipp"
)

// abilities is what a printer says of itself before a label is handed over.
type abilities struct {
	asker   ipp.Asker
	printer ipp.Group
}

// asked are the attributes that a label needs to know.
var asked = []string{
	"printer-state", "printer-state-reasons", "printer-is-accepting-jobs", "printer-make-and-model",
	"document-format-supported", "media-size-supported", "print-scaling-supported",
}

// abilities asks the printer, in the older version of the protocol if it does not know the newer.
func (p *printServer) abilities(ctx context.Context) (*abilities, error) {
	asker := ipp.Asker{Version: ipp.Version20, Printer: p.uri, User: user}
	for {
		answer, err := p.ask(ctx, asker.GetPrinterAttributes(requestID, asked...))
		switch {
		case err != nil:
			return nil, err
		case answer.Status() == ipp.VersionNotSupported && asker.Version != ipp.Version11:
			asker.Version = ipp.Version11
			continue
		case !answer.Status().Successful():
			return nil, statusError(answer.Status())
		}
		return &abilities{asker: asker, printer: answer.First(ipp.PrinterGroup)}, nil
	}
}

// state says what the printer does, and why if it has stopped.
func (a *abilities) state() (state ipp.PrinterState, reasons string, accepts bool) {
	n, _ := a.printer.Get("printer-state").Number()
	accepts, told := a.printer.Get("printer-is-accepting-jobs").Yes()
	return ipp.PrinterState(n), ipp.Reasons(a.printer.Get("printer-state-reasons").Words()), accepts || !told
}

// fit says why a label cannot be printed now, or never, before any of it leaves.
func (a *abilities) fit(name string, j Job) error {
	formats := a.printer.Get("document-format-supported").Words()
	if len(formats) > 0 && !slices.ContainsFunc(formats, func(f string) bool { return strings.EqualFold(f, j.MediaType) }) {
		for i, f := range formats {
			formats[i] = ipp.Clean(f)
		}
		return refused(fmt.Sprintf("%s does not take %s, but %s: choose another printer language for it", name, j.MediaType, strings.Join(formats[:min(len(formats), 8)], ", ")), nil)
	}
	switch state, reasons, accepts := a.state(); {
	case state == ipp.PrinterStopped:
		return notSent(because(name+" has stopped", reasons), nil)
	case !accepts:
		return notSent(because(name+" takes no jobs at present", reasons), nil)
	}
	return nil
}

// settings are the job's: one label, one side, not scaled, on stock of the label's size.
func (a *abilities) settings(j Job) []ipp.Attribute {
	out := []ipp.Attribute{ipp.Attr("copies", ipp.Integer(1)), ipp.Attr("sides", ipp.Keyword("one-sided"))}
	if a.printer.Get("print-scaling-supported").Has("none") {
		out = append(out, ipp.Attr("print-scaling", ipp.Keyword("none")))
	}
	if w, h, ok := a.size(j.WidthMM, j.HeightMM); ok {
		out = append(out, ipp.MediaSize(w, h))
	}
	return out
}

// sameSize is how far two sizes of one label may differ, in hundredths of a millimetre. No source: printers round inches.
const sameSize = 20

// size finds a label's size among those that the printer names, in millimetres. A printer that does not name it would
// refuse the label for it; without, it prints on what it is loaded with.
func (a *abilities) size(widthMM, heightMM float64) (w, h float64, ok bool) {
	for _, v := range a.printer.Get("media-size-supported").Values {
		c, nested := v.(ipp.Collection)
		if !nested {
			continue
		}
		w, fits := side(c.Get("x-dimension"), widthMM)
		h, too := side(c.Get("y-dimension"), heightMM)
		if fits && too {
			return w, h, true
		}
	}
	return 0, 0, false
}

// side finds a length among those that the printer names: one, or all between two.
func side(a ipp.Attribute, mm float64) (named float64, ok bool) {
	want := mm * 100
	for _, v := range a.Values {
		switch v := v.(type) {
		case ipp.Integer:
			if math.Abs(float64(v)-want) <= sameSize {
				return float64(v) / 100, true
			}
		case ipp.Range:
			if want >= float64(v.Lower) && want <= float64(v.Upper) {
				return mm, true
			}
		}
	}
	return 0, false
}

// because adds reasons to a sentence.
func because(what, reasons string) string {
	if reasons == "" {
		return what
	}
	return what + ": " + reasons
}
