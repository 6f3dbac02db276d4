package daemon

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"sync"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/cmd/internal/press"
	"github.com/pottrail/pottrail/labels/printers"
	"github.com/pottrail/pottrail/store/prints"
	"github.com/pottrail/pottrail/tracker"
)

// openPrinting opens the print queue, settles what was under way when the daemon ended, and starts the printers.
func (d *running) openPrinting() error {
	p := &printing{printers: d.o.Printers, log: d.o.Log, scans: newScans(), stopping: make(chan struct{})}
	var err error
	if d.o.Demo != nil && len(p.printers) == 0 {
		if p.printers, err = d.o.Demo.printers(d.folder); err != nil {
			return err
		}
	}
	for _, warning := range d.o.Warnings() {
		d.o.Log.Warn(warning)
	}
	if p.artist, err = press.NewArtist(); err != nil {
		return err
	}
	if p.queue, err = d.openQueue(); err != nil {
		return err
	}
	p.queue.OnBroken(d.breakDown)
	d.onStop(func() { d.closing("print queue", p.queue.Close) })
	d.service.printing = p
	if err := p.resume(d.service); err != nil { // before anything is sent: what was scanned must not come out again
		return fmt.Errorf("the print queue: %w", err)
	}
	if err := d.startPress(); err != nil {
		return fmt.Errorf("printing: %w", err)
	}
	recorded := p.scans.recorded
	d.service.intake.recorded.Store(&recorded)
	d.service.counts.registry.MustRegister(printCollector{p})
	return nil
}

// startPress starts a worker a printer, and one that hears of first scans.
func (d *running) startPress() error {
	p := d.service.printing
	ctx, cancel := context.WithCancel(context.Background())
	asked, err := p.askedOf()
	if err != nil {
		cancel()
		return err
	}
	o := press.Options{Queue: p.queue, Broken: d.breakDown, Log: d.o.Log, Changed: p.changed.tell,
		Recorded: func(id tracker.EventID) (bool, error) { return d.service.hasEvent(asked[id], id) },
		Unfit:    p.unfit,
		Settled:  func(job prints.Job) error { return d.service.accountFor(ctx, job) }}
	for _, printer := range p.printers {
		sender, err := printers.Open(printer.Way, printer.To)
		if err != nil {
			cancel()
			return fmt.Errorf("printer %s: %w", printer.Name, err)
		}
		o.Printers = append(o.Printers, press.Printer{Name: printer.Name, Sender: sender})
	}
	if p.press, err = press.Start(ctx, o); err != nil {
		cancel()
		return err
	}
	var following sync.WaitGroup
	following.Go(func() { p.follow(ctx) })
	d.onStop(func() { cancel(); p.press.Wait(); following.Wait() })
	return nil
}

// unfit says why a label that was drawn before a change of the configuration must not go to the printer now: commands of one
// language are a roll of rubbish in another.
func (p *printing) unfit(j prints.Job) string {
	printer, err := p.named(j.Printer)
	switch {
	case err != nil:
		return err.Error()
	case j.Setup != setupOf(printer):
		return "printer " + printer.Name + " was set up anew since this label was drawn: print it again"
	case !slices.Contains(printer.StockNames(), j.Layout):
		return "printer " + printer.Name + " no longer has labels of this layout in it: print it again"
	}
	return ""
}

// setupOf is what the bytes for a printer hang on.
func setupOf(p config.Printer) string {
	return fmt.Sprintf("%s, %d dots/mm, gap %g mm", p.Language, p.DotsPerMM, p.GapMM)
}

// askedOf says of which things the prints are that were prepared when the daemon ended.
func (p *printing) askedOf() (map[tracker.EventID]tracker.Name, error) {
	prepared, err := p.queue.Prepared()
	of := make(map[tracker.EventID]tracker.Name, len(prepared))
	for _, job := range prepared {
		of[job.Event] = job.Name
	}
	return of, err
}

// openQueue opens the print queue under a key that hangs on the people file's. Without that key what waited can be read by
// nobody, and is not printed.
func (d *running) openQueue() (*prints.Queue, error) {
	keys, err := d.service.people.file.DerivedKeys(keyPrinting)
	if err != nil {
		return nil, err
	}
	path := d.folder.path(filePrints)
	var queue *prints.Queue
	for i, key := range keys { // more than one when a change of keys was cut short
		if queue, err = prints.Open(path, key); errors.Is(err, prints.ErrKey) {
			continue
		}
		if err == nil && i > 0 {
			if err = queue.Rekey(keys[0]); err != nil {
				return nil, errors.Join(err, queue.Close())
			}
		}
		break
	}
	if errors.Is(err, prints.ErrKey) {
		d.o.Log.Warn("the key of the people file has changed: labels that waited for a printer can no longer be read and are not printed")
		queue, err = prints.Abandon(path, keys[0], time.Now())
	}
	if err != nil {
		return nil, err
	}
	if err := d.service.people.file.Settle(); err != nil {
		return nil, errors.Join(err, queue.Close())
	}
	return queue, nil
}

// resume looks up in the ledger which labels were scanned while the queue did not hear of it, and awaits the others.
func (p *printing) resume(s *Service) error {
	all, err := p.queue.Jobs(prints.Filter{})
	if err != nil {
		return err
	}
	known := map[tracker.Name][]tracker.Copy{}
	for _, job := range all {
		if job.Name == "" || job.State == prints.Confirmed {
			continue
		}
		seen, asked := known[job.Name]
		if !asked {
			of, err := s.ledger.Codes(job.Name)
			if err != nil {
				return err
			}
			seen = of.Seen
			known[job.Name] = seen
		}
		if !slices.Contains(seen, job.Copy) {
			p.scans.await(job.Name, job.Copy)
			if err := p.callOffReplaced(s, job); err != nil {
				return err
			}
			continue
		}
		changed, err := p.queue.Confirm(job.Name, job.Copy, time.Now())
		if err != nil {
			return err
		}
		for _, j := range changed {
			if j.Problem != "" {
				p.log.Warn("a scan contradicts the print queue", "job", j.ID, "printer", j.Printer, "problem", j.Problem)
			}
		}
	}
	return nil
}

// callOffReplaced takes a label away from its printer in whose place another was printed just before the daemon ended.
func (p *printing) callOffReplaced(s *Service, job prints.Job) error {
	if job.State != prints.Queued {
		return nil
	}
	gathered, err := s.ledger.Events(tracker.Watched(job.Name))
	if err != nil {
		return err
	}
	all := tracker.Fold(job.Name.Case(), gathered).Labels
	if job.Name.Thing() == tracker.ThingBag {
		all = tracker.FoldBag(job.Name, gathered).Labels
	}
	i := slices.IndexFunc(all, func(l *tracker.Label) bool { return l.Thing == job.Name && l.Copy == job.Copy })
	if i < 0 {
		return nil
	}
	by, _ := tracker.Replacement(all, all[i])
	if by == nil {
		return nil
	}
	p.log.Info("a label that waits was replaced before the daemon ended", "job", job.ID, "printer", job.Printer)
	return p.queue.CallOff(job.ID, time.Now(), by.Printed.By, by.Printed.Station)
}

// hasEvent reports whether an event about a thing is in the ledger.
func (s *Service) hasEvent(name tracker.Name, id tracker.EventID) (bool, error) {
	gathered, err := s.ledger.Events(tracker.Watched(name))
	if err != nil {
		return false, err
	}
	return slices.ContainsFunc(gathered, func(e *tracker.Event) bool { return e.ID == id }), nil
}

// follow settles prints by the first scan of their labels, and takes labels away from their printers that were replaced.
func (p *printing) follow(ctx context.Context) {
	var replaced []replacement
	for {
		changed := p.changed.wait()
		before := len(replaced)
		replaced = slices.DeleteFunc(replaced, p.calledOff)
		if len(replaced) < before {
			p.changed.tell()
		}
		if len(replaced) == 0 {
			changed = nil
		}
		select {
		case <-ctx.Done():
			return
		case <-p.scans.wake:
		case <-changed:
		}
		seen, old := p.scans.take()
		replaced = append(replaced, old...)
		for _, l := range seen {
			if _, err := p.press.Scanned(l.name, l.copy); err != nil {
				p.log.Error("a scanned label could not be noted in the print queue; the next start does", "item", string(l.name), "error", err.Error())
			}
		}
		if len(seen) > 0 {
			p.changed.tell()
		}
	}
}

// calledOff takes a label away from its printer in whose place another was printed while it waited: it must not come out of a
// printer that is switched on again, beside the next patient. False: it is just being tried, and may wait again after that.
func (p *printing) calledOff(old replacement) bool {
	open, err := p.queue.Jobs(prints.Filter{Name: old.name, Open: true})
	for _, job := range open {
		if job.Copy != old.copy || job.State == prints.Unknown { // of that somebody is asked
			continue
		}
		if job.State != prints.Queued {
			return false
		}
		switch e := p.press.CallOff(job.ID, old.by, old.station); {
		case errors.Is(e, prints.ErrState):
			return false
		case e != nil:
			err = e
		}
	}
	if err != nil {
		p.log.Error("a label that was replaced while it waited may still come out", "item", string(old.name), "error", err.Error())
	}
	return true
}

// printers are the demo's: folders in its own, so that nothing of it ever comes out of a real printer.
func (d *Demo) printers(f folder) ([]config.Printer, error) {
	if err := os.MkdirAll(f.path(folderPrinted), 0o700); err != nil {
		return nil, fmt.Errorf("demo: %w", err)
	}
	return config.DemoPrinters(f.path(folderPrinted))
}
