package press

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"github.com/pottrail/pottrail/labels/printers"
	"github.com/pottrail/pottrail/store/prints"
	"github.com/pottrail/pottrail/tracker"
)

// How long things may take when the options do not say. Common practice, no source.
const (
	usualDeadline    = 30 * time.Second // one try: a label takes a second or two
	usualGrace       = 5 * time.Second  // what is under way when the program stops
	usualPatience    = 30 * time.Minute // a label is wanted while the patient is there
	usualFirstWait   = time.Second
	usualLongestWait = time.Minute
	slowLabel        = 5 * time.Second // what one label takes at a slow printer
)

// ErrNoPrinter says that no printer of that name is set up.
var ErrNoPrinter = errors.New("no such printer is set up")

// Printer is a printer with a worker of its own.
type Printer struct {
	Name   string
	Sender printers.Sender
}

// Options say what workers work on. Queue, Recorded and Settled are needed.
type Options struct {
	Queue    *prints.Queue
	Printers []Printer
	// Recorded reports whether an event stands in the ledger. It is asked at the start, about jobs that were prepared when the
	// program ended.
	Recorded func(tracker.EventID) (bool, error)
	// Settled tells the ledger that a label which is recorded as printed never came out: a label.spoiled with the id
	// Job.Spoiled, at Job.Changed, for the reason Job.Problem, by Job.SettledBy at Job.SettledAt if somebody said so, else by
	// Job.By at Job.Station. It may be called again with the same job after a crash or an error, and must then change
	// nothing: all that it needs is in the job, and stays the same. An error has it called again later.
	Settled func(prints.Job) error
	// Unfit says why a label that waits from before the start is not for its printer as that is set up now, "" when it is. It
	// may be nil.
	Unfit func(prints.Job) string
	// Changed is called when a try has ended and its outcome is on disk; it must not wait. It may be nil.
	Changed func()
	// Broken is called when the queue can no longer be written, which only opening it anew can mend. It may be nil.
	Broken func(error)
	Log    *slog.Logger // nil: none

	Deadline    time.Duration // of one try; 0: 30 s
	Grace       time.Duration // for a try under way when the context ends; 0: 5 s
	Patience    time.Duration // how long a label may wait for its printer if its job does not say; 0: 30 min
	FirstWait   time.Duration // before a second try, doubled with each further one; 0: 1 s
	LongestWait time.Duration // between two tries; 0: 1 min
	// Jitter changes a wait, so that several machines do not all knock at once. Nil: it stays.
	Jitter func(time.Duration) time.Duration
}

func (o Options) withDefaults() Options {
	for at, usual := range map[*time.Duration]time.Duration{&o.Deadline: usualDeadline, &o.Grace: usualGrace, &o.Patience: usualPatience,
		&o.FirstWait: usualFirstWait, &o.LongestWait: usualLongestWait} {
		if *at <= 0 {
			*at = usual
		}
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Changed == nil {
		o.Changed = func() {}
	}
	if o.Broken == nil {
		o.Broken = func(error) {}
	}
	return o
}

// Workers bring labels from the queue on disk to their printers, one worker a printer, so that what ails one holds up no
// other. All methods are safe for concurrent use.
type Workers struct {
	o       Options
	workers map[string]*worker
	names   []string // as they were given
	owing   chan struct{}
	running sync.WaitGroup
}

// Start settles what the last run of the program left open, and starts the workers. Jobs that were prepared are queued if
// their print was recorded, else dropped; jobs that wait for a printer that is no longer set up, or for which they are
// [Options.Unfit], are settled as not printed.
//
// When the context ends, a try under way has [Options.Grace] to finish; if it does not, its outcome is unknown. [Workers.Wait]
// returns when all have stopped. The queue must stay open until then.
func Start(ctx context.Context, o Options) (*Workers, error) {
	o = o.withDefaults()
	w := &Workers{o: o, workers: map[string]*worker{}, owing: make(chan struct{}, 1)}
	for _, p := range o.Printers {
		if p.Name == "" || p.Sender == nil {
			return nil, fmt.Errorf("printer %q: it has no name, or no way to it", p.Name)
		}
		if w.workers[p.Name] != nil {
			return nil, fmt.Errorf("printer %s: there are two of that name", p.Name)
		}
		w.workers[p.Name] = &worker{o: &w.o, name: p.Name, sender: p.Sender, owe: w.owe, wake: make(chan struct{}, 1), hurried: true, status: Status{Printer: p.Name, State: Ready, Since: time.Now()}}
		w.names = append(w.names, p.Name)
	}
	if err := w.resume(); err != nil {
		return nil, fmt.Errorf("labels left from before: %w", err)
	}
	w.owe()
	w.running.Go(func() { w.account(ctx) })
	for _, one := range w.workers {
		w.running.Go(func() { one.run(ctx) })
	}
	return w, nil
}

// resume settles what was left open.
func (w *Workers) resume() error {
	prepared, err := w.o.Queue.Prepared()
	if err != nil {
		return err
	}
	for _, j := range prepared {
		recorded := false
		if j.Event != "" {
			if recorded, err = w.o.Recorded(j.Event); err != nil {
				return fmt.Errorf("whether job %d was recorded: %w", j.ID, err)
			}
		}
		if recorded {
			err = w.o.Queue.Queue(j.ID, time.Now())
		} else {
			err = w.o.Queue.Drop(j.ID)
		}
		if err != nil {
			return err
		}
		w.o.Log.Info("a label was on its way when the program ended", "job", j.ID, "printer", j.Printer, "recorded", recorded)
	}
	waiting, err := w.o.Queue.Jobs(prints.Filter{State: prints.Queued, Open: true})
	if err != nil {
		return err
	}
	for _, j := range waiting {
		problem := w.unfit(j)
		if problem == "" {
			continue
		}
		if err := w.o.Queue.Refuse(j.ID, time.Now(), problem); err != nil {
			return err
		}
		w.o.Log.Warn("a label that waited from before is not printed", "job", j.ID, "printer", j.Printer, "problem", problem)
	}
	return nil
}

// unfit says why a label that waits cannot go to its printer any more.
func (w *Workers) unfit(j prints.Job) string {
	switch {
	case w.workers[j.Printer] == nil:
		return fmt.Sprintf("printer %s is no longer set up: print it again at another one", j.Printer)
	case w.o.Unfit != nil:
		return w.o.Unfit(j)
	}
	return ""
}

// Wait returns when all workers have stopped, after their context ended.
func (w *Workers) Wait() { w.running.Wait() }

// Prepare puts a label for one of the printers on disk; see [Workers.PrepareAll].
func (w *Workers) Prepare(j prints.Job, body []byte) (prints.Job, error) {
	made, err := w.PrepareAll([]prints.Draft{{Job: j, Body: body}})
	if err != nil {
		return prints.Job{}, err
	}
	return made[0], nil
}

// PrepareAll puts labels for the printers on disk, before their prints are recorded, all or none; see
// [prints.Queue.PrepareAll]. A job that does not say until when it is wanted gets [Options.Patience].
func (w *Workers) PrepareAll(drafts []prints.Draft) ([]prints.Job, error) {
	now := time.Now()
	drafts = append([]prints.Draft(nil), drafts...)
	for i := range drafts {
		if _, err := w.worker(drafts[i].Job.Printer); err != nil {
			return nil, err
		}
		if drafts[i].Job.Until.IsZero() {
			drafts[i].Job.Until = now.Add(w.o.Patience + time.Duration(i)*slowLabel) // those before it take their time
		}
	}
	return w.o.Queue.PrepareAll(now, drafts)
}

// Queue lets a prepared label go, once its print is recorded; see [Workers.QueueAll].
func (w *Workers) Queue(j prints.Job) error { return w.QueueAll([]prints.Job{j}) }

// QueueAll lets prepared labels go, once their prints are recorded, all or none, and wakes their printers' workers. Doing so
// again changes nothing.
func (w *Workers) QueueAll(jobs []prints.Job) error {
	ids := make([]uint64, len(jobs))
	for i, j := range jobs {
		ids[i] = j.ID
	}
	if err := w.o.Queue.QueueAll(ids, time.Now()); err != nil {
		return err
	}
	for _, j := range jobs {
		w.rouse(j.Printer)
	}
	return nil
}

// Drop gives up a prepared label whose print was not recorded. Doing so again changes nothing.
func (w *Workers) Drop(j prints.Job) error { return w.o.Queue.Drop(j.ID) }

// TryNow has a printer that waits after a trouble tried at once: somebody has done something about it.
func (w *Workers) TryNow(printer string) error {
	if _, err := w.worker(printer); err != nil {
		return err
	}
	w.rouse(printer)
	return nil
}

// CallOff takes a label out that waits for its printer, as somebody asked for by key and station.
func (w *Workers) CallOff(id uint64, by, station string) error {
	defer w.owe()
	return w.o.Queue.CallOff(id, time.Now(), by, station)
}

// Settle notes what somebody says, by key and station, of a label of which it is not known whether it came out, or that was
// sent and never seen.
func (w *Workers) Settle(id uint64, cameOut bool, by, station string) error {
	defer w.owe()
	return w.o.Queue.Settle(id, time.Now(), cameOut, by, station)
}

// Scanned notes that a copy of a label was scanned, and gives the jobs that this changed; one with a problem is worth being
// told about. Most scans change none.
func (w *Workers) Scanned(name tracker.Name, c tracker.Copy) ([]prints.Job, error) {
	changed, err := w.o.Queue.Confirm(name, c, time.Now())
	for _, j := range changed {
		if j.Problem != "" {
			w.o.Log.Warn("a scan contradicts the print queue", "job", j.ID, "printer", j.Printer, "problem", j.Problem)
		}
	}
	return changed, err
}

// Look asks a printer for its state, without printing: a sentence. While a label is being sent it says that, since many
// printers talk to one at a time.
func (w *Workers) Look(ctx context.Context, printer string) (string, error) {
	one, err := w.worker(printer)
	if err != nil {
		return "", err
	}
	if one.current().State == Printing {
		return "it is taking a label right now", nil
	}
	return one.sender.Look(ctx)
}

// Printers names the printers, as they were given.
func (w *Workers) Printers() []string { return append([]string(nil), w.names...) }

func (w *Workers) worker(name string) (*worker, error) {
	one := w.workers[name]
	if one == nil {
		return nil, fmt.Errorf("%w: %s", ErrNoPrinter, name)
	}
	return one, nil
}

func (w *Workers) rouse(printer string) {
	if one := w.workers[printer]; one != nil {
		signal(one.wake)
	}
}

// owe wakes whoever tells the ledger what never came out.
func (w *Workers) owe() { signal(w.owing) }

// signal leaves a note in a channel that holds one.
func signal(c chan struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}

// account tells the ledger what never came out, until the context ends. What it does not get told now is told after the
// next start.
func (w *Workers) account(ctx context.Context) {
	for troubles := 0; ; {
		var again <-chan time.Time
		if err := w.accountAll(ctx); err != nil {
			troubles++
			again = time.After(w.o.wait(troubles))
			w.o.Log.Error("the ledger could not be told of labels that never came out", "error", err.Error())
		} else {
			troubles = 0
		}
		select {
		case <-ctx.Done():
			return
		case <-w.owing:
		case <-again:
		}
	}
}

func (w *Workers) accountAll(ctx context.Context) error {
	owed, err := w.o.Queue.Owed()
	if err != nil {
		return err
	}
	for _, j := range owed {
		if ctx.Err() != nil {
			return nil
		}
		if err := w.o.Settled(j); err != nil {
			return fmt.Errorf("job %d: %w", j.ID, err)
		}
		if err := w.o.Queue.Accounted(j.ID); err != nil {
			return fmt.Errorf("job %d: %w", j.ID, err)
		}
	}
	return nil
}

// wait is how long to wait after so many troubles in a row.
func (o *Options) wait(troubles int) time.Duration {
	d := o.FirstWait
	for range troubles - 1 {
		if d >= o.LongestWait/2 {
			d = o.LongestWait
			break
		}
		d *= 2
	}
	if o.Jitter != nil {
		d = max(0, o.Jitter(d))
	}
	return d
}
