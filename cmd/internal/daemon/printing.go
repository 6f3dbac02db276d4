package daemon

import (
	"fmt"
	"log/slog"
	"strings"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/cmd/internal/examine"
	"github.com/pottrail/pottrail/cmd/internal/press"
	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/labels/wire"
	"github.com/pottrail/pottrail/store/prints"
)

// printing is the label printers of a daemon and their queue on disk.
type printing struct {
	printers []config.Printer
	queue    *prints.Queue
	press    *press.Workers
	artist   *press.Artist
	log      *slog.Logger
	scans    scans
	changed  signal
	stopping chan struct{} // closed when nobody may wait for printers any longer
}

// keyPrinting is the use of the key under which labels wait for their printers.
const keyPrinting = examine.KeyPrinting

// titleCalibration is what a calibration label is called in the queue.
const titleCalibration = "calibration"

// stopWaiting lets those who wait for an outcome go with what is known.
func (p *printing) stopWaiting() { close(p.stopping) }

// named finds a printer.
func (p *printing) named(name string) (config.Printer, error) {
	for _, printer := range p.printers {
		if printer.Name == name {
			return printer, nil
		}
	}
	return config.Printer{}, &ask.Error{Kind: ask.NotFound, Code: "no-such-printer", Field: "printer", Text: fmt.Sprintf("there is no printer %q; %s", name, p.known())}
}

// known says which printers there are.
func (p *printing) known() string {
	if len(p.printers) == 0 {
		return "none is set up: add a table [printers.NAME] to the configuration file of the daemon, or draw into a file"
	}
	names := make([]string, len(p.printers))
	for i, printer := range p.printers {
		names[i] = printer.Name
	}
	return "there are " + strings.Join(names, ", ")
}

// choose finds the printer and the layout of a label: the printer that was named, or the one of the station that has a label
// for such a thing in it.
func (p *printing) choose(r ask.PrintRequest, c ask.LabelContent) (config.Printer, labels.Layout, error) {
	if r.Printer != "" {
		printer, err := p.named(r.Printer)
		if err != nil {
			return printer, labels.Layout{}, err
		}
		layout, err := press.LayoutFor(c, printer.Stock, r.Layout)
		if err != nil {
			return printer, layout, unprintable(fmt.Errorf("%s cannot be printed on %s: %w", c.Name.Printed(), printer.Name, err))
		}
		return printer, layout, nil
	}
	var there []string
	for _, printer := range p.printers {
		if !printer.Serves(r.Station) {
			continue
		}
		if layout, err := press.LayoutFor(c, printer.Stock, r.Layout); err == nil && (layout.Thing == c.Name.Thing() || c.Roll) {
			return printer, layout, nil
		}
		there = append(there, printer.Name+" ("+strings.Join(printer.StockNames(), ", ")+")")
	}
	if len(there) > 0 {
		return config.Printer{}, labels.Layout{}, &ask.Error{Kind: ask.Conflict, Code: "no-printer", Field: "station",
			Text: fmt.Sprintf("%s: no printer of station %s has a label for it; there are %s", c.Name.Printed(), r.Station, strings.Join(there, ", "))}
	}
	return config.Printer{}, labels.Layout{}, &ask.Error{Kind: ask.Conflict, Code: "no-printer", Field: "station",
		Text: fmt.Sprintf("station %s has no printer: name one; %s", r.Station, p.known())}
}

// unprintable is a label that cannot be drawn.
func unprintable(err error) error {
	return &ask.Error{Kind: ask.Invalid, Code: "cannot-be-printed", Field: "items", Text: err.Error()}
}

// draw draws all labels, each in the language of its printer.
func (p *printing) draw(r ask.PrintRequest, answer *ask.LabelsAnswer) ([]ordered, error) {
	zone, err := time.LoadLocation(answer.Zone)
	if err != nil {
		return nil, fmt.Errorf("the clinic's zone: %w", err)
	}
	now := answer.At.In(zone)
	all := make([]ordered, 0, len(answer.Labels))
	for _, c := range answer.Labels {
		printer, layout, err := p.choose(r, c)
		if err != nil {
			return nil, err
		}
		d, err := p.artist.Draw(c, press.Wish{Stock: []labels.Layout{layout}, Layout: layout.Name, DotsPerMM: printer.DotsPerMM, Collector: r.Collector, At: now})
		if err != nil {
			return nil, unprintable(err)
		}
		body, err := encode(printer, d.Picture, now)
		if err != nil {
			return nil, unprintable(fmt.Errorf("%s cannot be printed on %s: %w", c.Name.Printed(), printer.Name, err))
		}
		all = append(all, ordered{d, printer, body})
	}
	return all, nil
}

// calibration draws a printer's calibration label on its first stock.
func (p *printing) calibration(printer config.Printer) (body []byte, size labels.Layout, err error) {
	size = printer.Stock[0]
	picture, err := p.artist.Calibration(size, printer.DotsPerMM)
	if err != nil {
		return nil, size, unprintable(fmt.Errorf("the calibration label cannot be printed on %s: %w", printer.Name, err))
	}
	if body, err = encode(printer, picture, time.Now()); err != nil {
		return nil, size, unprintable(fmt.Errorf("the calibration label cannot be printed on %s: %w", printer.Name, err))
	}
	return body, size, nil
}

func encode(p config.Printer, picture *labels.Picture, at time.Time) ([]byte, error) {
	return wire.Encode(p.Language, picture, wire.Setup{GapMM: p.GapMM, Created: at})
}

// drop takes prepared jobs back whose prints were not recorded.
func (p *printing) drop(made []prepared) {
	for _, m := range made {
		if err := p.press.Drop(m.job); err != nil {
			p.log.Error("a label that was not recorded stays in the print queue, and is looked up at the next start", "job", m.job.ID, "error", err.Error())
		}
	}
}

// draft is a label for a printer, to be put on disk.
func draft(printer config.Printer, size labels.Layout, job prints.Job, body []byte) prints.Draft {
	job.Printer, job.Layout, job.Setup = printer.Name, size.Name, setupOf(printer)
	job.MediaType, job.Extension, job.WidthMM, job.HeightMM = printer.Language.MediaType(), printer.Language.Extension(), size.WidthMM, size.HeightMM
	return prints.Draft{Job: job, Body: body}
}

// prepare puts labels for printers on disk: all or none.
func (p *printing) prepare(drafts ...prints.Draft) ([]prints.Job, error) {
	made, err := p.press.PrepareAll(drafts)
	if err != nil {
		return nil, printFault(err)
	}
	return made, nil
}

// release lets jobs go to their printers, together. Their prints are in the ledger.
func (p *printing) release(jobs ...*prints.Job) error {
	if len(jobs) == 0 {
		return nil
	}
	ready := make([]prints.Job, len(jobs))
	for i, job := range jobs {
		if job.Name != "" {
			p.scans.await(job.Name, job.Copy)
		}
		ready[i] = *job
	}
	if err := p.press.QueueAll(ready); err != nil {
		return fmt.Errorf("%s is recorded as printed, and the print queue does not take it: %w", what(ready[0]), err)
	}
	for _, job := range jobs {
		job.State = prints.Queued
	}
	return nil
}

// what names a job for people.
func what(j prints.Job) string { return printJob(j).What() }
