package daemon

import (
	"context"
	"errors"
	"reflect"
	"time"

	"github.com/google/uuid"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/cmd/internal/press"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/prints"
	"github.com/pottrail/pottrail/tracker"
)

// Print prints labels; see [ask.Printing]. First all is drawn, then all jobs are on disk, then the prints are recorded in one
// request, and only then may a job leave.
func (s *Service) Print(ctx context.Context, r ask.PrintRequest) (*ask.PrintAnswer, error) {
	if r.Preview {
		return nil, &ask.Error{Kind: ask.Invalid, Code: "no-preview", Field: "preview", Text: "preview: a printer's label is always for real; draw a preview into a file"}
	}
	all, read, err := s.drawAll(r)
	if err != nil {
		return nil, err
	}
	if len(all) == 0 { // nothing is needed
		return &ask.PrintAnswer{Jobs: []ask.PrintJob{}, Raised: []events.Brief{}}, nil
	}
	made, err := s.prepareAll(r, all, read)
	if err != nil {
		return nil, err
	}
	return s.recordPrints(ctx, made)
}

// ordered is one label drawn for its printer.
type ordered struct {
	press.Drawing
	printer config.Printer
	body    []byte
}

// drawAll draws the labels as they would be printed now before a copy of any is used up, so that one that cannot be drawn
// costs nothing. Read is when what they say was read.
func (s *Service) drawAll(r ask.PrintRequest) (all []ordered, read time.Time, err error) {
	trial := r.LabelsRequest
	trial.Preview = true
	before, err := s.labels(trial)
	if err != nil {
		return nil, read, err
	}
	if all, err = s.printing.draw(r, before); err != nil {
		return nil, read, err
	}
	answer, err := s.labels(r.LabelsRequest)
	if err != nil {
		return nil, read, err
	}
	if !reflect.DeepEqual(answer.Labels, before.Labels) { // something came between
		all, err = s.printing.draw(r, answer)
	}
	return all, answer.At, err
}

// prepared is a job with the event that will account for it.
type prepared struct {
	job    prints.Job
	event  *tracker.Event
	beside []tracker.Copy
	rolled tracker.Name // the label of a downtime roll that stands for the thing so far
}

// prepareAll puts the jobs on disk, where they wait for their prints to be recorded.
func (s *Service) prepareAll(r ask.PrintRequest, all []ordered, read time.Time) ([]prepared, error) {
	made := make([]prepared, 0, len(all))
	drafts := make([]prints.Draft, 0, len(all))
	for _, d := range all {
		e := &tracker.Event{ID: tracker.EventID(uuid.Must(uuid.NewV7()).String()), Kind: tracker.KindLabelPrinted, Clinic: d.Content.Name.Clinic(), At: read,
			By: r.By, Station: r.Station, Items: []tracker.Item{{Name: d.Content.Name}}, Entered: tracker.EnteredTyped,
			Data: &tracker.LabelPrinted{Copy: d.Content.Copy, Replaces: d.Content.Replaces, Printer: d.printer.Name, Layout: d.RecordedLayout()}}
		e, err := events.Decode(events.Encode(e))
		if err != nil {
			return nil, refusalAsError(events.AsRefusal(err))
		}
		drafts = append(drafts, draft(d.printer, d.Layout, prints.Job{Name: d.Content.Name, Copy: d.Content.Copy, Replaces: d.Content.Replaces,
			Event: e.ID, By: e.By, Station: e.Station}, d.body))
		made = append(made, prepared{event: e, beside: d.Content.Beside, rolled: d.Content.StandIn})
	}
	jobs, err := s.printing.prepare(drafts...)
	if err != nil {
		return nil, err
	}
	for i, job := range jobs {
		made[i].job = job
	}
	return made, nil
}

// recordPrints records the prints and lets their jobs go.
func (s *Service) recordPrints(ctx context.Context, made []prepared) (*ask.PrintAnswer, error) {
	batch := make([]store.Intake, len(made))
	for i, m := range made {
		batch[i] = store.Intake{Event: m.event, SentAt: m.event.At}
	}
	verdicts, err := s.intake.submit(ctx, batch)
	if errors.Is(err, errUnknown) {
		return nil, err // whether they are recorded is looked up at the next start; until then nothing leaves
	}
	if err != nil {
		s.printing.drop(made)
		return nil, err
	}
	answer := &ask.PrintAnswer{Jobs: []ask.PrintJob{}, Raised: []events.Brief{}}
	var refused error
	var went []*prints.Job
	for i, v := range verdicts {
		s.counts.verdict(made[i].event.Kind, v)
		if !v.OK {
			s.printing.drop(made[i : i+1])
			refused = errors.Join(refused, refusalAsError(v.Error))
			continue
		}
		answer.Raised = append(answer.Raised, v.Raised...)
		went = append(went, &made[i].job)
	}
	if err := s.printing.release(went...); err != nil {
		return nil, err
	}
	for _, m := range made {
		if m.job.State == prints.Prepared { // refused
			continue
		}
		told := printJob(m.job)
		told.Beside, told.StandIn = m.beside, m.rolled
		answer.Jobs = append(answer.Jobs, told)
	}
	if refused != nil && len(answer.Jobs) == 0 {
		return nil, refused
	}
	return answer, nil
}

// TestPrinter prints a calibration label; see [ask.Printing].
func (s *Service) TestPrinter(_ context.Context, r ask.TestPrinterRequest) (*ask.JobsAnswer, error) {
	p, err := s.printing.named(r.Printer)
	if err != nil {
		return nil, err
	}
	body, size, err := s.printing.calibration(p)
	if err != nil {
		return nil, err
	}
	made, err := s.printing.prepare(draft(p, size, prints.Job{Title: titleCalibration, By: r.By, Station: r.Station}, body))
	if err != nil {
		return nil, err
	}
	if err := s.printing.release(&made[0]); err != nil {
		return nil, err
	}
	return &ask.JobsAnswer{Jobs: []ask.PrintJob{printJob(made[0])}}, nil
}

// printJob is a job as it is told.
func printJob(j prints.Job) ask.PrintJob {
	out := ask.PrintJob{Job: j.ID, Printer: j.Printer, Name: j.Name, Title: j.Title, Copy: j.Copy, Replaces: j.Replaces, Layout: j.Layout, By: j.By, Station: j.Station,
		State: string(j.State), Problem: j.Problem, Attempts: j.Attempts, Made: j.Made, Changed: j.Changed, Next: j.Next}
	if j.Name != "" {
		if code, err := tracker.MakeCode(j.Name, j.Copy); err == nil {
			out.Code = code.String()
		}
	}
	return out
}
