package daemon

import (
	"context"
	"fmt"
	"sync"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/cmd/internal/press"
	"github.com/pottrail/pottrail/cmd/internal/say"
	"github.com/pottrail/pottrail/store/prints"
)

// lookTime is how long a printer may take to say how it is.
const lookTime = 2 * time.Second

// Printers says how each printer is; see [ask.Printing]. All are asked at once.
func (s *Service) Printers(ctx context.Context, r ask.PrintersRequest) (*ask.PrintersAnswer, error) {
	wanted := s.printing.printers
	if r.Printer != "" {
		p, err := s.printing.named(r.Printer)
		if err != nil {
			return nil, err
		}
		wanted = []config.Printer{p}
	}
	ctx, cancel := context.WithTimeout(ctx, lookTime)
	defer cancel()
	answer := &ask.PrintersAnswer{Printers: make([]ask.PrinterAnswer, len(wanted))}
	errs := make([]error, len(wanted))
	var all sync.WaitGroup
	for i, p := range wanted {
		all.Go(func() { answer.Printers[i], errs[i] = s.printing.state(ctx, p) })
	}
	all.Wait()
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return answer, nil
}

// state asks a printer how it is, and its queue.
func (p *printing) state(ctx context.Context, printer config.Printer) (ask.PrinterAnswer, error) {
	out := ask.PrinterAnswer{Name: printer.Name, Way: string(printer.Way), To: printer.To, Language: string(printer.Language), DotsPerMM: printer.DotsPerMM,
		Stock: printer.StockNames(), Stations: append([]string{}, printer.Stations...), OK: true}
	status, err := p.press.State(printer.Name)
	if err != nil {
		return out, err
	}
	out.Waiting, out.Asks = status.Waiting, status.Unknown
	if status.State == press.Waits || status.Unknown > 0 {
		out.OK, out.Trouble = false, status.Trouble
	}
	if out.State, err = p.press.Look(ctx, printer.Name); err != nil {
		out.OK, out.State = false, err.Error()
	}
	return out, nil
}

// waitsLong is how long a label may wait before it is told to those who did not ask. Common practice, no source.
const waitsLong = time.Minute

// trouble says which printers want somebody, a sentence each; nothing while all is well.
func (p *printing) trouble(now time.Time) ([]string, error) {
	var out []string
	for _, printer := range p.printers {
		open, err := p.queue.Jobs(prints.Filter{Printer: printer.Name, Open: true})
		if err != nil {
			return nil, err
		}
		asks, waits := 0, 0
		for _, job := range open {
			switch {
			case job.State == prints.Unknown:
				asks++
			case job.State == prints.Queued && now.Sub(job.Made) > waitsLong:
				waits++
			}
		}
		if waits > 0 {
			out = append(out, fmt.Sprintf("Printer %s: %s waiting. Is it on, and is there paper?", printer.Name, say.Count(waits, "label")))
		}
		if asks > 0 {
			out = append(out, fmt.Sprintf("Printer %s: somebody must look whether %s came out, and say so.", printer.Name, say.Count(asks, "label")))
		}
	}
	return out, nil
}
