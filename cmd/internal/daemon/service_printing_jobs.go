package daemon

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/store/prints"
)

const (
	// outcomeWait is how long [Service.Jobs] waits for what became of labels.
	outcomeWait = 10 * time.Second
	// mostJobs is the most jobs in one answer.
	mostJobs = 500
)

// Jobs lists jobs; see [ask.Printing].
func (s *Service) Jobs(ctx context.Context, r ask.JobsRequest) (*ask.JobsAnswer, error) {
	if r.Printer != "" {
		if _, err := s.printing.named(r.Printer); err != nil {
			return nil, err
		}
	}
	ctx, cancel := context.WithTimeout(ctx, outcomeWait)
	defer cancel()
	for {
		changed := s.printing.changed.wait()
		answer, err := s.jobs(r)
		if err != nil || !r.Wait || !slices.ContainsFunc(answer.Jobs, func(j ask.PrintJob) bool { return !j.Settled() }) {
			return answer, err
		}
		select {
		case <-changed:
		case <-s.printing.stopping:
			return answer, nil
		case <-ctx.Done():
			return answer, nil
		}
	}
}

func (s *Service) jobs(r ask.JobsRequest) (*ask.JobsAnswer, error) {
	var found []prints.Job
	for _, id := range r.Jobs {
		job, err := s.printing.queue.Job(id)
		if err != nil {
			return nil, printFault(err)
		}
		found = append(found, job)
	}
	if len(r.Jobs) == 0 {
		all, err := s.printing.queue.Jobs(prints.Filter{Printer: r.Printer, Open: !r.All, Limit: mostJobs})
		if err != nil {
			return nil, err
		}
		found = slices.DeleteFunc(all, func(j prints.Job) bool { return j.State == prints.Prepared })
		slices.Reverse(found) // the queue gives the newest first
	}
	answer := &ask.JobsAnswer{Jobs: make([]ask.PrintJob, len(found))}
	reasons := map[string]string{} // by printer
	for i, job := range found {
		answer.Jobs[i] = printJob(job)
		if job.State != prints.Queued || job.Problem != "" {
			continue
		}
		reason, asked := reasons[job.Printer]
		if !asked {
			var err error
			if reason, err = s.printing.holdsUp(job.Printer); err != nil {
				return nil, err
			}
			reasons[job.Printer] = reason
		}
		answer.Jobs[i].Problem = reason
	}
	return answer, nil
}

// holdsUp is what went wrong with the first label that waits for a printer: those behind it wait for the same reason. Empty
// while nothing did, and in the pause after a label of which it is not known whether it came out.
func (p *printing) holdsUp(printer string) (string, error) {
	waiting, err := p.queue.Jobs(prints.Filter{Printer: printer, State: prints.Queued, Open: true})
	if err != nil || len(waiting) == 0 {
		return "", err
	}
	return waiting[len(waiting)-1].Problem, nil
}

// Settle takes a person's word; see [ask.Printing].
func (s *Service) Settle(ctx context.Context, r ask.SettleRequest) (*ask.JobsAnswer, error) {
	return s.settle(ctx, r.Job, s.printing.press.Settle(r.Job, r.CameOut, r.By, r.Station))
}

// CallOff takes a waiting label away; see [ask.Printing].
func (s *Service) CallOff(ctx context.Context, r ask.CallOffRequest) (*ask.JobsAnswer, error) {
	return s.settle(ctx, r.Job, s.printing.press.CallOff(r.Job, r.By, r.Station))
}

// settle tells what came of a person's word. The ledger is told before the answer goes back, so that the label can be printed
// anew at once.
func (s *Service) settle(ctx context.Context, id uint64, err error) (*ask.JobsAnswer, error) {
	if err != nil {
		return nil, printFault(err)
	}
	s.printing.changed.tell()
	owed, err := s.printing.queue.Owed()
	if err != nil {
		return nil, err
	}
	for _, job := range owed {
		if job.ID != id {
			continue
		}
		if err := s.accountFor(ctx, job); err != nil {
			return nil, fmt.Errorf("it is noted in the print queue, and not yet in the ledger: %w", err)
		}
	}
	return s.jobs(ask.JobsRequest{Jobs: []uint64{id}})
}

// printFault turns what the queue refuses into an answer.
func printFault(err error) error {
	switch {
	case errors.Is(err, prints.ErrNoJob):
		return &ask.Error{Kind: ask.NotFound, Code: "no-such-job", Field: "job", Text: err.Error() + "; `pottrail printers jobs --all` lists them"}
	case errors.Is(err, prints.ErrState):
		return &ask.Error{Kind: ask.Conflict, Code: "not-so", Field: "job", Text: strings.TrimPrefix(err.Error(), prints.ErrState.Error()+": ")}
	case errors.Is(err, prints.ErrTooMany), errors.Is(err, prints.ErrTwice):
		return &ask.Error{Kind: ask.Conflict, Code: "cannot-be-printed", Text: err.Error()}
	case errors.Is(err, prints.ErrTooLarge), errors.Is(err, prints.ErrJob):
		return &ask.Error{Kind: ask.Invalid, Code: "cannot-be-printed", Text: err.Error()}
	case errors.Is(err, prints.ErrNoSpace):
		return &ask.Error{Kind: ask.NoSpace, Code: "no-space", Text: err.Error()}
	}
	return err
}
