package daemon

import (
	"context"
	"sync"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/cmd/internal/press"
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
