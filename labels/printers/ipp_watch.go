package printers

import (
	"context"
	"errors"
	"slices"
	"time"

	"github.com/pottrail/pottrail/labels/ipp"
)

// watch is what is known of one job at the printer.
type watch struct {
	p     *printServer
	asker ipp.Asker
	job   string // the job's name, of this try alone
	whole bool   // the printer got the whole document

	id          int32 // the printer's number for the job; 0 if it is not known
	state       ipp.JobState
	reasons     []string
	impressions int32 // labels that came out, if counted
	counted     bool
	forgotten   bool   // the printer had the job and no longer lists it
	printer     string // why the printer does not go on, in words
}

// told are the attributes of a job that are asked for.
var told = []string{"job-id", "job-name", "job-state", "job-state-reasons", "job-impressions-completed"}

// Bounds in time, no source: a label printer takes about a second for a label.
const (
	firstPoll = 50 * time.Millisecond
	mostPoll  = time.Second
	findTries = 3
)

// read takes over what an answer says of the job.
func (w *watch) read(g ipp.Group) {
	if id, ok := g.Get("job-id").Number(); ok && id > 0 {
		w.id = id
	}
	if s, ok := g.Get("job-state").Number(); ok {
		w.state = ipp.JobState(s)
	}
	if reasons := g.Get("job-state-reasons").Words(); len(reasons) > 0 {
		w.reasons = reasons
	}
	if n, ok := g.Get("job-impressions-completed").Number(); ok {
		w.impressions, w.counted = n, true
	}
}

// find looks for the job by its name, among those that wait and those that are done.
func (w *watch) find(ctx context.Context) bool {
	for i := range findTries {
		if i > 0 && pause(ctx, time.Duration(i)*firstPoll) != nil {
			return false
		}
		for _, done := range []bool{false, true} {
			answer, err := w.p.ask(ctx, w.asker.GetJobs(requestID, done, told...))
			if err != nil || !answer.Status().Successful() {
				continue
			}
			for _, g := range answer.Each(ipp.JobGroup) {
				if id, ok := g.Get("job-id").Number(); ok && id > 0 && g.Get("job-name").Word() == w.job {
					w.read(g)
				}
			}
		}
		if w.id != 0 {
			return true
		}
	}
	return false
}

// follow asks for the job until it has ended, the printer has forgotten it, or the context ends.
func (w *watch) follow(ctx context.Context) {
	for wait := firstPoll; !w.state.Ended() && !w.forgotten; wait = min(2*wait, mostPoll) {
		if pause(ctx, wait) != nil {
			return
		}
		answer, err := w.p.ask(ctx, w.asker.GetJobAttributes(requestID, w.id, told...))
		switch {
		case err != nil: // it may answer again
			continue
		case slices.Contains([]ipp.Status{ipp.NotFound, ipp.Gone, ipp.OperationNotSupported}, answer.Status()):
			w.forgotten = true
		case answer.Status().Successful():
			w.read(answer.First(ipp.JobGroup))
		}
		if !w.state.Ended() && w.state != ipp.JobProcessing {
			if able, err := w.p.abilities(ctx); err == nil {
				_, w.printer, _ = able.state()
			}
		}
	}
}

// faults are reasons that say that nothing of a job could be printed.
var faults = []string{
	"document-format-error", "unsupported-document-format", "document-unprintable-error", "document-access-error",
	"compression-error", "unsupported-compression", "unsupported-attributes-or-values",
}

// clean reports whether a job that was given up left no label.
func (w *watch) clean() bool {
	return w.counted && w.impressions == 0 || !w.counted && slices.ContainsFunc(w.reasons, func(r string) bool { return slices.Contains(faults, r) })
}

// errShort is a document that broke off on its way.
var errShort = errors.New("the connection broke before the whole label had left")

// verdict says what became of the label.
func (w *watch) verdict() error {
	name, reasons := w.p.name, ipp.Reasons(w.reasons)
	ended := because("the label "+w.state.String()+", at "+name, reasons)
	switch {
	case !w.whole || slices.Contains(w.reasons, "submission-interrupted"):
		return unknown(ended+"; look whether one came out, or a part of one", errShort)
	case w.forgotten && w.state != ipp.JobStopped && w.state != ipp.JobHeld:
		return nil // it had all of it, and keeps no list
	case w.forgotten:
		return unknown(name+" no longer knows the label: look whether one came out", nil)
	case w.state == ipp.JobCompleted && slices.Contains(w.reasons, "job-completed-with-errors"):
		return unknown(name+" says that the label is done, with faults: look how it came out", nil)
	case w.state == ipp.JobCompleted:
		return nil
	case w.state.Ended() && w.clean():
		return refused(ended, nil)
	case w.state.Ended():
		return unknown(ended+"; look whether one came out", nil)
	}
	what := name + " has the label, which " + w.state.String()
	if w.printer != "" {
		reasons = w.printer
	}
	return unknown(because(what, reasons)+": look at the printer, it may still come out", nil)
}
